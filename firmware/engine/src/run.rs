//! Runs checked operations.

use crate::operation::Action;
use crate::tally::{Miss, Tally};
use crate::{Checked, Hardware, Program};
use dipsift_wire::{Ended, MAX_CAPTURE, Pins, Place, Seen, push_seen};
use heapless::Vec;

/// One window on its way.
pub(crate) struct Run<'a, H> {
    pub(crate) hardware: &'a mut H,
    pub(crate) program: &'a Program,
    pub(crate) tally: &'a mut Tally,
    pub(crate) seen: &'a mut Vec<u8, MAX_CAPTURE>,
}

impl<H: Hardware> Run<'_, H> {
    /// Runs every operation; the result is `Some` where the supply tripped.
    pub(crate) fn all(&mut self, window: &Checked<'_, H>) -> Option<Ended> {
        let powered = self.program.connection().is_some();
        for operation in window.operations() {
            self.one(&operation.0);
            let step = self.tally.steps;
            self.tally.steps = step.saturating_add(1);
            if powered && self.hardware.tripped() {
                return Some(Ended::Tripped { step });
            }
        }
        if powered {
            self.tally.current(self.hardware.current());
        }
        None
    }

    fn one(&mut self, action: &Action<H>) {
        let header = self.program.header();
        match action {
            Action::Apply(drive) => {
                self.hardware.apply(drive);
                self.hardware.delay_ns(header.settle_ns);
            }
            Action::Keep(keepers) => {
                self.hardware.keep(*keepers);
                self.hardware.delay_ns(header.keeper_ns);
            }
            Action::Expect { compare, pins, high } => self.compare(compare, *pins, *high, false),
            Action::Released { all_high, all_low, pins, up, down, after } => {
                self.hardware.keep(*up);
                self.hardware.delay_ns(header.keeper_ns);
                self.compare(all_high, *pins, *pins, true);
                self.hardware.keep(*down);
                self.hardware.delay_ns(header.keeper_ns);
                self.compare(all_low, *pins, Pins::NONE, true);
                self.hardware.keep(*after);
                self.hardware.delay_ns(header.keeper_ns);
            }
            Action::Pulse { there, back, times } => {
                let level_ns = header.pulse_level_ns();
                for _ in 0..*times {
                    self.hardware.apply(there);
                    self.hardware.delay_ns(level_ns);
                    self.hardware.apply(back);
                    self.hardware.delay_ns(level_ns);
                }
                self.hardware.delay_ns(header.settle_ns);
            }
            Action::Wait { ns } => self.hardware.delay_ns(*ns),
            Action::Sample => {
                let sample = self.hardware.sample();
                self.record(&Seen::Levels(self.levels(&sample)));
            }
            Action::Voltage { position } => {
                let voltage = self.hardware.voltage_at(*position);
                self.record(&Seen::Voltage(voltage.map(|millivolts| millivolts.0)));
            }
            Action::Current => {
                let current = self.hardware.current();
                if self.program.connection().is_some() {
                    self.tally.current(current);
                }
                self.record(&Seen::Current(current.0));
            }
        }
    }

    fn compare(&mut self, compare: &H::Compare, pins: Pins, high: Pins, held: bool) {
        let sample = self.hardware.sample();
        if self.program.header().capture {
            self.record(&Seen::Levels(self.levels(&sample)));
        }
        if self.hardware.agrees(&sample, compare) {
            return;
        }
        let differing = self.hardware.differing(&sample, compare);
        let miss = Miss {
            differing: Pins(self.program.package().at(differing).0 & pins.0),
            expected: high,
            seen: self.levels(&sample),
            held,
        };
        self.tally.miss(&miss, Place::Step(self.tally.steps));
    }

    fn levels(&self, sample: &H::Sample) -> Pins {
        self.program.package().at(self.hardware.high(sample))
    }

    fn record(&mut self, seen: &Seen) {
        // The check has made sure of the room.
        let _ = push_seen(seen, self.seen);
    }
}
