//! Walks counters and shift registers through their whole cycle.

use crate::mover::Mover;
use crate::random::Random;
use crate::section::Task;
use dipsift_language::{PinId, Word};
use dipsift_wire::Pins;
use std::collections::BTreeSet;

/// Registers of a section from which a walk is worth while.
const REGISTERS: usize = 3;
/// Cycles up to this many bits are walked clock by clock.
const SINGLE_BITS: usize = 10;
/// Longer ones are walked in bursts, up to this many bits.
const BURST_BITS: usize = 14;
/// Walks for each clock pin.
const WALKS: usize = 3;
/// Clocks up to which both edges get a step of their own.
const SLOW_CLOCKS: usize = 36;

/// A walk that one of the 64 lanes found.
#[derive(Clone, Default)]
struct Lane {
    contents: Vec<u64>,
    visited: BTreeSet<u64>,
    over: bool,
}

/// Adds walks with every clock pin, each with the other inputs held.
pub(crate) fn counters(
    task: &Task<'_>,
    clocks: &[u8],
    calm: &[u8],
    random: &mut Random,
    mover: &mut Mover,
) {
    let registers = task.section().registers.len();
    if !(REGISTERS..=64).contains(&registers) {
        return;
    }
    let limit = (1 << registers.min(SINGLE_BITS)) + 4;
    let mut known: BTreeSet<(u64, u64)> = BTreeSet::new();
    for &clock in clocks {
        for _ in 0..WALKS {
            let others: Vec<u8> =
                clocks.iter().filter(|&&other| other != clock).chain(calm).copied().collect();
            let (modes, lanes) = survey(task, mover, clock, &others, limit, random);
            let fresh = |lane: &Lane| {
                let pairs = lane.contents.windows(2).map(|pair| (pair[0], pair[1]));
                pairs.filter(|pair| !known.contains(pair)).count()
            };
            let best = (0..64).max_by_key(|&lane| (fresh(&lanes[lane]), 64 - lane)).unwrap_or(0);
            let lane = &lanes[best];
            if fresh(lane) < 3 {
                break;
            }
            let high: Pins = others
                .iter()
                .zip(&modes)
                .filter(|(_, word)| *word >> best & 1 == 1)
                .map(|(&pin, _)| pin)
                .collect();
            let others: Pins = others.into_iter().collect();
            // Some inputs have to hold still while the clock is at one of its levels.
            let set = mover.set(others, high) || (mover.toggle(clock) && mover.set(others, high));
            if !set {
                continue;
            }
            known.extend(lane.contents.windows(2).map(|pair| (pair[0], pair[1])));
            clock_on(mover, clock, lane, registers);
        }
    }
}

/// Clocks 64 random modes at once until their contents repeat.
fn survey(
    task: &Task<'_>,
    mover: &Mover,
    clock: u8,
    others: &[u8],
    limit: usize,
    random: &mut Random,
) -> (Vec<u64>, Vec<Lane>) {
    let chip = &mover.player.chip;
    let mut machine = chip.machine.clone();
    let (_, high) = mover.player.driven();
    let id = |pin: u8| chip.id(pin).unwrap_or(PinId(0));
    let modes: Vec<u64> = others.iter().map(|_| random.word()).collect();
    for (&pin, &word) in others.iter().zip(&modes) {
        machine.apply(id(pin), Word::lanes(word));
        machine.settle();
    }
    let mut lanes = vec![Lane::default(); 64];
    let at_rest = high.contains(clock);
    for _ in 0..limit {
        let words: Vec<Word> =
            task.section().registers.iter().map(|&state| machine.state(state)).collect();
        let unknown = words.iter().fold(0, |all, word| all | word.unknown());
        let barred = task.part.avoid.iter().fold(0, |all, node| all | machine.node(*node).high);
        for (index, lane) in lanes.iter_mut().enumerate() {
            lane.over |= barred >> index & 1 == 1;
            if lane.over {
                continue;
            }
            if unknown >> index & 1 == 1 {
                // It may yet become known, for instance by shifting.
                continue;
            }
            let content = words
                .iter()
                .enumerate()
                .fold(0, |all, (bit, word)| all | (word.high >> index & 1) << bit);
            lane.contents.push(content);
            lane.over = !lane.visited.insert(content);
        }
        if lanes.iter().all(|lane| lane.over) {
            break;
        }
        for level in [!at_rest, at_rest] {
            machine.apply(id(clock), Word::all(level));
            machine.settle();
        }
    }
    (modes, lanes)
}

fn clock_on(mover: &mut Mover, clock: u8, lane: &Lane, registers: usize) {
    let clocks = lane.contents.len() + 1;
    if !lane.over && registers > SINGLE_BITS {
        for _ in 0..SLOW_CLOCKS {
            if !mover.pulse(clock, 1) {
                return;
            }
        }
        let total: u32 = 1 << registers.min(BURST_BITS);
        // An odd burst shows every stage at both levels.
        let burst = (total / 200) | 1;
        for _ in 0..=total / burst {
            if !mover.pulse(clock, burst) {
                return;
            }
        }
        return;
    }
    for _ in 0..clocks {
        let done = if clocks <= SLOW_CLOCKS {
            mover.toggle(clock) && mover.toggle(clock)
        } else {
            mover.pulse(clock, 1)
        };
        if !done {
            return;
        }
    }
}
