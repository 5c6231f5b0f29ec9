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
use dipsift_wire::{Ended, MAX_MISSES, MarchSetup, Miss, Refusal};
use heapless::Vec;
use plan::Plan;
use progress::Progress;

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
        run::Run { hardware, plan, wiring, progress, tally, misses, package }.piece()
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
