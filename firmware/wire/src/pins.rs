//! Sets of package pins.

use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// A set of package pins, or their levels: bit 0 is pin 1.
///
/// Programs speak of the package's pins, not of socket positions; the header places the package
/// and the station turns pins into port words once. Small packages so make small programs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Pins(pub u64);

impl Pins {
    /// No pin.
    pub const NONE: Self = Self(0);

    /// The set of one pin, from 1; the empty set for 0 and beyond 64.
    pub const fn one(pin: u8) -> Self {
        if pin >= 1 && pin <= 64 { Self(1 << (pin - 1)) } else { Self(0) }
    }

    /// All pins of a package with this many.
    pub const fn all(count: u8) -> Self {
        if count >= 64 { Self(u64::MAX) } else { Self((1 << count) - 1) }
    }

    /// Whether a pin is in the set.
    pub const fn contains(self, pin: u8) -> bool {
        self.0 & Self::one(pin).0 != 0
    }

    /// The set with a pin added or taken out.
    pub const fn with(self, pin: u8, present: bool) -> Self {
        if present { Self(self.0 | Self::one(pin).0) } else { Self(self.0 & !Self::one(pin).0) }
    }

    /// Whether the set is empty.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many pins are in the set.
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// The pin numbers, ascending.
    pub fn iter(self) -> impl Iterator<Item = u8> {
        (1..=64).filter(move |&pin| self.contains(pin))
    }
}

impl FromIterator<u8> for Pins {
    fn from_iter<I: IntoIterator<Item = u8>>(pins: I) -> Self {
        pins.into_iter().fold(Self::NONE, |set, pin| set.with(pin, true))
    }
}
