//! A bag is finite: what is taken out of it changes what is left (hypergeometric distribution).

use crate::{PlanError, Share};
use statrs::function::factorial::ln_factorial;

/// A probability that should equal the risk may come out a little above it.
const ROUNDING: f64 = 1e-9;

/// A bag of one kind of chip, counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bag {
    chips: u64,
}

/// How many chips of a whole bag are bad, the found ones included; from least to most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BadCount {
    /// At least so many.
    pub least: u64,
    /// At most so many.
    pub most: u64,
}

impl Bag {
    /// A bag of so many chips, at least one.
    pub const fn new(chips: u64) -> Result<Self, PlanError> {
        if chips == 0 {
            return Err(PlanError::Tally { found: 0, tested: 0 });
        }
        Ok(Self { chips })
    }

    /// How many chips it holds.
    pub const fn chips(self) -> u64 {
        self.chips
    }

    /// How many bad chips make at least this share of the bag.
    pub fn bad_chips(self, share: Share) -> u64 {
        ((self.chips as f64 * share.fraction() - ROUNDING).ceil() as u64).clamp(1, self.chips)
    }

    /// The probability that a sample holds no more than `accept` of the bag's bad chips.
    pub fn acceptance(self, bad: u64, sample: u64, accept: u64) -> Result<f64, PlanError> {
        self.holds(bad)?;
        self.holds(sample)?;
        Ok(self.at_most(bad, sample, accept))
    }

    /// The smallest sample that holds no bad chip with at most the probability `risk` if so many
    /// are in the bag.
    pub fn zero_acceptance(self, bad: u64, risk: Share) -> Result<u64, PlanError> {
        self.holds(bad)?;
        if bad == 0 {
            // A bag without bad chips passes whatever is drawn.
            return Ok(self.chips);
        }
        let limit = risk.fraction() * (1.0 + ROUNDING);
        let mut none = 1.0;
        for taken in 0..self.chips - bad {
            none *= (self.chips - bad - taken) as f64 / (self.chips - taken) as f64;
            if none <= limit {
                return Ok(taken + 1);
            }
        }
        Ok(self.chips - bad + 1)
    }

    /// How many of the bag's chips are bad after a sample with so many bad ones, with at least
    /// this confidence, what it leaves split evenly between both ends.
    pub fn bad_count(
        self,
        found: u64,
        sample: u64,
        confidence: Share,
    ) -> Result<BadCount, PlanError> {
        let tail = confidence.rest().fraction() / 2.0;
        Ok(BadCount {
            least: self.bad_at_least(found, sample, tail)?,
            most: self.bad_at_most_tail(found, sample, tail)?,
        })
    }

    /// How many of the bag's chips are bad at most after such a sample, with this confidence.
    pub fn bad_at_most(self, found: u64, sample: u64, confidence: Share) -> Result<u64, PlanError> {
        self.bad_at_most_tail(found, sample, confidence.rest().fraction())
    }

    fn bad_at_most_tail(self, found: u64, sample: u64, tail: f64) -> Result<u64, PlanError> {
        self.sampled(found, sample)?;
        // The largest number of bad chips under which so few found is not too improbable.
        let (mut fits, mut too_many) = (found, self.chips - (sample - found) + 1);
        while too_many - fits > 1 {
            let middle = fits + (too_many - fits) / 2;
            if self.at_most(middle, sample, found) > tail {
                fits = middle;
            } else {
                too_many = middle;
            }
        }
        Ok(fits)
    }

    fn bad_at_least(self, found: u64, sample: u64, tail: f64) -> Result<u64, PlanError> {
        self.sampled(found, sample)?;
        if found == 0 {
            return Ok(0);
        }
        // The smallest number of bad chips under which so many found is not too improbable.
        let (mut too_few, mut fits) = (found - 1, self.chips - (sample - found));
        while fits - too_few > 1 {
            let middle = too_few + (fits - too_few) / 2;
            if 1.0 - self.at_most(middle, sample, found - 1) > tail {
                fits = middle;
            } else {
                too_few = middle;
            }
        }
        Ok(fits)
    }

    const fn holds(self, part: u64) -> Result<(), PlanError> {
        if part > self.chips {
            return Err(PlanError::Bag { part, bag: self.chips });
        }
        Ok(())
    }

    const fn sampled(self, found: u64, sample: u64) -> Result<(), PlanError> {
        if sample == 0 || found > sample {
            return Err(PlanError::Tally { found, tested: sample });
        }
        self.holds(sample)
    }

    /// P(X <= accept) for X bad chips in a sample drawn without putting back.
    fn at_most(self, bad: u64, sample: u64, accept: u64) -> f64 {
        let good = self.chips - bad;
        let least = sample.saturating_sub(good);
        let most = bad.min(sample);
        if accept >= most {
            return 1.0;
        }
        let all = ln_choose(self.chips, sample);
        (least..=accept)
            .map(|found| (ln_choose(bad, found) + ln_choose(good, sample - found) - all).exp())
            .sum::<f64>()
            .min(1.0)
    }
}

fn ln_choose(from: u64, take: u64) -> f64 {
    ln_factorial(from) - ln_factorial(take) - ln_factorial(from - take)
}
