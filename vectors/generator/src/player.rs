//! A model stepped as the socket would, with everything refused that a socket must not do.

use crate::Conditions;
use crate::chip::Chip;
use crate::order::{self, Outcome};
use crate::structure::Structure;
use dipsift_language::{Machine, Package, Part, PinId, Role, Word};
use dipsift_wire::{Pins, Rail, Step};
use std::sync::Arc;

/// What a pin should show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expected {
    /// The chip, or the driver, holds it low.
    Low,
    /// The chip, or the driver, holds it high.
    High,
    /// Nothing holds it.
    Released,
    /// The model does not know.
    Unknown,
}

/// Why a step was not taken. The player is then as before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refuse {
    /// The pin is no input.
    #[error("pin {0} is not an input")]
    NotAnInput(u8),
    /// The pin is not driven, so it cannot be pulsed.
    #[error("pin {0} is not driven")]
    NotDriven(u8),
    /// The chip drives the pin, or may drive it on the way.
    #[error("the chip drives pin {0} or may do so")]
    Contention(u8),
    /// A condition that the description wants avoided would hold, or might on the way.
    #[error("this could bring about a condition that the description wants avoided")]
    Avoided,
    /// A pin that has to hold still would change.
    #[error("pin {0} has to hold still while this is so")]
    Unsteady(u8),
    /// The result depends on the order in which the pins change.
    #[error("the result depends on the order in which pins change")]
    OrderDependent,
    /// The model does not come to rest.
    #[error("the outputs would not come to rest")]
    Restless,
}

/// A model in the socket.
#[derive(Clone, Debug)]
pub struct Player {
    pub(crate) chip: Chip,
    pub(crate) structure: Arc<Structure>,
}

impl Player {
    /// A freshly powered chip: contents unknown, nothing driven, keepers off.
    pub fn new(part: &Arc<Part>, package: &Package, conditions: &Conditions) -> Self {
        let structure = Arc::new(Structure::new(part));
        Self { chip: Chip::new(part, package, conditions), structure }
    }

    /// The pins that may be driven: inputs and bidirectional pins.
    pub fn drivable(&self) -> Pins {
        self.chip.drivable()
    }

    /// The pins that the chip may drive: outputs and bidirectional pins.
    pub fn outputs(&self) -> Pins {
        self.chip.outputs()
    }

    /// The pins that are driven, and those of them that are high.
    pub fn driven(&self) -> (Pins, Pins) {
        (self.chip.driven, self.chip.high)
    }

    /// Sets the keeper rails. Where what floats then changes and the result depends on the order,
    /// it is unknown.
    pub fn keep(&mut self, light: Rail, firm: Rail) {
        (self.chip.light, self.chip.firm) = (light, firm);
        let changes = self.changes(self.chip.driven, self.chip.high);
        self.chip.machine = order::change(&self.chip.machine, &self.structure, &changes).machine;
    }

    /// Drives `pins` from now on, those in `high` high and the rest low, all in one step.
    ///
    /// # Errors
    ///
    /// Whatever a socket must not do, and a result that depends on the order of changes.
    pub fn drive(&mut self, pins: Pins, high: Pins) -> Result<(), Refuse> {
        let (driven, high) = self.with_driven(pins, high);
        self.change(driven, high, true)
    }

    /// Drives like [`drive`](Self::drive), but takes a step whose result depends on the order of
    /// changes: what depends on it is then unknown.
    ///
    /// # Errors
    ///
    /// Whatever a socket must not do.
    pub fn drive_in_any_order(&mut self, pins: Pins, high: Pins) -> Result<(), Refuse> {
        let (driven, high) = self.with_driven(pins, high);
        self.change(driven, high, false)
    }

    /// Stops driving `pins`.
    ///
    /// # Errors
    ///
    /// As for [`drive`](Self::drive): what is released goes where the keepers take it.
    pub fn release(&mut self, pins: Pins) -> Result<(), Refuse> {
        let driven = Pins(self.chip.driven.0 & !pins.0);
        self.change(driven, Pins(self.chip.high.0 & driven.0), true)
    }

    /// Releases like [`release`](Self::release), but with what depends on the order unknown.
    ///
    /// # Errors
    ///
    /// Whatever a socket must not do.
    pub fn release_in_any_order(&mut self, pins: Pins) -> Result<(), Refuse> {
        let driven = Pins(self.chip.driven.0 & !pins.0);
        self.change(driven, Pins(self.chip.high.0 & driven.0), false)
    }

    /// Takes a driven pin to its other level and back, `times` times.
    ///
    /// # Errors
    ///
    /// As for [`drive`](Self::drive), at the first change that is refused; the changes before it
    /// have then been made.
    pub fn pulse(&mut self, pin: u8, times: u32) -> Result<(), Refuse> {
        if !self.chip.driven.contains(pin) {
            return Err(Refuse::NotDriven(pin));
        }
        let part = &self.chip.part;
        let drives_back = part.pins.iter().any(|pin| pin.role == Role::Bidirectional);
        let free = !drives_back && part.avoid.is_empty() && part.steady.is_empty();
        // One pin has no order, so nothing can be refused where the part demands nothing.
        let checked = if free { times.min(1) } else { times };
        self.chip.run(&Step::Pulse { pin, times: times - checked });
        for _ in 0..2 * u64::from(checked) {
            let high = Pins(self.chip.high.0 ^ Pins::one(pin).0);
            self.change(self.chip.driven, high, true)?;
        }
        Ok(())
    }

