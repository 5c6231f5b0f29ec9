//! What a program would show on a model that is not the one it was made for.

use crate::Conditions;
use crate::chip::{Chip, Forced};
use crate::expect::shown;
use crate::faults::differs;
use crate::random::Random;
use dipsift_language::{Machine, Package, Part, StateId, Word};
use dipsift_wire::{Pins, Step};
use std::sync::Arc;

/// What a model shows at a step that looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// The step, counted from 0.
    pub step: u32,
    /// The pins whose reading the model knows; at an [`Step::ExpectReleased`], those of its pins
    /// that the model knows to be off.
    pub pins: Pins,
    /// Those of them that read high; none at an [`Step::ExpectReleased`].
    pub high: Pins,
}

/// What a part shows at every step that looks, with some inputs held at a level of their own
/// (number, high) whatever is driven. Forced pins are not among the pins shown.
pub fn replay(
    part: &Arc<Part>,
    package: &Package,
    conditions: &Conditions,
    steps: &[Step],
    forced: &[(u8, bool)],
) -> Vec<Shown> {
    let hidden: Pins = forced.iter().map(|(number, _)| *number).collect();
    let forced = forced
        .iter()
        .filter_map(|&(number, high)| {
            let pin = package.at(number)?;
            let (low, high) = if high { (0, u64::MAX) } else { (u64::MAX, 0) };
            Some(Forced { pin, low, high })
        })
        .collect();
    let machine = Machine::new(Arc::new(part.network.clone()), part.pins.len());
    let mut chip = Chip::with(part, package, conditions, machine, forced, Word::UNKNOWN);
    let mut all = Vec::new();
    for (index, step) in steps.iter().enumerate() {
        if let Some((pins, high)) = shown(&chip, step) {
            let pins = Pins(pins.0 & !hidden.0);
            all.push(Shown { step: index as u32, pins, high: Pins(high.0 & pins.0) });
        }
        chip.run(step);
    }
    all
}

/// The pins that are driven while step `index` runs, and those of them that are high.
pub fn driven_at(steps: &[Step], index: usize) -> (Pins, Pins) {
    let (mut driven, mut levels) = (Pins::NONE, Pins::NONE);
    for step in steps.iter().take(index.saturating_add(1)) {
        match *step {
            Step::Drive { pins, high } => {
                driven.0 |= pins.0;
                levels.0 = (levels.0 & !pins.0) | (high.0 & pins.0);
            }
            Step::Release { pins } => {
                driven.0 &= !pins.0;
                levels.0 &= !pins.0;
            }
            _ => {}
        }
    }
    (driven, levels)
}

/// Whether a part that is not the one the steps were made for would pass them, in at least one of
/// 64 seeded states at power-up.
pub fn escapes(
    part: &Arc<Part>,
    package: &Package,
    conditions: &Conditions,
    steps: &[Step],
) -> bool {
    let mut random = Random::new(&part.number, 0xe5c);
    let mut machine = Machine::new(Arc::new(part.network.clone()), part.pins.len());
    for index in 0..part.network.registers.len() {
        machine.set_state(StateId(index as u32), Word::lanes(random.word()));
    }
    let undefined = Word::lanes(random.word());
    let mut chip = Chip::with(part, package, conditions, machine, Vec::new(), undefined);
    let mut found = 0;
    for step in steps {
        match *step {
            Step::Expect { pins, high } => {
                let outputs = Pins(chip.outputs().0 & !chip.driven.0);
                for number in Pins(pins.0 & outputs.0).iter() {
                    found |= differs(chip.reading(number), high.contains(number));
                }
            }
            Step::ExpectReleased { pins, .. } => {
                for id in pins.iter().filter_map(|number| chip.id(number)) {
                    let enable = chip.driving(id).1;
                    found |= enable.high & !enable.low;
                }
            }
            _ => {}
        }
        if found == u64::MAX {
            return false;
        }
        chip.run(step);
    }
    true
}
