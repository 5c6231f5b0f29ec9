#![no_std]
//! The hardware boundary of a dipsift station: a 40-way socket, its supplies and a clock.
//!
//! The engine knows nothing but these traits. The board implements them with registers, the
//! simulator with an electrical model; the same engine runs on both.
//!
//! Control and data are separate traits: [`Socket`] moves levels, [`Moves`] moves some of them fast,
//! [`Supply`] moves power, [`Clock`] is the only source of time.

mod clock;
mod moves;
mod positions;
mod socket;
mod supply;
mod units;

pub use clock::Clock;
pub use moves::Moves;
pub use positions::{POSITIONS, Positions};
pub use socket::{Keepers, Rail, Socket};
pub use supply::{Connection, Supply, SupplyFault, Voltage};
pub use units::{Microamps, Millivolts, Nanoseconds};
