//! A tester with what has been prepared for it.

use crate::memory::{self, MemoryProgress, MemoryRun, MemoryWish, Running};
use crate::preflight::{self, Finding};
use crate::{Outcome, Prepared, Reason, Refused, Report, Selftest, judge, prepare, selftest};
use dipsift_language::{Family, Part};
use dipsift_link::{Link, LinkError, Transport};
use dipsift_wire::{Hello, Nature};
use std::collections::HashMap;
use std::ops::ControlFlow;
use std::sync::Arc;

/// A tester that has said hello.
pub struct Bench<T: Transport> {
    link: Link<T>,
    hello: Hello,
    prepared: HashMap<(String, Family), Arc<Prepared>>,
}

impl<T: Transport> Bench<T> {
    /// A bench with this tester.
    pub fn new(link: Link<T>) -> Self {
        let hello = link.hello().clone();
        Self { link, hello, prepared: HashMap::new() }
    }

    /// What the tester says of itself.
    pub fn tester(&self) -> &Hello {
        &self.hello
    }

    /// Whether verdicts of this tester are real.
    pub fn nature(&self) -> &'static str {
        match self.hello.nature {
            Nature::Real => "real",
            Nature::Emulated => "emulated",
            Nature::Simulated => "simulated",
        }
    }

    /// The link, for programs of one's own.
    pub fn link(&mut self) -> &mut Link<T> {
        &mut self.link
    }

    /// Places a part, chooses its supply and generates its vectors, once for each part and family.
    pub fn prepare(&mut self, part: &Arc<Part>, family: Family) -> Result<Arc<Prepared>, Refused> {
        let key = (part.number.clone(), family);
        if let Some(prepared) = self.prepared.get(&key)
            && Arc::ptr_eq(&prepared.part, part)
        {
            return Ok(Arc::clone(prepared));
        }
        let prepared = Arc::new(prepare::prepare(part, family, &self.hello.capabilities)?);
        self.prepared.insert(key, Arc::clone(&prepared));
        Ok(prepared)
    }

    /// Checks the chip in the socket once, a memory as in bulk. `seated` says that the user has
    /// looked at its seat and direction, so that a missing contact or a short is the chip's own.
    pub fn check(&mut self, prepared: &Prepared, seated: bool) -> Report {
        self.check_memory(prepared, &MemoryWish::bulk(), seated, &mut |_| ControlFlow::Continue(()))
            .report
    }

    /// Checks the chip in the socket once, a memory as wished. Of a memory `progress` is told after
    /// some fifty milliseconds each time; where it breaks, the socket is let go and the report is
    /// one of trouble.
    pub fn check_memory(
        &mut self,
        prepared: &Prepared,
        wish: &MemoryWish,
        seated: bool,
        progress: &mut dyn FnMut(&MemoryProgress) -> ControlFlow<()>,
    ) -> MemoryRun {
        match self.try_check(prepared, wish, seated, progress) {
            Ok(run) => run,
            Err(error) => MemoryRun::of(self.failed(prepared, &error)),
        }
    }

    fn try_check(
        &mut self,
        prepared: &Prepared,
        wish: &MemoryWish,
        seated: bool,
        progress: &mut dyn FnMut(&MemoryProgress) -> ControlFlow<()>,
    ) -> Result<MemoryRun, LinkError> {
        let mut report = prepared.report(self.nature());
        let finding = self.look(prepared)?;
        if !judge::before_power(prepared, &finding, seated, &mut report) {
            return Ok(MemoryRun::of(report));
        }
        let Self { link, hello, .. } = self;
        if let Some(layout) = &prepared.memory {
            let mut running = Running::new(link, prepared, progress);
            let capabilities = &hello.capabilities;
            return memory::check(
                &mut running,
                prepared,
                layout,
                wish,
                seated,
                capabilities,
                report,
            );
        }
        report.program_hash = prepared.vectors_hash;
        let run = link.run(&prepared.header(false), &prepared.vectors.steps)?;
        judge::after_vectors(link, prepared, &run.summary, seated, &mut report)?;
        Ok(MemoryRun::of(report))
    }

    /// The report of a check that the tester or its link has ended.
    fn failed(&self, prepared: &Prepared, error: &LinkError) -> Report {
        let mut report = prepared.report(self.nature());
        (report.outcome, report.reason) = if error.is_refusal() {
            (Outcome::Refused, Reason::Unsupported)
        } else {
            (Outcome::Trouble, Reason::Link)
        };
        report.sentences.push(error.to_string());
        report
    }

    /// Checks the chip several times, a memory as wished. Checks that disagree make an intermittent
    /// chip, which is no go: it would fail in a repair. Of several checks `progress` is told how
    /// many are done, of a single one what [`Bench::check_memory`] tells; where it breaks, the
    /// report is one of trouble.
    pub fn check_repeated(
        &mut self,
        prepared: &Prepared,
        wish: &MemoryWish,
        seated: bool,
        times: u32,
        progress: &mut dyn FnMut(&MemoryProgress) -> ControlFlow<()>,
    ) -> MemoryRun {
        if times <= 1 {
            return self.check_memory(prepared, wish, seated, progress);
        }
        let mut kept: Option<MemoryRun> = None;
        let mut outcomes: Vec<(Outcome, u32)> = Vec::new();
        for done in 0..u64::from(times) {
            let now = MemoryProgress { stage: "check", done, all: times.into() };
            if progress(&now).is_break() {
                return MemoryRun::of(self.failed(prepared, &LinkError::Stopped));
            }
            let run = self.check_memory(prepared, wish, seated, &mut |_| progress(&now));
            let report = &run.report;
            match outcomes.iter_mut().find(|(outcome, _)| *outcome == report.outcome) {
                Some((_, count)) => *count += 1,
                None => outcomes.push((report.outcome, 1)),
            }
            if matches!(report.outcome, Outcome::Trouble | Outcome::Refused) {
                return run;
            }
            if kept.as_ref().is_none_or(|kept| rank(report) > rank(&kept.report)) {
                kept = Some(run);
            }
        }
        let mut run = kept.unwrap_or_else(|| MemoryRun::of(prepared.report(self.nature())));
        if outcomes.len() > 1 {
            disagree(&mut run.report, &outcomes, times, seated);
        }
        run
    }

    /// Whether something is in the socket: a look for contacts at all positions, unpowered.
    pub fn occupied(&mut self) -> Result<bool, LinkError> {
        let run = self.link.run(&preflight::unpowered(40, 0), &preflight::contact_steps())?;
        Ok(!preflight::contacts(&run.seen).is_empty())
    }

    /// Runs the tester's own check on an empty socket.
    pub fn selftest(&mut self) -> Result<Selftest, LinkError> {
        selftest::run(&mut self.link, &self.hello.capabilities)
    }

    /// The look before power.
    pub(crate) fn look(&mut self, prepared: &Prepared) -> Result<Finding, LinkError> {
        let placement = &prepared.placement;
        let header = preflight::unpowered(placement.pins, placement.shift);
        let finding = prepared.look.read(&self.link.run(&header, &prepared.look.steps)?.seen);
        if !matches!(finding, Finding::Empty | Finding::Open(_) | Finding::Misplaced(_)) {
            return Ok(finding);
        }
        let steps = preflight::survey_steps();
        let seen = self.link.run(&preflight::unpowered(40, 0), &steps)?.seen;
        let survey = preflight::survey(&seen, preflight::expected_grounds(placement));
        match preflight::whereabouts(placement, survey) {
            // Ground is in place, or too few contacts tell where it is.
            Finding::Ready | Finding::Empty => Ok(finding),
            elsewhere => Ok(elsewhere),
        }
    }
}

/// Makes a report one of checks that disagree.
fn disagree(report: &mut Report, outcomes: &[(Outcome, u32)], times: u32, seated: bool) {
    let counts: Vec<String> =
        outcomes.iter().map(|(outcome, count)| format!("{} {count}", outcome.words())).collect();
    report.reason = Reason::Intermittent;
    report.sentences.insert(0, format!("intermittent: {} of {times} checks", counts.join(", ")));
    if outcomes.iter().any(|(outcome, _)| *outcome == Outcome::NoGo) || seated {
        report.outcome = Outcome::NoGo;
    } else {
        report.outcome = Outcome::NotDecided;
        report.sentences.push("clean the pins, seat the chip again and repeat".into());
    }
}

/// Which of several reports of one chip says most.
fn rank(report: &Report) -> u8 {
    match report.outcome {
        Outcome::Go => 0,
        Outcome::NotDecided => 1,
        Outcome::NoGo => 2,
        Outcome::Refused | Outcome::Trouble => 3,
    }
}
