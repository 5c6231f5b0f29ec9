//! Cycles as port words.

use super::plan::Wiring;
use crate::Package;
use core::cell::Cell;
use dipsift_pins::Moves;
use dipsift_wire::{MAX_MOVES, Move};
use heapless::Vec;

/// What a stage does before it waits.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Act {
    Set,
    /// The whole address or the row.
    First,
    /// The column.
    Second,
    Data,
    Release,
    Sample,
}

/// What a stage does once its levels are there.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Then {
    /// Wait.
    Wait,
    /// Sample at once, then wait: where a cycle begins so, or what is sampled has only just been
    /// released.
    Sample,
    /// Drive the data inputs, then wait.
    Drive,
    /// Release the data pins that are shared, then wait.
    Release,
}

/// One move and the waits that follow it.
pub(crate) struct Stage<S: Moves> {
    pub(crate) act: Act,
    /// Where its levels come from: the number of one of those that a cycle is run with, or
    /// [`OWN`].
    source: u8,
    then: Then,
    /// Whether it ends with the sample, waiting closely; the next stage, that of the sample, has
    /// nothing left but its wait.
    closely: bool,
    /// Its own.
    pub(crate) levels: S::Levels,
    pub(crate) ticks: u32,
}

/// A stage with levels of its own.
const OWN: u8 = u8::MAX;

impl<S: Moves> Stage<S> {
    fn new(act: Act) -> Self {
        let (source, then) = match act {
            Act::Set => (OWN, Then::Wait),
            Act::First => (0, Then::Wait),
            Act::Second => (1, Then::Wait),
            Act::Data => (2, Then::Drive),
            Act::Release => (OWN, Then::Release),
            Act::Sample => (OWN, Then::Sample),
        };
        Self { act, source, then, closely: false, levels: S::NO_LEVELS, ticks: 0 }
    }
}

impl<S: Moves> Clone for Stage<S> {
    fn clone(&self) -> Self {
        *self
    }
}

// Derived, it would ask the socket to be one, too.
impl<S: Moves> Copy for Stage<S> {}

/// The stages of a cycle. A wait that comes first has a stage of its own.
pub(crate) type Stages<S> = Vec<Stage<S>, MAX_MOVES>;

/// What is put on the pins in the cycles at one address.
pub(crate) struct Placed<S: Moves> {
    /// The whole address or the row.
    pub(crate) first: S::Levels,
    /// The column.
    pub(crate) second: S::Levels,
}

/// Turns moves into stages.
pub(crate) fn prepare<S: Moves>(
    stages: &mut Stages<S>,
    moves: &[Move],
    socket: &S,
    package: Package,
) {
    stages.clear();
    for step in moves {
        let stage = match *step {
            Move::Set { pins, high } => {
                let (pins, high) = (package.positions(pins), package.positions(high));
                Stage { levels: socket.prepare_levels(pins, high), ..Stage::new(Act::Set) }
            }
            Move::Address | Move::Row => Stage::new(Act::First),
            Move::Column => Stage::new(Act::Second),
            Move::Data => Stage::new(Act::Data),
            Move::Release => Stage::new(Act::Release),
            Move::Sample => match stages.last_mut() {
                Some(last) if last.then == Then::Wait => {
                    last.closely = true;
                    Stage { then: Then::Wait, ..Stage::new(Act::Sample) }
                }
                _ => Stage::new(Act::Sample),
            },
            Move::Wait { ns } => {
                let ticks = socket.prepare_wait(ns);
                if let Some(last) = stages.last_mut() {
                    last.ticks = last.ticks.saturating_add(ticks);
                    continue;
                }
                Stage { ticks, ..Stage::new(Act::Set) }
            }
        };
        // No more stages than moves.
        let _ = stages.push(stage);
    }
}

/// Waits, if there is something to wait for.
#[inline(always)]
pub(crate) fn wait<S: Moves>(hardware: &mut S, ticks: u32) {
    if ticks != 0 {
        hardware.wait(ticks);
    }
}

