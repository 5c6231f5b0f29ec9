//! A window's code, checked and prepared.

use crate::operation::Action;
use crate::program::LONGEST_NS;
use crate::{Operation, Program};
use dipsift_pins::{Keepers, Rail, Socket};
use dipsift_wire::{Capabilities, MAX_CAPTURE, Pins, Refusal, Step, Steps, Strength};
use heapless::Vec;

/// What a program's steps so far have left behind: drivers and keepers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Carried {
    /// The pins that are driven.
    pub driven: Pins,
    /// Those of them that are driven high.
    pub high: Pins,
    /// The keeper rails.
    pub keepers: Keepers,
}

/// Memory for one window's operations.
pub struct Prepared<S: Socket, const OPERATIONS: usize> {
    operations: Vec<Operation<S>, OPERATIONS>,
}

/// A window that cannot be wrong: every step is possible after the ones before it.
pub struct Checked<'a, S: Socket> {
    operations: &'a [Operation<S>],
    carried: Carried,
}

impl<'a, S: Socket> Checked<'a, S> {
    /// The operations, one for each step.
    pub const fn operations(&self) -> &'a [Operation<S>] {
        self.operations
    }

    /// The state that they leave behind.
    pub const fn carried(&self) -> Carried {
        self.carried
    }
}

impl<S: Socket, const OPERATIONS: usize> Default for Prepared<S, OPERATIONS> {
    fn default() -> Self {
        Self::new()
    }
}

impl<S: Socket, const OPERATIONS: usize> Prepared<S, OPERATIONS> {
    /// Empty memory.
    #[inline(always)]
    pub const fn new() -> Self {
        Self { operations: Vec::new() }
    }

    /// Checks a window's code as a whole and prepares its operations. Touches no pin.
    ///
    /// # Errors
    ///
    /// - [`Refusal::TooLarge`]: more code, steps or captured records than there is memory for.
    /// - [`Refusal::TooLong`]: the waiting times add up to more than the longest silence.
    /// - [`Refusal::Conflict`]: a step would drive a pin that is fed or grounded.
    /// - [`Refusal::Step`]: a step is malformed, names a pin that the package lacks, has levels
    ///   for pins that it does not name, pulses a pin that is not driven, or proves the release
    ///   of one that is driven or supplied.
    pub fn check(
        &mut self,
        program: &Program,
        carried: Carried,
        code: &[u8],
        capabilities: &Capabilities,
        socket: &S,
    ) -> Result<Checked<'_, S>, Refusal> {
        self.operations.clear();
        if code.len() > usize::from(capabilities.window_bytes) {
            return Err(Refusal::TooLarge);
        }
        let mut check = Check { program, socket, carried };
        let mut wait_ns = 0_u64;
        let mut record_bytes = 0_usize;
        for (index, step) in Steps::new(code).enumerate() {
            // No code has more steps than bytes, so the number fits.
            let malformed = Refusal::Step { index: index as u16 };
            let step = step.map_err(|_| malformed)?;
            if index >= usize::from(capabilities.window_steps) {
                return Err(Refusal::TooLarge);
            }
            let action = check.step(&step, malformed)?;
            self.operations.push(Operation(action)).map_err(|_| Refusal::TooLarge)?;
            wait_ns = wait_ns.saturating_add(program.header().wait_ns(&step));
            record_bytes = record_bytes.saturating_add(program.header().record_bytes(&step));
        }
        if wait_ns > LONGEST_NS {
            return Err(Refusal::TooLong);
        }
        if record_bytes > MAX_CAPTURE {
            return Err(Refusal::TooLarge);
        }
        Ok(Checked { operations: &self.operations, carried: check.carried })
    }
}

struct Check<'a, S> {
    program: &'a Program,
    socket: &'a S,
    carried: Carried,
}

impl<S: Socket> Check<'_, S> {
    fn step(&mut self, step: &Step, malformed: Refusal) -> Result<Action<S>, Refusal> {
        let package = self.program.package();
        let named = |pins: Pins, high: Pins| {
            if package.has(pins) && high.0 & !pins.0 == 0 { Ok(()) } else { Err(malformed) }
        };
        let position = |pin: u8| package.position(pin).ok_or(malformed);
        let supplied = self.program.supplied();
        Ok(match *step {
            Step::Drive { pins, high } => {
                named(pins, high)?;
                if pins.0 & supplied.0 != 0 {
                    return Err(Refusal::Conflict);
                }
                self.carried.driven.0 |= pins.0;
                self.carried.high.0 = self.carried.high.0 & !pins.0 | high.0;
                Action::Apply(self.drive(self.carried.high))
            }
            Step::Release { pins } => {
                named(pins, Pins::NONE)?;
                self.carried.driven.0 &= !pins.0;
                self.carried.high.0 &= !pins.0;
                Action::Apply(self.drive(self.carried.high))
            }
            Step::Keep { light, firm } => {
                self.carried.keepers = Keepers { light: rail(light), firm: rail(firm) };
                Action::Keep(self.carried.keepers)
            }
            Step::Expect { pins, high } => {
                named(pins, high)?;
                Action::Expect { compare: self.compare(pins, high), pins, high }
            }
            Step::ExpectReleased { pins, keeper } => {
                named(pins, Pins::NONE)?;
                if pins.0 & (self.carried.driven.0 | supplied.0) != 0 {
                    return Err(malformed);
                }
                Action::Released {
                    all_high: self.compare(pins, pins),
                    all_low: self.compare(pins, Pins::NONE),
                    pins,
                    up: only(keeper, Rail::High),
                    down: only(keeper, Rail::Low),
                    after: self.carried.keepers,
                }
            }
            Step::Pulse { pin, times } => {
                position(pin)?;
                if !self.carried.driven.contains(pin) {
                    return Err(malformed);
                }
                let other = Pins(self.carried.high.0 ^ Pins::one(pin).0);
                Action::Pulse {
                    there: self.drive(other),
                    back: self.drive(self.carried.high),
                    times,
                }
            }
            Step::Wait { ns } => Action::Wait { ns },
            Step::Sample => Action::Sample,
            Step::Voltage { pin } => Action::Voltage { position: position(pin)? },
            Step::Current => Action::Current,
        })
    }

    fn drive(&self, high: Pins) -> S::Drive {
        let package = self.program.package();
        self.socket.prepare_drive(package.positions(self.carried.driven), package.positions(high))
    }

    fn compare(&self, pins: Pins, high: Pins) -> S::Compare {
        let package = self.program.package();
        self.socket.prepare_compare(package.positions(pins), package.positions(high))
    }
}

pub(crate) const fn rail(rail: dipsift_wire::Rail) -> Rail {
    match rail {
        dipsift_wire::Rail::Off => Rail::Off,
        dipsift_wire::Rail::Low => Rail::Low,
        dipsift_wire::Rail::High => Rail::High,
    }
}

/// One strength alone: a keeper of the other would blur the proof.
const fn only(strength: Strength, rail: Rail) -> Keepers {
    match strength {
        Strength::Light => Keepers { light: rail, firm: Rail::Off },
        Strength::Firm => Keepers { light: Rail::Off, firm: rail },
    }
}
