//! Power at the socket.

use crate::{Microamps, Millivolts, Positions};

/// A supply voltage that the fixture can select.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Voltage {
    /// 3.3 V.
    V3_3,
    /// 5 V.
    V5,
}

impl Voltage {
    /// The nominal voltage.
    pub const fn millivolts(self) -> Millivolts {
        match self {
            Self::V3_3 => Millivolts(3_300),
            Self::V5 => Millivolts(5_000),
        }
    }
}

/// Which positions are fed and grounded, at which voltage, up to which current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Connection {
    /// Positions switched to the supply.
    pub feed: Positions,
    /// Positions switched to ground.
    pub ground: Positions,
    /// The supply voltage.
    pub voltage: Voltage,
    /// The current at which the supply trips.
    pub limit: Microamps,
}

/// Why the supply is off although it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SupplyFault {
    /// The current passed the limit.
    Tripped,
    /// A position cannot be fed or grounded here, or would be both.
    Unconnectable,
}

/// Feeds and grounds positions.
pub trait Supply {
    /// Grounds `ground`, then feeds `feed`.
    ///
    /// On return the chip is powered and the fault latch is clear. On an error nothing is fed and
    /// nothing is grounded by a switch.
    fn connect(&mut self, connection: &Connection) -> Result<(), SupplyFault>;

    /// Removes the feed, then the ground switches, and discharges the rail. Cannot fail; used on
    /// every way into the safe state.
    fn disconnect(&mut self);

    /// Whether a position is fed.
    fn connected(&self) -> bool;

    /// Whether the current limit has acted since the last [`connect`](Self::connect). A board's
    /// limiter acts on its own; this tells of it.
    fn tripped(&mut self) -> bool;

    /// The supply current now.
    fn current(&mut self) -> Microamps;

    /// The voltage at a position that has a feed switch, whether switched on or not; `None` for
    /// a position without one.
    fn voltage_at(&mut self, position: u8) -> Option<Millivolts>;
}
