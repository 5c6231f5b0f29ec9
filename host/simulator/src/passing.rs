//! Time passes, and outputs change when they are due.

use crate::SimulatedSocket;
use crate::seated::Seated;

impl SimulatedSocket {
    /// Lets time pass: outputs change when they are due.
    pub(crate) fn advance(&mut self, nanoseconds: u64) {
        let until = self.now.saturating_add(nanoseconds);
        while self.next_due <= until {
            self.now = self.now.max(self.next_due);
            self.next_due = u64::MAX;
            self.pass_memory();
            if self.seated.as_ref().is_some_and(|seated| seated.thinks) {
                self.pass_outputs();
            }
            self.next_due = self.seated.as_ref().map_or(u64::MAX, Seated::next_due);
        }
        self.now = until;
    }

    /// Outputs change that are due.
    fn pass_outputs(&mut self) {
        let Some(seated) = &mut self.seated else { return };
        let mut dirty = 0;
        for (pin, node) in seated.pins.iter_mut().zip(&self.wiring.of_pin) {
            if let Some((due, drive)) = pin.pending
                && due <= self.now
            {
                pin.pending = None;
                pin.drive = drive;
                dirty |= 1 << node;
            }
        }
        if dirty != 0 {
            self.update(dirty);
        }
    }

    /// A memory does what is due, and its pins show it.
    fn pass_memory(&mut self) {
        let Some(seated) = &mut self.seated else { return };
        let mut changed = seated.pass(self.now);
        while changed != 0 {
            let bit = changed.trailing_zeros();
            changed &= changed - 1;
            for place in 0.. {
                let Some(seated) = &mut self.seated else { return };
                let Some(memory) = &seated.memory else { return };
                let Some(&pin) = memory.out_pins(bit).get(place) else { break };
                if seated.follow(pin.into()) {
                    self.move_driver(self.wiring.of_pin[usize::from(pin)].into());
                }
            }
        }
    }
}
