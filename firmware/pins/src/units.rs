//! Quantities with their unit in the type, so that no bare integer crosses a crate.

/// A time span or a point in time, in nanoseconds since the station started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Nanoseconds(pub u64);

/// A current in microamperes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Microamps(pub u32);

/// A voltage against the station's ground, in millivolts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Millivolts(pub u16);

impl Nanoseconds {
    /// A span of whole microseconds.
    pub const fn from_micros(micros: u64) -> Self {
        Self(micros * 1_000)
    }

    /// A span of whole milliseconds.
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis * 1_000_000)
    }

    /// The span from `earlier` to `self`; zero where `earlier` is later.
    pub const fn since(self, earlier: Self) -> Self {
        Self(self.0.saturating_sub(earlier.0))
    }
}
