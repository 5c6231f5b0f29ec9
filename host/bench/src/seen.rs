//! What a station captured, sorted out.

use dipsift_wire::{Pins, Seen};

/// Every position of the socket, as the pins of a 40-pin package.
pub(crate) const SOCKET: Pins = Pins::all(40);

/// The levels of a record that holds levels.
pub(crate) const fn level(record: &Seen) -> Option<Pins> {
    match record {
        Seen::Levels(levels) => Some(*levels),
        _ => None,
    }
}

/// The levels among records, in their order.
pub(crate) fn levels(records: &[Seen]) -> Vec<Pins> {
    records.iter().filter_map(level).collect()
}
