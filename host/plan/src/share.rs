//! Shares and counts that cannot be out of range.

use thiserror::Error;

/// A question that has no answer.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum PlanError {
    /// A probability or a share of bad chips outside of 0 to 1, or one of its ends.
    #[error("{0} is no share between 0 and 1, the ends left out")]
    Share(f64),
    /// More found than looked at, or none looked at.
    #[error("{found} of {tested} is no count of tested chips")]
    Tally {
        /// How many were found.
        found: u64,
        /// How many were looked at.
        tested: u64,
    },
    /// More bad chips, or a larger sample, than the bag holds.
    #[error("{part} chips are more than the bag of {bag} holds")]
    Bag {
        /// How many were asked for.
        part: u64,
        /// How many there are.
        bag: u64,
    },
    /// The standard's table begins at lots of two and is not kept here beyond 150 000 chips or
    /// the code letter N.
    #[error(
        "no plan is kept for a lot of {0}: the table here reaches from 2 to 150000 and letter N"
    )]
    Lot(u64),
}

/// A share or a probability strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Share(f64);

impl Share {
    /// A share, given as a fraction of one.
    pub fn new(fraction: f64) -> Result<Self, PlanError> {
        // NaN is in no range.
        if fraction > 0.0 && fraction < 1.0 {
            Ok(Self(fraction))
        } else {
            Err(PlanError::Share(fraction))
        }
    }

    /// A share, given in per cent.
    pub fn percent(percent: f64) -> Result<Self, PlanError> {
        Self::new(percent / 100.0)
    }

    /// The fraction of one.
    pub const fn fraction(self) -> f64 {
        self.0
    }

    /// What is missing to one.
    pub const fn rest(self) -> Self {
        Self(1.0 - self.0)
    }
}

/// How many of the tested chips were found to be so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    found: u64,
    tested: u64,
}

impl Tally {
    /// `found` of `tested` chips; at least one was tested.
    pub const fn new(found: u64, tested: u64) -> Result<Self, PlanError> {
        if tested == 0 || found > tested {
            return Err(PlanError::Tally { found, tested });
        }
        Ok(Self { found, tested })
    }

    /// How many were found.
    pub const fn found(self) -> u64 {
        self.found
    }

    /// How many were tested.
    pub const fn tested(self) -> u64 {
        self.tested
    }

    /// The share found in the sample, from 0 to 1.
    pub fn share(self) -> f64 {
        self.found as f64 / self.tested as f64
    }
}
