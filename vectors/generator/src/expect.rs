//! Turns a player's knowledge into a program: steps with expectations after them.

use crate::Player;
use crate::chip::Chip;
use dipsift_language::{Output, Role};
use dipsift_wire::{Pins, Step};
use std::collections::BTreeSet;

/// A program in the making.
#[derive(Clone)]
pub(crate) struct Program {
    pub(crate) player: Player,
    pub(crate) steps: Vec<Step>,
    /// Pins that an expectation saw low, and high.
    pub(crate) low: Pins,
    pub(crate) high: Pins,
    /// Pins proven off, with the level that they would have driven.
    proven: BTreeSet<(u8, Option<bool>)>,
    /// Ordered pairs of neighbouring pins that an expectation saw as (high, low).
    pub(crate) differing: BTreeSet<(u8, u8)>,
    last: Option<(Pins, Pins)>,
}

impl Program {
    pub(crate) fn new(player: Player) -> Self {
        Self {
            player,
            steps: Vec::new(),
            low: Pins::NONE,
            high: Pins::NONE,
            proven: BTreeSet::new(),
            differing: BTreeSet::new(),
            last: None,
        }
    }

    /// Takes a step if the player does.
    pub(crate) fn take(&mut self, step: Step) -> bool {
        let before = matches!(step, Step::Pulse { .. }).then(|| self.player.clone());
        if self.player.step(&step).is_ok() {
            self.steps.push(step);
            return true;
        }
        if let Some(before) = before {
            self.player = before;
        }
        false
    }

    /// Adds expectations for all that is known now.
    pub(crate) fn observe(&mut self) {
        let (pins, high) = comparable(&self.player);
        if !pins.is_empty() && self.last != Some((pins, high)) {
            self.steps.push(Step::Expect { pins, high });
            self.last = Some((pins, high));
        }
        self.high.0 |= pins.0 & high.0;
        self.low.0 |= pins.0 & !high.0;
        self.differing.extend(differing(&self.player));
        self.prove_released();
    }

    /// Whether a three-state pin was proven off.
    pub(crate) fn proven_off(&self, pin: u8) -> bool {
        self.proven.iter().any(|(at, _)| *at == pin)
    }

    fn prove_released(&mut self) {
        let chip = &self.player.chip;
        let mut pins = Pins::NONE;
        for number in chip.outputs().iter() {
            let Some(id) = chip.id(number) else { continue };
            let pin = chip.part.pin(id);
            let (value, enable) = chip.machine.driven(id);
            if chip.driven.contains(number)
                || pin.output == Some(Output::OpenCollector)
                || enable.known() != Some(false)
                || (pin.role == Role::Bidirectional && !chip.conditions.keeps_low(pin))
            {
                continue;
            }
            if self.proven.insert((number, value.known())) {
                pins = pins.with(number, true);
            }
        }
        if !pins.is_empty() {
            let keeper = chip.conditions.keeper;
            self.take(Step::ExpectReleased { pins, keeper });
        }
    }
}

/// The pins whose reading is known and worth comparing, and those of them that are high.
pub(crate) fn comparable(player: &Player) -> (Pins, Pins) {
    let chip = &player.chip;
    let (known, high) = player.levels();
    let outputs = chip.outputs();
    let compared = |number: u8| {
        if !chip.driven.contains(number) {
            return outputs.contains(number);
        }
        let pin = chip.id(number).map(|id| chip.part.pin(id));
        high.contains(number)
            || pin.is_some_and(|pin| chip.conditions.reads_low(pin, chip.light, chip.firm))
    };
    let pins: Pins = known.iter().filter(|&number| compared(number)).collect();
    (pins, Pins(high.0 & pins.0))
}

/// Neighbouring signal pins that differ now, as (high, low).
pub(crate) fn differing(player: &Player) -> Vec<(u8, u8)> {
    let (pins, high) = player.levels();
    neighbours(player)
        .into_iter()
        .filter(|(a, b)| pins.contains(*a) && pins.contains(*b))
        .filter(|(a, b)| high.contains(*a) != high.contains(*b))
        .map(|(a, b)| if high.contains(a) { (a, b) } else { (b, a) })
        .collect()
}

/// Pairs of neighbouring pins on one side of the package that both carry signals.
pub(crate) fn neighbours(player: &Player) -> Vec<(u8, u8)> {
    let signals = Pins(player.drivable().0 | player.outputs().0);
    let count = player.chip.at.len() as u8;
    (1..count)
        .filter(|&pin| pin != count / 2)
        .map(|pin| (pin, pin + 1))
        .filter(|(a, b)| signals.contains(*a) && signals.contains(*b))
        .collect()
}

/// What a model shows at a step that looks: the pins it knows and those of them that are high, or
/// for a proof of high impedance the pins that it knows to be off. `None` for other steps.
pub(crate) fn shown(chip: &Chip, step: &Step) -> Option<(Pins, Pins)> {
    match *step {
        Step::Expect { .. } | Step::Sample => {
            let readings = (1..=chip.at.len() as u8)
                .filter_map(|number| Some((number, chip.reading(number).known()?)));
            let (mut pins, mut high) = (Pins::NONE, Pins::NONE);
            for (number, level) in readings {
                pins = pins.with(number, true);
                high = high.with(number, level);
            }
            Some((pins, high))
        }
        Step::ExpectReleased { pins, .. } => {
            let off = |number: &u8| {
                let id = chip.id(*number);
                id.is_some_and(|id| chip.driving(id).1.known() == Some(false))
            };
            Some((pins.iter().filter(off).collect(), Pins::NONE))
        }
        _ => None,
    }
}
