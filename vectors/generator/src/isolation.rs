//! Proves that each input stands for itself: released, with the keeper high and its neighbours
//! low, it has to read high. This finds shorts between neighbours and leaky inputs.

use crate::expect::{Program, neighbours};
use crate::mover::Mover;
use crate::random::Random;
use dipsift_wire::{Pins, Step};

/// Arrangements tried for an input whose neighbours are outputs.
const TRIES: usize = 24;

/// Adds the proof for every input; returns the inputs for which there is none.
pub(crate) fn isolate(program: &mut Program, keeper_ns: u32) -> Pins {
    let mut missing = Pins::NONE;
    let mut random = Random::new(&program.player.chip.part.number, 0x150);
    for pin in program.player.drivable().iter() {
        let Some(arranged) = arrange(program, pin, &mut random) else {
            missing = missing.with(pin, true);
            continue;
        };
        for step in arranged.steps {
            program.take(step);
        }
        if !program.take(Step::Release { pins: Pins::one(pin) }) {
            missing = missing.with(pin, true);
            continue;
        }
        program.take(Step::Wait { ns: keeper_ns });
        let (pins, high) = crate::expect::comparable(&program.player);
        program.steps.push(Step::Expect { pins: pins.with(pin, true), high: high.with(pin, true) });
        // It stands high, so driving it high again changes nothing.
        program.take(Step::Drive { pins: Pins::one(pin), high: Pins::one(pin) });
    }
    missing
}

/// The pin driven high and its neighbours low, as far as the part allows.
fn arrange(program: &Program, pin: u8, random: &mut Random) -> Option<Mover> {
    let beside: Pins = neighbours(&program.player)
        .into_iter()
        .filter_map(|(a, b)| (a == pin).then_some(b).or((b == pin).then_some(a)))
        .collect();
    let drivable = program.player.drivable();
    let mut best: Option<(u32, Mover)> = None;
    for attempt in 0..TRIES {
        let mut mover = Mover::new(program.player.clone());
        let (_, now) = mover.player.driven();
        let others = if attempt == 0 { now } else { Pins(random.word() & drivable.0) };
        let high = Pins((others.0 | Pins::one(pin).0) & !beside.0);
        if attempt == 0 {
            mover.set(Pins(Pins::one(pin).0 | (beside.0 & drivable.0)), high);
        } else {
            mover.set(drivable, high);
        }
        let (driven, high) = mover.player.driven();
        if !driven.contains(pin) || !high.contains(pin) {
            continue;
        }
        let high_beside = beside.iter().filter(|&at| mover.player.reads(at) != Some(false)).count();
        let high_beside = high_beside as u32;
        if best.as_ref().is_none_or(|(least, _)| high_beside < *least) {
            best = Some((high_beside, mover));
        }
        if high_beside == 0 {
            break;
        }
    }
    best.map(|(_, mover)| mover)
}
