//! A whole check of a memory that may be powered.

use super::choice::Chosen;
use super::contents;
use super::diagnose::{Failed, diagnose, shape};
use super::layout::{Layout, Pull, ReadForm};
use super::report::MemoryReport;
use super::times::Times;
use super::{MarchWish, MemoryWish, Running, grade, retention, verdict};
use crate::{Outcome, Prepared, Reason, Report, judge};
use dipsift_diagnosis::Map;
use dipsift_language::Memory;
use dipsift_link::{LinkError, Transport};
use dipsift_wire::{Capabilities, Ended, MarchSetup, Miss};

/// After this many failing reads a bulk check ends: it is no-go anyway.
const FEW: u32 = 256;
/// After this many any other check does, unless all failures are wanted.
const MANY: u32 = 100_000;

/// How much longer a memory gets at least to show that it is only slow, in nanoseconds.
const MORE_NS: u32 = 500;

/// What a check of a memory yields: the report, and what a program may want beyond it.
#[derive(Clone, Debug)]
pub struct MemoryRun {
    /// The report. Its `memory` is there once the chip was powered.
    pub report: Report,
    /// The reads of the march that failed, in order: the address, and the bits that were wrong.
    pub failing: Vec<(u32, u16)>,
    /// Where they are.
    pub map: Option<Map>,
    /// What a part that is only read holds.
    pub words: Vec<u16>,
}

impl MemoryRun {
    /// A run that has not come to the memory.
    pub fn of(report: Report) -> Self {
        Self { report, failing: Vec::new(), map: None, words: Vec::new() }
    }
}

/// Checks a memory that the look before power has found ready.
pub(crate) fn check<T: Transport>(
    running: &mut Running<'_, T>,
    prepared: &Prepared,
    layout: &Layout,
    wish: &MemoryWish,
    seated: bool,
    capabilities: &Capabilities,
    report: Report,
) -> Result<MemoryRun, LinkError> {
    let mut run = MemoryRun::of(report);
    run.report.memory =
        Some(MemoryReport { words: layout.words, bits: layout.bits(), ..MemoryReport::default() });
    let Some(memory) = &prepared.part.memory else { return Ok(run) };
    let times = wish.times(memory);
    if layout.is_read_only() {
        read(running, prepared, layout, &times, seated, &mut run)?;
        return Ok(run);
    }
    march(running, prepared, (layout, memory), &times, wish, seated, &mut run)?;
    if run.report.outcome == Outcome::Go && wish.retention {
        let found = retention::test(running, layout, &times)?;
        verdict::retention(&found, &mut run.report);
        run.report.memory.get_or_insert_default().retention = Some(found);
    }
    let reads = run.report.outcome == Outcome::Go || run.report.reason == Reason::Slow;
    if reads && wish.grade {
        let found = grade::measure(running, layout, memory, wish.mark.as_ref(), capabilities)?;
        verdict::grade(&found, &mut run.report);
        run.report.memory.get_or_insert_default().grade = Some(found);
    }
    Ok(run)
}

/// The set-up of the march itself.
pub(super) fn march_setup(
    layout: &Layout,
    times: &Times,
    chosen: &Chosen,
    wish: &MemoryWish,
) -> MarchSetup {
    let most = match (wish.all_failures, &wish.march) {
        (true, _) => u32::MAX,
        (_, MarchWish::Quick) => FEW,
        _ => MANY,
    };
    let form = ReadForm::usual(times, layout);
    layout.setup(times, &form, Pull::Up, &chosen.elements, &chosen.backgrounds, most)
}

fn march<T: Transport>(
    running: &mut Running<'_, T>,
    prepared: &Prepared,
    (layout, memory): (&Layout, &Memory),
    times: &Times,
    wish: &MemoryWish,
    seated: bool,
    run: &mut MemoryRun,
) -> Result<(), LinkError> {
    let chosen = Chosen::of(&wish.march, layout);
    let setup = march_setup(layout, times, &chosen, wish);
    run.report.program_hash = running.hash(&setup);
    let marched = running.march("march", &setup)?;
    let summary = &marched.summary;
    judge::measured(prepared, summary, &mut run.report);
    if !judge::powered(prepared, summary, seated, &mut run.report) {
        return Ok(());
    }
    let misses = &marched.misses;
    let wrong =
        |miss: &Miss| Some((miss.address, (setup.expected(miss)? ^ miss.seen) & setup.word()));
    run.failing = misses.iter().filter_map(wrong).collect();
    verdict::march(prepared, layout, &setup, misses, summary, &mut run.report);
    if summary.failures > 0 {
        let slow = slow(running, layout, times, &chosen)?;
        if let (Some(ns), Outcome::NoGo) = (slow, run.report.outcome) {
            verdict::slow(times.access, ns, wish.mark.as_ref(), &mut run.report);
        }
        let failed = Failed {
            elements: &chosen.elements,
            backgrounds: &chosen.backgrounds,
            misses,
            summary,
            slow: slow.is_some(),
        };
        let shape = shape(&prepared.name, layout, memory);
        let (sentences, map) = diagnose(&prepared.part, &shape, &failed);
        run.report.memory.get_or_insert_default().diagnosis = sentences;
        run.map = map;
    }
    let report = chosen.report(summary, times.access);
    run.report.memory.get_or_insert_default().march = Some(report);
    Ok(())
}

/// Whether a memory that fails its march passes it with more time; the time from the last event of
/// a read to the sample then.
fn slow<T: Transport>(
    running: &mut Running<'_, T>,
    layout: &Layout,
    times: &Times,
    chosen: &Chosen,
) -> Result<Option<u32>, LinkError> {
    let usual = ReadForm::usual(times, layout);
    let more = times.access.max(MORE_NS);
    let form = ReadForm { sample_ns: usual.sample_ns + 2 * more, ..usual };
    let relaxed = Times { write: times.write + more, setup: times.setup + more, ..*times };
    let (elements, backgrounds) = (&chosen.elements, &chosen.backgrounds);
    let setup = layout.setup(&relaxed, &form, Pull::Up, elements, backgrounds, 1);
    let run = running.march("more time", &setup)?;
    let passed = run.summary.ended == Ended::Complete && run.summary.failures == 0;
    Ok(passed.then_some(form.sample_ns))
}

fn read<T: Transport>(
    running: &mut Running<'_, T>,
    prepared: &Prepared,
    layout: &Layout,
    times: &Times,
    seated: bool,
    run: &mut MemoryRun,
) -> Result<(), LinkError> {
    run.report.program_hash = running.hash(&contents::setups(layout, times));
    let contents = contents::read(running, layout, times)?;
    judge::measured(prepared, &contents.summary, &mut run.report);
    if !judge::powered(prepared, &contents.summary, seated, &mut run.report) {
        return Ok(());
    }
    if let Some(found) = contents.report {
        verdict::contents(prepared, layout, &found, &contents.differing, &mut run.report);
        run.report.memory.get_or_insert_default().contents = Some(found);
        run.words = contents.words;
    }
    Ok(())
}
