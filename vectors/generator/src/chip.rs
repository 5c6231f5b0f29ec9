//! A model in the socket: what is driven, what the keepers do, what a sample would show. Carries
//! no judgement; [`Player`](crate::Player) adds that.

use crate::Conditions;
use dipsift_language::{Machine, Output, Package, Part, PinId, Role, Word};
use dipsift_wire::{Pins, Rail, Step};
use std::sync::Arc;

/// A pin that has a level of its own in some lanes, whatever is applied.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Forced {
    pub(crate) pin: PinId,
    /// The lanes in which it is low.
    pub(crate) low: u64,
    /// The lanes in which it is high.
    pub(crate) high: u64,
}

#[derive(Clone, Debug)]
pub(crate) struct Chip {
    pub(crate) part: Arc<Part>,
    /// The package's pins from 1 on.
    pub(crate) at: Arc<[Option<PinId>]>,
    pub(crate) conditions: Conditions,
    pub(crate) machine: Machine,
    pub(crate) driven: Pins,
    pub(crate) high: Pins,
    pub(crate) light: Rail,
    pub(crate) firm: Rail,
    /// Inputs and bidirectional pins with their numbers.
    inputs: Arc<[(PinId, Pins)]>,
    drivable: Pins,
    outputs: Pins,
    forced: Arc<[Forced]>,
    /// What an input is taken for whose level the conditions leave open.
    undefined: Word,
}

impl Chip {
    /// A chip whose contents and open inputs are unknown.
    pub(crate) fn new(part: &Arc<Part>, package: &Package, conditions: &Conditions) -> Self {
        let machine = Machine::new(Arc::new(part.network.clone()), part.pins.len());
        Self::with(part, package, conditions, machine, Vec::new(), Word::UNKNOWN)
    }

    /// A chip from a prepared machine, with pins forced and open inputs at chosen levels.
    pub(crate) fn with(
        part: &Arc<Part>,
        package: &Package,
        conditions: &Conditions,
        machine: Machine,
        forced: Vec<Forced>,
        undefined: Word,
    ) -> Self {
        let mut chip = Self {
            part: Arc::clone(part),
            at: package.pins.clone().into(),
            conditions: *conditions,
            machine,
            driven: Pins::NONE,
            high: Pins::NONE,
            light: Rail::Off,
            firm: Rail::Off,
            inputs: part
                .pin_ids()
                .filter(|&id| matches!(part.pin(id).role, Role::Input | Role::Bidirectional))
                .map(|id| (id, package.numbers(id).collect()))
                .collect(),
            drivable: Pins::NONE,
            outputs: Pins::NONE,
            forced: forced.into(),
            undefined,
        };
        let first = |(_, numbers): &(PinId, Pins)| numbers.iter().next();
        chip.drivable = chip.inputs.iter().filter_map(first).collect();
        chip.outputs = chip.numbers(|chip, id| {
            matches!(chip.part.pin(id).role, Role::Output | Role::Bidirectional)
        });
        for id in part.pin_ids() {
            match part.pin(id).role {
                Role::Supply | Role::Fed => chip.machine.apply(id, Word::HIGH),
                Role::Ground => chip.machine.apply(id, Word::LOW),
                _ => {}
            }
        }
        chip.apply_all();
        chip.machine.settle();
        chip
    }

    pub(crate) fn id(&self, number: u8) -> Option<PinId> {
        self.at.get(usize::from(number).checked_sub(1)?).copied().flatten()
    }

    /// The pin numbers whose pin satisfies a condition.
    pub(crate) fn numbers(&self, wanted: impl Fn(&Self, PinId) -> bool) -> Pins {
        (1..=self.at.len() as u8)
            .filter(|&number| self.id(number).is_some_and(|id| wanted(self, id)))
            .collect()
    }

    /// Pins that a person or program may drive. Of one that stands at several numbers, the first.
    pub(crate) const fn drivable(&self) -> Pins {
        self.drivable
    }

    /// Pins that the chip may drive.
    pub(crate) const fn outputs(&self) -> Pins {
        self.outputs
    }

