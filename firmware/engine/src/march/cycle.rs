//! Cycles as port words.

use super::plan::Wiring;
use crate::Package;
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

/// One move and the waits that follow it.
pub(crate) struct Stage<S: Moves> {
    pub(crate) act: Act,
    /// For [`Act::Set`].
    pub(crate) levels: S::Levels,
    pub(crate) ticks: u32,
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
        let mut stage = Stage { act: Act::Set, levels: S::NO_LEVELS, ticks: 0 };
        match *step {
            Move::Set { pins, high } => {
                stage.levels =
                    socket.prepare_levels(package.positions(pins), package.positions(high));
            }
            Move::Address | Move::Row => stage.act = Act::First,
            Move::Column => stage.act = Act::Second,
            Move::Data => stage.act = Act::Data,
            Move::Release => stage.act = Act::Release,
            Move::Sample => stage.act = Act::Sample,
            Move::Wait { ns } => {
                stage.ticks = socket.prepare_wait(ns);
                if let Some(last) = stages.last_mut() {
                    last.ticks = last.ticks.saturating_add(stage.ticks);
                    continue;
                }
            }
        }
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
pub(crate) fn run<S: Moves>(
    hardware: &mut S,
    stages: &Stages<S>,
    wiring: &Wiring<S>,
    placed: &Placed<S>,
    data: &S::Levels,
) -> Option<S::Sample> {
    let mut sample = None;
    for stage in stages {
        match stage.act {
            Act::Set => hardware.set(&stage.levels),
            Act::First => hardware.set(&placed.first),
            Act::Second => hardware.set(&placed.second),
            Act::Data => {
                hardware.set(data);
                hardware.direct(&wiring.writing);
            }
            Act::Release => hardware.direct(&wiring.reading),
            Act::Sample => sample = Some(hardware.sample()),
        }
        wait(hardware, stage.ticks);
    }
    sample
}

/// The usual cycles of a static memory, without a loop and a decision at each move: the address
/// stands still at all operations on a word, so it is put once.
pub(crate) struct Quick<S: Moves> {
    read: [Stage<S>; 4],
    write: [Stage<S>; 5],
}

impl<S: Moves> Quick<S> {
    /// The quick form of two cycles; `None` where one of them is unusual.
    ///
    /// A read is address, levels, sample, levels; a write is address, data, levels, levels and,
    /// where the data pins are shared, release. Each may wait after every move.
    pub(crate) fn of(read: &Stages<S>, write: &Stages<S>) -> Option<Self> {
        let acts = |stages: &[Stage<S>], usual: &[Act]| {
            stages.iter().map(|stage| stage.act).eq(usual.iter().copied())
        };
        let usual = acts(read, &[Act::First, Act::Set, Act::Sample, Act::Set]);
        let writes = &[Act::First, Act::Data, Act::Set, Act::Set, Act::Release];
        if !usual || !(acts(write, writes) || acts(write, writes.get(..4)?)) {
            return None;
        }
        let (&[a, b, c, d], &[e, f, g, h, ..]) = (read.as_slice(), write.as_slice()) else {
            return None;
        };
        // Pins that are inputs only are driven anyway, so that to release changes nothing.
        let none = Stage { act: Act::Release, levels: S::NO_LEVELS, ticks: 0 };
        let i = write.get(4).copied().unwrap_or(none);
        Some(Self { read: [a, b, c, d], write: [e, f, g, h, i] })
    }

    /// Reads at the address that is on the pins.
    #[inline(always)]
    pub(crate) fn read(&self, hardware: &mut S) -> S::Sample {
        let [address, begin, look, end] = &self.read;
        wait(hardware, address.ticks);
        hardware.set(&begin.levels);
        wait(hardware, begin.ticks);
        let sample = hardware.sample();
        wait(hardware, look.ticks);
        hardware.set(&end.levels);
        wait(hardware, end.ticks);
        sample
    }

    /// Writes at the address that is on the pins.
    #[inline(always)]
    pub(crate) fn write(&self, hardware: &mut S, wiring: &Wiring<S>, data: &S::Levels) {
        let [address, put, begin, end, release] = &self.write;
        wait(hardware, address.ticks);
        hardware.set(data);
        hardware.direct(&wiring.writing);
        wait(hardware, put.ticks);
        hardware.set(&begin.levels);
        wait(hardware, begin.ticks);
        hardware.set(&end.levels);
        wait(hardware, end.ticks);
        hardware.direct(&wiring.reading);
        wait(hardware, release.ticks);
    }
}
