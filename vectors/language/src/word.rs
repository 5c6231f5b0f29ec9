//! A signal in 64 lanes, in three values.

/// One signal in 64 lanes. A lane that can be both low and high is unknown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Word {
    /// The lanes that can be low.
    pub low: u64,
    /// The lanes that can be high.
    pub high: u64,
}

impl Word {
    /// Low in every lane.
    pub const LOW: Self = Self { low: u64::MAX, high: 0 };
    /// High in every lane.
    pub const HIGH: Self = Self { low: 0, high: u64::MAX };
    /// Unknown in every lane.
    pub const UNKNOWN: Self = Self { low: u64::MAX, high: u64::MAX };

    /// The same level in every lane.
    pub const fn all(high: bool) -> Self {
        if high { Self::HIGH } else { Self::LOW }
    }

    /// Lane n is high where bit n is set, else low.
    pub const fn lanes(high: u64) -> Self {
        Self { low: !high, high }
    }

    /// Lane 0's level; `None` where it is unknown.
    pub const fn known(self) -> Option<bool> {
        match (self.low & 1, self.high & 1) {
            (1, 0) => Some(false),
            (0, 1) => Some(true),
            _ => None,
        }
    }

    /// The lanes that are unknown.
    pub const fn unknown(self) -> u64 {
        self.low & self.high
    }

    /// Inversion.
    #[must_use]
    pub const fn not(self) -> Self {
        Self { low: self.high, high: self.low }
    }

    /// Conjunction.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self { low: self.low | other.low, high: self.high & other.high }
    }

    /// Disjunction.
    #[must_use]
    pub const fn or(self, other: Self) -> Self {
        Self { low: self.low & other.low, high: self.high | other.high }
    }

    /// Exclusive disjunction.
    #[must_use]
    pub const fn xor(self, other: Self) -> Self {
        Self {
            low: (self.low & other.low) | (self.high & other.high),
            high: (self.low & other.high) | (self.high & other.low),
        }
    }

    /// `high` where `self` is high, `low` where it is low, what both agree on where unknown.
    #[must_use]
    pub const fn select(self, high: Self, low: Self) -> Self {
        Self {
            low: (self.high & high.low) | (self.low & low.low),
            high: (self.high & high.high) | (self.low & low.high),
        }
    }

    /// Everything that either can be.
    #[must_use]
    pub const fn merge(self, other: Self) -> Self {
        Self { low: self.low | other.low, high: self.high | other.high }
    }
}
