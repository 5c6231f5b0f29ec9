//! March tests: addressing, backgrounds, checking and refresh on the station.
//!
//! A set-up is checked once and turned into a [`Plan`] of port words. It then runs in pieces, each
//! bounded in time and in failures, and goes on exactly where the last piece has stopped: between
//! two addresses. A dynamic memory is refreshed within the pieces and, by [`March::tend`], between
//! them.

mod check;
mod chunk;
mod cycle;
mod plan;
mod progress;
mod refresh;
mod run;
mod tables;

use crate::tally::Tally;
use crate::{Hardware, Program};
use dipsift_pins::Moves;
use dipsift_wire::{Ended, MAX_MISSES, MAX_WORDS, MarchSetup, Miss, Refusal};
use heapless::Vec;
use plan::Plan;
use progress::{Phase, Progress};
use run::Run;

pub use refresh::STALL_NS;

/// Memory for one march.
pub(crate) struct March<S: Moves> {
    plan: Plan<S>,
    progress: Option<Progress>,
}

impl<S: Moves> March<S> {
    #[inline(always)]
    pub(crate) const fn new() -> Self {
        Self { plan: Plan::new(), progress: None }
    }

    /// Forgets the march.
    pub(crate) const fn close(&mut self) {
        self.progress = None;
    }

    /// Whether a march is set up.
    pub(crate) const fn is_open(&self) -> bool {
        self.progress.is_some()
    }

    /// Whether [`tend`](Self::tend) has something to do from time to time.
    pub(crate) fn needs_tending(&self) -> bool {
        self.progress.as_ref().is_some_and(|progress| progress.refresh.is_on())
    }
}

impl<H: Hardware> March<H> {
    /// Checks a set-up and prepares it. Touches no pin.
    pub(crate) fn set_up(
        &mut self,
        hardware: &H,
        program: &Program,
        setup: &MarchSetup,
    ) -> Result<(), Refusal> {
        self.close();
        check::check(setup, program)?;
        self.plan.fill(hardware, program.package(), setup);
        self.progress = Some(Progress::new());
        Ok(())
    }

    /// Whether the chip has not been powered yet.
    pub(crate) fn is_fresh(&self) -> bool {
        self.progress.as_ref().is_some_and(Progress::is_fresh)
    }

    /// Runs on; `Some` where the march has ended.
    pub(crate) fn proceed(
        &mut self,
        hardware: &mut H,
        program: &Program,
        tally: &mut Tally,
        misses: &mut Vec<Miss, MAX_MISSES>,
    ) -> Option<Ended> {
        let Self { plan, progress: Some(progress) } = self else {
            return Some(Ended::Complete);
        };
        let wiring = plan.wiring.as_ref()?;
        let package = program.package();
        Run { hardware, plan, wiring, progress, tally, misses, package }.piece()
    }

    /// Whether there is a march, and it may go on: its memory is not being read out instead.
    pub(crate) fn may_proceed(&self) -> bool {
        let marched =
            self.progress.as_ref().is_some_and(|progress| progress.phase != Phase::Reading);
        marched && !self.plan.elements.is_empty()
    }

    /// Whether words may be read out: nothing has been marched.
    pub(crate) fn may_read_out(&self) -> bool {
        let phase = self.progress.as_ref().map(|progress| progress.phase);
        matches!(phase, Some(Phase::Fresh | Phase::Reading))
    }

    /// Whether there are such words.
    pub(crate) fn has(&self, first: u32, count: u16) -> bool {
        let last = first.checked_add(count.into());
        let words = self.plan.wiring.as_ref().map_or(0, |wiring| wiring.words);
        (1..=MAX_WORDS).contains(&usize::from(count)) && last.is_some_and(|last| last <= words)
    }

    /// Reads words; `Some` once the last one has been read, or where the supply has tripped.
    pub(crate) fn read_out(
        &mut self,
        hardware: &mut H,
        program: &Program,
        tally: &mut Tally,
        first: u32,
        words: &mut Vec<u16, MAX_WORDS>,
        count: u16,
    ) -> Option<Ended> {
        let Self { plan, progress: Some(progress) } = self else {
            return Some(Ended::Complete);
        };
        let wiring = plan.wiring.as_ref()?;
        let package = program.package();
        let mut none = Vec::new();
        let misses = &mut none;
        Run { hardware, plan, wiring, progress, tally, misses, package }
            .read_out(first, words, count)
    }

    /// Refreshes what is due.
    pub(crate) fn tend(&mut self, hardware: &mut H) {
        if let Self { plan, progress: Some(progress) } = self
            && let Some(wiring) = &plan.wiring
        {
            progress.refresh.tend(hardware, plan, wiring);
        }
    }
}