    /// The levels at inputs and bidirectional pins from outside, given what would be driven.
    pub(crate) fn outside(&self, driven: Pins, high: Pins) -> impl Iterator<Item = (PinId, Word)> {
        let floating = self.conditions.floating_input(self.light, self.firm);
        let floating = if floating == Word::UNKNOWN { self.undefined } else { floating };
        self.inputs.iter().map(move |&(id, numbers)| {
            let driven = driven.0 & numbers.0;
            let level = match high.0 & driven {
                _ if driven == 0 => floating,
                0 => Word::LOW,
                all if all == driven => Word::HIGH,
                _ => Word::UNKNOWN,
            };
            (id, self.force(id, level))
        })
    }

    fn force(&self, pin: PinId, level: Word) -> Word {
        self.forced.iter().filter(|forced| forced.pin == pin).fold(level, |level, forced| Word {
            low: (level.low & !forced.high) | forced.low,
            high: (level.high & !forced.low) | forced.high,
        })
    }

    /// Pins that the network may read.
    pub(crate) fn readable(&self) -> impl Iterator<Item = PinId> {
        self.inputs.iter().map(|(id, _)| *id)
    }

    fn apply_all(&mut self) {
        let levels: Vec<(PinId, Word)> = self.outside(self.driven, self.high).collect();
        for (id, level) in levels {
            self.machine.apply(id, level);
        }
    }

    /// Carries out a step, all its pins at once.
    pub(crate) fn run(&mut self, step: &Step) {
        match *step {
            Step::Drive { pins, high } => {
                self.driven = Pins(self.driven.0 | pins.0);
                self.high = Pins((self.high.0 & !pins.0) | (high.0 & pins.0));
            }
            Step::Release { pins } => {
                self.driven = Pins(self.driven.0 & !pins.0);
                self.high = Pins(self.high.0 & !pins.0);
            }
            Step::Keep { light, firm } => {
                self.light = light;
                self.firm = firm;
            }
            Step::ExpectReleased { .. } => {
                if !self.drivable_floats() {
                    return;
                }
                // The keepers go both ways: what floats is unknown meanwhile.
                let rails = (self.light, self.firm);
                (self.light, self.firm) = (Rail::Off, Rail::Off);
                self.apply_all();
                self.machine.settle();
                (self.light, self.firm) = rails;
            }
            Step::Pulse { pin, times } => {
                for _ in 0..2 * u64::from(times) {
                    self.high = Pins(self.high.0 ^ Pins::one(pin).0);
                    self.apply_all();
                    self.machine.settle();
                }
                return;
            }
            Step::Expect { .. }
            | Step::Wait { .. }
            | Step::Sample
            | Step::Voltage { .. }
            | Step::Current => return,
        }
        self.apply_all();
        self.machine.settle();
    }

    fn drivable_floats(&self) -> bool {
        self.drivable().0 & !self.driven.0 != 0
    }

    /// What the chip does at a pin: the level it drives and whether it drives. An open collector
    /// does not drive high.
    pub(crate) fn driving(&self, pin: PinId) -> (Word, Word) {
        let (value, enable) = self.machine.driven(pin);
        if self.part.pin(pin).output == Some(Output::OpenCollector) {
            (Word::LOW, enable.and(value.not()))
        } else {
            (value, enable)
        }
    }

    /// What a sample shows at a pin.
    pub(crate) fn reading(&self, number: u8) -> Word {
        let Some(id) = self.id(number) else { return Word::UNKNOWN };
        match self.part.pin(id).role {
            Role::Input | Role::Bidirectional if self.driven.contains(number) => {
                let enable = self.driving(id).1;
                let level = Word::all(self.high.contains(number));
                enable.select(Word::UNKNOWN, level)
            }
            Role::Output | Role::Bidirectional => {
                let (value, enable) = self.driving(id);
                let off = self.conditions.floating_output(self.light, self.firm);
                let off = if self.part.pin(id).role == Role::Bidirectional {
                    // It is an input too and may hold itself.
                    let input = self.conditions.floating_input(self.light, self.firm);
                    off.merge(input)
                } else {
                    off
                };
                enable.select(value, off)
            }
            Role::Input => self.conditions.floating_input(self.light, self.firm),
            Role::Supply | Role::Ground | Role::Fed | Role::Open | Role::Foreign { .. } => {
                Word::UNKNOWN
            }
        }
    }
}