    /// Takes a program's step. Steps that change nothing are always taken.
    ///
    /// # Errors
    ///
    /// As for the method that the step stands for.
    pub fn step(&mut self, step: &Step) -> Result<(), Refuse> {
        match *step {
            Step::Drive { pins, high } => self.drive(pins, high),
            Step::Release { pins } => self.release(pins),
            Step::Pulse { pin, times } => self.pulse(pin, times),
            Step::Keep { light, firm } => {
                self.keep(light, firm);
                Ok(())
            }
            _ => {
                self.chip.run(step);
                Ok(())
            }
        }
    }

    /// What a pin should show, keepers aside.
    pub fn expected(&self, pin: u8) -> Expected {
        let Some(id) = self.chip.id(pin) else { return Expected::Unknown };
        if self.chip.driven.contains(pin) {
            return if self.chip.high.contains(pin) { Expected::High } else { Expected::Low };
        }
        if !matches!(self.chip.part.pin(id).role, Role::Output | Role::Bidirectional) {
            return match self.chip.part.pin(id).role {
                Role::Input => Expected::Released,
                _ => Expected::Unknown,
            };
        }
        let (value, enable) = self.chip.driving(id);
        match (enable.known(), value.known()) {
            (Some(false), _) => Expected::Released,
            (Some(true), Some(true)) => Expected::High,
            (Some(true), Some(false)) => Expected::Low,
            _ => Expected::Unknown,
        }
    }

    /// What a sample reads at a pin with the keepers as they are; `None` where the model does not
    /// know, and at supply and unconnected pins.
    pub fn reads(&self, pin: u8) -> Option<bool> {
        self.chip.reading(pin).known()
    }

    /// What a sample reads: the pins whose level is known, and those of them that are high.
    pub fn levels(&self) -> (Pins, Pins) {
        let mut known = Pins::NONE;
        let mut high = Pins::NONE;
        for pin in 1..=self.chip.at.len() as u8 {
            if let Some(level) = self.reads(pin) {
                known = known.with(pin, true);
                high = high.with(pin, level);
            }
        }
        (known, high)
    }

    fn with_driven(&self, pins: Pins, high: Pins) -> (Pins, Pins) {
        let driven = Pins(self.chip.driven.0 | pins.0);
        (driven, Pins((self.chip.high.0 & !pins.0) | (high.0 & pins.0)))
    }

    /// What would change at the chip's inputs.
    fn changes(&self, driven: Pins, high: Pins) -> Vec<(PinId, Word)> {
        self.chip
            .outside(driven, high)
            .filter(|(id, level)| self.chip.machine.applied(*id) != *level)
            .collect()
    }

    fn change(&mut self, driven: Pins, high: Pins, strict: bool) -> Result<(), Refuse> {
        let drivable = self.chip.drivable();
        if let Some(pin) = Pins(driven.0 & !drivable.0).iter().next() {
            return Err(Refuse::NotAnInput(pin));
        }
        let changes = self.changes(driven, high);
        let outcome = order::change(&self.chip.machine, &self.structure, &changes);
        self.check(driven, &changes, &outcome)?;
        if !outcome.rests {
            return Err(Refuse::Restless);
        }
        if strict && !outcome.order_free {
            return Err(Refuse::OrderDependent);
        }
        self.chip.machine = outcome.machine;
        self.chip.driven = driven;
        self.chip.high = high;
        Ok(())
    }

    fn check(
        &self,
        driven: Pins,
        changes: &[(PinId, Word)],
        outcome: &Outcome,
    ) -> Result<(), Refuse> {
        let before = &self.chip.machine;
        let part = &self.chip.part;
        let off = |machine: &Machine, id: PinId| machine.driven(id).1.known() == Some(false);
        for pin in driven.iter() {
            let Some(id) = self.chip.id(pin) else { continue };
            if part.pin(id).role == Role::Bidirectional {
                let free = outcome.all().all(|machine| off(machine, id));
                // A pin that is only now driven may be the first to change.
                if !free || (!self.chip.driven.contains(pin) && !off(before, id)) {
                    return Err(Refuse::Contention(pin));
                }
            }
        }
        for &node in &part.avoid {
            // Unknown contents at power-up are nobody's fault.
            let unknown_before = before.node(node).known().is_none();
            let clear = |machine: &Machine| match machine.node(node).known() {
                Some(high) => !high,
                None => unknown_before,
            };
            if !outcome.all().all(clear) {
                return Err(Refuse::Avoided);
            }
        }
        for steady in &part.steady {
            let moved = steady.pins.iter().find(|pin| {
                changes.iter().any(|(id, _)| id == *pin) && before.applied(**pin).known().is_some()
            });
            let Some(moved) = moved else { continue };
            let low = |machine: &Machine| machine.node(steady.condition).known() == Some(false);
            if !low(before) || !outcome.all().all(low) {
                let number = self.chip.at.iter().position(|at| at == &Some(*moved));
                return Err(Refuse::Unsteady(number.map_or(0, |index| index as u8 + 1)));
            }
        }
        Ok(())
    }
}
