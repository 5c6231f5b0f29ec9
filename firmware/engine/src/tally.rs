//! What a program has found so far.

use crate::Package;
use dipsift_pins::Microamps;
use dipsift_wire::{Ended, Failure, MAX_FIRST, PinCount, Pins, Place, Summary};
use heapless::Vec;

/// Counts of failures, and the current's range.
pub(crate) struct Tally {
    pub(crate) steps: u32,
    failures: u32,
    pins: [PinCount; 40],
    first: Vec<Failure, MAX_FIRST>,
    current: Option<(Microamps, Microamps)>,
}

/// Against what a comparison failed.
pub(crate) struct Miss {
    pub(crate) differing: Pins,
    pub(crate) expected: Pins,
    pub(crate) seen: Pins,
    /// Whether high impedance was to be proven.
    pub(crate) held: bool,
}

impl Tally {
    pub(crate) const fn new() -> Self {
        Self {
            steps: 0,
            failures: 0,
            pins: [PinCount { pin: 0, low: 0, high: 0, held: 0 }; 40],
            first: Vec::new(),
            current: None,
        }
    }

    /// How many comparisons have failed; saturates.
    pub(crate) const fn failures(&self) -> u32 {
        self.failures
    }

    /// Notes a failed comparison.
    pub(crate) fn miss(&mut self, miss: &Miss, place: Place) {
        self.failures = self.failures.saturating_add(1);
        for (count, pin) in self.pins.iter_mut().zip(1..) {
            if miss.differing.contains(pin) {
                let counter = match (miss.held, miss.seen.contains(pin)) {
                    (true, _) => &mut count.held,
                    (false, false) => &mut count.low,
                    (false, true) => &mut count.high,
                };
                *counter = counter.saturating_add(1);
            }
        }
        // Only the first few are kept; the rest is in the counts.
        let _ = self.first.push(Failure {
            place,
            pins: miss.differing,
            expected: miss.expected,
            seen: miss.seen,
        });
    }

    /// Notes a supply current.
    pub(crate) fn current(&mut self, now: Microamps) {
        let (min, max) = self.current.unwrap_or((now, now));
        self.current = Some((min.min(now), max.max(now)));
    }

    pub(crate) fn summary(&self, ended: Ended, package: Package) -> Summary {
        let mut pins = Vec::new();
        for (count, pin) in self.pins.iter().zip(1..=package.count()) {
            if count.low | count.high | count.held != 0 {
                // There are no more pins than places.
                let _ = pins.push(PinCount { pin, ..*count });
            }
        }
        let (min, max) = self.current.unwrap_or_default();
        Summary {
            ended,
            steps: self.steps,
            failures: self.failures,
            pins,
            first: self.first.clone(),
            current_min_ua: min.0,
            current_max_ua: max.0,
        }
    }
}