/// Runs a cycle of any form; yields what was sampled.
#[inline(never)]
pub(crate) fn run<S: Moves>(
    hardware: &mut S,
    stages: &Stages<S>,
    wiring: &Wiring<S>,
    placed: &Placed<S>,
    data: &S::Levels,
) -> Option<S::Sample> {
    let mut sample = None;
    let sources = [&placed.first, &placed.second, data];
    for stage in stages {
        // A stage that sets none sets its own, which change nothing.
        let levels = sources.get(usize::from(stage.source)).copied().unwrap_or(&stage.levels);
        // Decided before the levels change, so that the time from there to the sample is short.
        if stage.closely {
            let ticks = stage.ticks;
            hardware.set(levels);
            hardware.wait_closely(ticks);
            sample = Some(hardware.sample());
            continue;
        }
        hardware.set(levels);
        match stage.then {
            Then::Wait => {}
            Then::Sample => sample = Some(hardware.sample()),
            Then::Drive => hardware.direct(&wiring.writing),
            Then::Release => hardware.direct(&wiring.reading),
        }
        wait(hardware, stage.ticks);
    }
    sample
}

/// Levels, then a wait.
struct Stroke<S: Moves> {
    /// In a cell, so that it is read where it stands: the loop uses more such words than there
    /// are registers, and a compiler that may keep them copies them to the stack and back.
    levels: Cell<S::Levels>,
    ticks: Cell<u32>,
}

impl<S: Moves> Stroke<S> {
    const fn new(stage: &Stage<S>) -> Self {
        Self { levels: Cell::new(stage.levels), ticks: Cell::new(stage.ticks) }
    }

    #[inline(always)]
    fn set(&self, hardware: &mut S) {
        hardware.set(&self.levels.get());
    }
}

/// The same stage with a shorter wait.
fn less<S: Moves>(stage: &Stage<S>, ticks: u32) -> Stage<S> {
    Stage { ticks: stage.ticks.saturating_sub(ticks), ..*stage }
}

/// The usual cycles of a static memory, without a loop and a decision at each move: the address
/// stands still at all operations on a word, so it is put once.
pub(crate) struct Quick<S: Moves> {
    read: [Stroke<S>; 2],
    writing: S::Directions,
    write: [Stroke<S>; 2],
    reading: S::Directions,
}

impl<S: Moves> Quick<S> {
    /// The quick form of two cycles; `None` where one of them is unusual.
    ///
    /// A read is address, levels, wait, sample, levels, wait; a write is address, data, levels,
    /// wait, levels, wait and, where the data pins are shared, release.
    pub(crate) fn of(
        read: &Stages<S>,
        write: &Stages<S>,
        [reading, writing]: [S::Directions; 2],
    ) -> Option<Self> {
        let acts = |stages: &[Stage<S>], usual: &[Act]| {
            let may_wait = |stage: &Stage<S>| stage.act == Act::Set || stage.ticks == 0;
            stages.iter().map(|stage| stage.act).eq(usual.iter().copied())
                && stages.iter().all(may_wait)
        };
        // Pins that are inputs only are driven anyway, so that to release changes nothing.
        let writes = &[Act::First, Act::Data, Act::Set, Act::Set, Act::Release];
        let usual = acts(read, &[Act::First, Act::Set, Act::Sample, Act::Set])
            && (acts(write, writes) || acts(write, writes.get(..4)?));
        match (read.as_slice(), write.as_slice()) {
            ([_, a, _, b], [_, _, c, d, ..]) if usual => Some(Self {
                read: [Stroke::new(a), Stroke::new(&less(b, S::AFTER_READ))],
                writing,
                write: [Stroke::new(c), Stroke::new(d)],
                reading,
            }),
            _ => None,
        }
    }

    /// Reads at the address that is on the pins.
    #[inline(always)]
    pub(crate) fn read(&self, hardware: &mut S) -> S::Sample {
        let [begin, end] = &self.read;
        begin.set(hardware);
        hardware.wait_closely(begin.ticks.get());
        let sample = hardware.sample();
        end.set(hardware);
        wait(hardware, end.ticks.get());
        sample
    }

    /// Writes at the address that is on the pins.
    #[inline(always)]
    pub(crate) fn write(&self, hardware: &mut S, data: &S::Levels) {
        let [begin, end] = &self.write;
        hardware.set(data);
        hardware.direct(&self.writing);
        begin.set(hardware);
        hardware.wait(begin.ticks.get());
        end.set(hardware);
        wait(hardware, end.ticks.get());
        hardware.direct(&self.reading);
    }
}
