//! Time.

use crate::Nanoseconds;
use embedded_hal::delay::DelayNs;

/// The only source of time: the simulator's is virtual, so tests never sleep.
///
/// The waits come from [`DelayNs`]; a wait of `n` ns lasts at least `n` ns.
pub trait Clock: DelayNs {
    /// The time since the station started. Never runs backwards.
    fn now(&mut self) -> Nanoseconds;
}
