//! What the row strobe of a dynamic memory does at the pins.

use super::memory::Subject;
use dipsift_emulated::PinEvent;
use dipsift_wire::{Move, Pins};

/// What was seen.
#[derive(Debug, Default)]
pub struct Strobes {
    /// How long the strobe was low at most, in nanoseconds.
    pub longest_low: u64,
    /// How long a row went without a strobe at most, once it had one, until the memory was
    /// released.
    pub longest_gap: u64,
    /// How many rows had one.
    pub rows: usize,
    /// How many there were.
    pub count: u64,
}

/// The pin of the row strobe: the one that the refresh cycle moves.
pub fn row_strobe(subject: &Subject) -> u8 {
    let refresh = subject.setup.refresh.as_ref().expect("it is dynamic");
    let pins = refresh.cycle.iter().find_map(|step| match *step {
        Move::Set { pins, .. } => Some(pins),
        _ => None,
    });
    let pins = pins.expect("it moves one");
    let pin = (1..=40).find(|&pin| pins == Pins::one(pin));
    pin.expect("it moves one alone")
}

/// Reads the pins of a memory from the first strobe until all are released.
pub fn strobes(subject: &Subject, events: &[PinEvent]) -> Strobes {
    let strobe = subject.bit(row_strobe(subject));
    let bits = usize::from(subject.setup.strobed.expect("it is strobed").row_bits);
    let address: Vec<u64> =
        subject.setup.address.iter().take(bits).map(|&pin| subject.bit(pin)).collect();
    let rows = usize::from(subject.setup.refresh.as_ref().expect("it is dynamic").rows);
    let mut last = vec![None; rows];
    let mut seen = Strobes::default();
    let (mut low_since, mut was_high) = (None, false);
    for event in events {
        let PinEvent::Driven { at, driven, high } = *event else { continue };
        let is_low = driven & strobe != 0 && high & strobe == 0;
        match (low_since, is_low) {
            (None, true) if was_high => {
                low_since = Some(at);
                let row: usize = (0..)
                    .zip(&address)
                    .filter(|&(_, &pin)| high & pin != 0)
                    .map(|(bit, _)| 1 << bit)
                    .sum();
                if let Some(before) = last[row % rows].replace(at) {
                    seen.longest_gap = seen.longest_gap.max(at - before);
                }
                seen.count += 1;
            }
            (Some(since), false) => {
                seen.longest_low = seen.longest_low.max(at - since);
                low_since = None;
            }
            _ => {}
        }
        was_high = driven & high & strobe != 0;
        if driven & strobe == 0 && seen.count > 0 {
            // Released: the memory is let go.
            let gaps = last.iter().flatten().map(|before| at - before);
            seen.longest_gap = gaps.max().map_or(seen.longest_gap, |gap| gap.max(seen.longest_gap));
            break;
        }
    }
    seen.rows = last.iter().flatten().count();
    seen
}
