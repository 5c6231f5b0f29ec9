//! Sets of socket positions.

use core::ops::{BitAnd, BitAndAssign, BitOr, BitOrAssign, BitXor, Not};

/// How many positions the socket has.
pub const POSITIONS: u8 = 40;

/// A set of socket positions: bit 0 is position 1, bit 39 is position 40.
///
/// Positions are numbered like the pins of a 40-pin dual in-line package: 1 to 20 down the left
/// side, 21 to 40 up the right.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Positions(u64);

impl Positions {
    /// No position.
    pub const NONE: Self = Self(0);
    /// All 40 positions.
    pub const ALL: Self = Self((1 << POSITIONS) - 1);

    /// The set with these bits; bits beyond position 40 are dropped.
    pub const fn from_bits(bits: u64) -> Self {
        Self(bits & Self::ALL.0)
    }

    /// The set of one position, 1 to 40; the empty set for any other number.
    pub const fn one(position: u8) -> Self {
        if position >= 1 && position <= POSITIONS { Self(1 << (position - 1)) } else { Self(0) }
    }

    /// The bits: bit 0 is position 1.
    pub const fn bits(self) -> u64 {
        self.0
    }

    /// Whether the set has no position.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether a position, 1 to 40, is in the set.
    pub const fn contains(self, position: u8) -> bool {
        !Self::one(position).and(self).is_empty()
    }

    /// How many positions are in the set.
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// The positions in both sets.
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// The positions of this set that are not in the other.
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Whether the sets share a position.
    pub const fn overlaps(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// The position numbers, ascending.
    pub fn iter(self) -> impl Iterator<Item = u8> {
        (1..=POSITIONS).filter(move |&position| self.contains(position))
    }
}

impl BitOr for Positions {
    type Output = Self;
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

impl BitOrAssign for Positions {
    fn bitor_assign(&mut self, other: Self) {
        self.0 |= other.0;
    }
}

impl BitAnd for Positions {
    type Output = Self;
    fn bitand(self, other: Self) -> Self {
        self.and(other)
    }
}

impl BitAndAssign for Positions {
    fn bitand_assign(&mut self, other: Self) {
        self.0 &= other.0;
    }
}

impl BitXor for Positions {
    type Output = Self;
    fn bitxor(self, other: Self) -> Self {
        Self(self.0 ^ other.0)
    }
}

impl Not for Positions {
    type Output = Self;
    fn not(self) -> Self {
        Self::ALL.without(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_outside_the_socket_do_not_exist() {
        assert_eq!(Positions::one(0), Positions::NONE);
        assert_eq!(Positions::one(41), Positions::NONE);
        assert_eq!(Positions::from_bits(u64::MAX), Positions::ALL);
        assert_eq!((!Positions::one(40)).count(), 39);
        assert!(Positions::ALL.iter().eq(1..=40));
    }
}
