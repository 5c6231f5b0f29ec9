//! Memories: marched, graded, left alone for a while, read out, diagnosed.
//!
//! A memory's description becomes a [`Layout`], and that a set-up that the station runs by itself.

mod choice;
mod contents;
mod control;
mod diagnose;
mod grade;
mod layout;
mod report;
mod retention;
mod run;
mod times;
mod verdict;

pub use choice::{Chosen, MarchWish, backgrounds};
pub use contents::bytes;
pub use layout::Layout;
pub use report::{
    ContentsReport, GradeLine, GradeReport, Kept, MarchReport, MemoryReport, PauseReport,
    RetentionReport,
};
pub use run::MemoryRun;

use crate::{Prepared, ProgramHash};
use dipsift_language::Memory;
use dipsift_link::{Link, LinkError, MarchProgress, MarchRun, ReadOut, Transport};
use dipsift_wire::{Header, MarchSetup};
use serde::Serialize;
use std::ops::ControlFlow;
use times::Times;

pub(crate) use run::check;

/// A speed mark with what it promises.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The mark after the dash.
    pub text: String,
    /// The access time that it promises in nanoseconds.
    pub access_ns: u32,
}

/// What to do with a memory.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MemoryWish {
    /// The march.
    pub march: MarchWish,
    /// The speed mark, where its meaning is known. All times are those of this grade then, else
    /// those of the slowest.
    pub mark: Option<Mark>,
    /// Whether to measure the speed.
    pub grade: bool,
    /// Whether to test how long cells keep their data.
    pub retention: bool,
    /// Whether every failing read is wanted, for a map of them, however many there are.
    pub all_failures: bool,
}

impl MemoryWish {
    /// What a memory gets in bulk: the shortest march.
    pub fn bulk() -> Self {
        Self { march: MarchWish::Quick, ..Self::default() }
    }

    /// The times that a memory is given.
    fn times(&self, memory: &Memory) -> Times {
        Times::of(memory, self.mark.as_ref().map(|mark| mark.access_ns))
    }
}

/// The march of a check, as a station gets it; `None` for a part that is not marched.
pub fn march_program(prepared: &Prepared, wish: &MemoryWish) -> Option<(Header, MarchSetup)> {
    let layout = prepared.memory.as_ref().filter(|layout| !layout.is_read_only())?;
    let memory = prepared.part.memory.as_ref()?;
    let chosen = Chosen::of(&wish.march, layout);
    let times = wish.times(memory);
    Some((prepared.march_header(), run::march_setup(layout, &times, &chosen, wish)))
}

/// How far a check is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryProgress {
    /// What is done: `march`, `speed`, `retention`, `first read`; `check` where there are several.
    pub stage: &'static str,
    /// How much of the stage has been done.
    pub done: u64,
    /// How much it has.
    pub all: u64,
}

/// A check on its way: the link, how the chip is powered, and whom to tell.
pub(crate) struct Running<'a, T: Transport> {
    link: &'a mut Link<T>,
    header: Header,
    progress: &'a mut dyn FnMut(&MemoryProgress) -> ControlFlow<()>,
}

impl<'a, T: Transport> Running<'a, T> {
    pub fn new(
        link: &'a mut Link<T>,
        prepared: &Prepared,
        progress: &'a mut dyn FnMut(&MemoryProgress) -> ControlFlow<()>,
    ) -> Self {
        Self { link, header: prepared.march_header(), progress }
    }

    /// The hash of what is about to run.
    fn hash(&self, setup: &impl Serialize) -> Option<ProgramHash> {
        ProgramHash::of(&self.header, setup)
    }

    /// Runs a march.
    fn march(&mut self, stage: &'static str, setup: &MarchSetup) -> Result<MarchRun, LinkError> {
        let Self { link, header, progress } = self;
        link.march(header, setup, &mut |now: &MarchProgress| {
            progress(&MemoryProgress { stage, done: now.operations, all: now.all })
        })
    }

    /// Reads all words.
    fn read_out(&mut self, stage: &'static str, setup: &MarchSetup) -> Result<ReadOut, LinkError> {
        let Self { link, header, progress } = self;
        let all = u64::from(setup.words);
        link.read_out(header, setup, &mut |words| {
            progress(&MemoryProgress { stage, done: u64::from(words), all })
        })
    }
}
