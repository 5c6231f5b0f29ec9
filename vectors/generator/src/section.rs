//! Steps for one section: all input combinations where they are few, a search otherwise.

use crate::mover::Mover;
use crate::random::Random;
use crate::structure::{Section, Structure};
use crate::{Conditions, Player, search};
use dipsift_language::{Package, Part, Role};
use dipsift_wire::{Pins, Step};
use std::sync::Arc;

/// A section with more inputs than this is not exercised exhaustively.
pub(crate) const EXHAUSTIVE_INPUTS: u32 = 10;

/// What sections are exercised with.
pub(crate) struct Task<'a> {
    pub(crate) part: &'a Arc<Part>,
    pub(crate) package: &'a Package,
    pub(crate) conditions: &'a Conditions,
    pub(crate) structure: &'a Structure,
    /// At power-up with the keepers high.
    pub(crate) player: &'a Player,
    pub(crate) index: usize,
}

impl Task<'_> {
    pub(crate) fn section(&self) -> &Section {
        &self.structure.sections[self.index]
    }

    /// The section's pins that may be driven.
    pub(crate) fn inputs(&self) -> Pins {
        let section = self.section();
        let all = self.player.chip.numbers(|_, id| section.inputs.contains(&id));
        Pins(all.0 & self.player.drivable().0)
    }

    /// The section's pins that the chip may drive.
    pub(crate) fn outputs(&self) -> Pins {
        let section = self.section();
        self.player.chip.numbers(|_, id| section.outputs.contains(&id))
    }

    pub(crate) fn is_exhaustive(&self) -> bool {
        let section = self.section();
        let both_ways =
            section.inputs.iter().any(|&id| self.part.pin(id).role == Role::Bidirectional);
        section.registers.is_empty() && !both_ways && self.inputs().count() <= EXHAUSTIVE_INPUTS
    }

    /// The section's steps, without expectations.
    pub(crate) fn steps(&self) -> Vec<Step> {
        if self.is_exhaustive() { self.exhaustive() } else { search::directed(self) }
    }

    /// Every input combination, one input changing at a time. Each section starts elsewhere and
    /// every other one runs backwards, so that equal sections carry different data.
    fn exhaustive(&self) -> Vec<Step> {
        let inputs: Vec<u8> = self.inputs().iter().collect();
        let count = 1_u64 << inputs.len();
        let start =
            Random::new(&self.part.number, 7).below(count as usize) as u64 + self.index as u64;
        let mut mover = Mover::new(self.player.clone());
        for step in 0..count {
            let at = if self.index.is_multiple_of(2) { start + step } else { start + count - step };
            let code = (at % count) ^ ((at % count) >> 1);
            let high: Pins = inputs
                .iter()
                .enumerate()
                .filter(|(bit, _)| code >> bit & 1 == 1)
                .map(|(_, &pin)| pin)
                .collect();
            // A combination that the description wants avoided is left out.
            mover.set(self.inputs(), high);
        }
        mover.steps
    }
}
