//! One step in the socket's own words.

use dipsift_pins::{Keepers, Socket};
use dipsift_wire::Pins;

/// A checked step, ready to run. Only a check makes one.
#[derive(Clone)]
pub struct Operation<S: Socket>(pub(crate) Action<S>);

#[derive(Clone)]
pub(crate) enum Action<S: Socket> {
    /// Set every driver, then settle.
    Apply(S::Drive),
    /// Set the rails, then let the keepers settle.
    Keep(Keepers),
    /// Sample and compare. The pins are kept for the report only.
    Expect { compare: S::Compare, pins: Pins, high: Pins },
    /// Sample with the keeper high and with the keeper low, then put the rails back.
    Released {
        all_high: S::Compare,
        all_low: S::Compare,
        pins: Pins,
        up: Keepers,
        down: Keepers,
        after: Keepers,
    },
    /// Alternate between two settings of the drivers.
    Pulse { there: S::Drive, back: S::Drive, times: u32 },
    /// Wait.
    Wait { ns: u32 },
    /// Sample and report.
    Sample,
    /// Measure the voltage at a position.
    Voltage { position: u8 },
    /// Measure the supply current.
    Current,
}
