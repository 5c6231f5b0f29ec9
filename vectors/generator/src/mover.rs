//! Finds legal, race-free steps to wanted levels.

use crate::Player;
use crate::random::Random;
use dipsift_language::Role;
use dipsift_wire::{Pins, Step};

/// A player with the steps it took.
#[derive(Clone)]
pub(crate) struct Mover {
    pub(crate) player: Player,
    pub(crate) steps: Vec<Step>,
}

impl Mover {
    pub(crate) fn new(player: Player) -> Self {
        Self { player, steps: Vec::new() }
    }

    /// Brings `pins` to the levels `high`; bidirectional ones only where the chip does not drive
    /// them. Returns whether a legal way was found; without one nothing is changed.
    pub(crate) fn set(&mut self, pins: Pins, high: Pins) -> bool {
        let before = (self.player.clone(), self.steps.len());
        let done = self.try_set(pins, high);
        if !done {
            self.player = before.0;
            self.steps.truncate(before.1);
        }
        done
    }

    /// Takes an input to its other level.
    pub(crate) fn toggle(&mut self, pin: u8) -> bool {
        let (_, high) = self.player.driven();
        self.set(Pins::one(pin), Pins(!high.0 & Pins::one(pin).0))
    }

    pub(crate) fn pulse(&mut self, pin: u8, times: u32) -> bool {
        let before = self.player.clone();
        let done = self.player.pulse(pin, times).is_ok();
        if done {
            self.steps.push(Step::Pulse { pin, times });
        } else {
            self.player = before;
        }
        done
    }

    fn try_set(&mut self, pins: Pins, high: Pins) -> bool {
        let (both_ways, inputs) = self.by_role(pins);
        let changed = self.changed(inputs, high);
        let enabling = self.numbers(changed, |player, id| player.structure.is_enabling(id));
        let (driven, _) = self.player.driven();
        let held = Pins(driven.0 & self.by_role(driven).0.0);
        if !enabling.is_empty() && !held.is_empty() {
            if self.player.release(held).is_err() {
                return false;
            }
            self.steps.push(Step::Release { pins: held });
        }
        if !self.drive(changed, high) {
            return false;
        }
        let off = self.numbers(both_ways, |player, id| {
            player.chip.machine.driven(id).1.known() == Some(false)
        });
        let changed = self.changed(off, high);
        self.drive(changed, high)
    }

    /// Drives pins in one step where that is free of races, else in several.
    fn drive(&mut self, pins: Pins, high: Pins) -> bool {
        if pins.is_empty() {
            return true;
        }
        let clocks = self.numbers(pins, |player, id| player.structure.is_clock(id));
        let calm = Pins(pins.0 & !clocks.0);
        let holding = self.numbers(calm, |player, id| player.structure.is_holding(id));
        let held = Pins(calm.0 & !holding.0);
        let singles = |set: Pins| set.iter().map(Pins::one).collect::<Vec<_>>();
        let mut ways = vec![
            vec![pins],
            [vec![calm], singles(clocks)].concat(),
            [singles(clocks), vec![calm]].concat(),
            [vec![held], singles(holding), singles(clocks)].concat(),
            [singles(holding), vec![held], singles(clocks)].concat(),
            singles(pins),
        ];
        let mut random = Random::new("order", pins.0 ^ high.0.rotate_left(32));
        for _ in 0..4 {
            let mut order = singles(pins);
            random.shuffle(&mut order);
            ways.push(order);
        }
        ways.iter().any(|way| self.drive_in(way, high))
    }

    fn drive_in(&mut self, way: &[Pins], high: Pins) -> bool {
        let before = (self.player.clone(), self.steps.len());
        for &pins in way.iter().filter(|pins| !pins.is_empty()) {
            let high = Pins(high.0 & pins.0);
            if self.player.drive(pins, high).is_err() {
                self.player = before.0;
                self.steps.truncate(before.1);
                return false;
            }
            self.steps.push(Step::Drive { pins, high });
        }
        true
    }

    /// Bidirectional pins and plain inputs.
    fn by_role(&self, pins: Pins) -> (Pins, Pins) {
        let role =
            |wanted: Role| self.numbers(pins, |player, id| player.chip.part.pin(id).role == wanted);
        (role(Role::Bidirectional), role(Role::Input))
    }

    /// Those of `pins` that are not driven to their wanted level yet.
    fn changed(&self, pins: Pins, high: Pins) -> Pins {
        let (driven, now) = self.player.driven();
        Pins(pins.0 & (!driven.0 | (now.0 ^ high.0)))
    }

    fn numbers(
        &self,
        pins: Pins,
        wanted: impl Fn(&Player, dipsift_language::PinId) -> bool,
    ) -> Pins {
        let id = |number: u8| self.player.chip.id(number);
        pins.iter().filter(|&pin| id(pin).is_some_and(|id| wanted(&self.player, id))).collect()
    }
}
