//! From what was seen to a verdict.

use crate::placement::list;
use crate::preflight::Finding;
use crate::seen::level;
use crate::words::pin_faults;
use crate::{Outcome, Prepared, Reason, Report, SupplyChoice};
use dipsift_generator::Shown;
use dipsift_language::{Class, Output, PinId};
use dipsift_link::{Link, LinkError, Transport};
use dipsift_wire::{Ended, Header, PinCount, Pins, Rail, Seen, Step, Summary};
use std::ops::Range;

const LOOK_AT_THE_NOTCH: &str = "short or turned round: look at the notch";
const SEAT_AGAIN: &str =
    "clean the pins, seat the chip again and repeat; say --seated once its seat is sure";

/// Judges the look before power. Returns whether the vectors should run.
pub(crate) fn before_power(
    prepared: &Prepared,
    finding: &Finding,
    seated: bool,
    report: &mut Report,
) -> bool {
    let sure = if seated { Outcome::NoGo } else { Outcome::NotDecided };
    let (outcome, reason) = match finding {
        Finding::Ready => return true,
        Finding::Empty => {
            report.sentences.push("no pin shows contact: the socket is empty".into());
            (Outcome::NotDecided, Reason::EmptySocket)
        }
        Finding::NotAtRest(millivolts) => {
            report.sentences.push(format!(
                "the supply position shows {millivolts} mV at rest: not powered; run selftest"
            ));
            (Outcome::Trouble, Reason::NotAtRest)
        }
        Finding::ShortOrTurned { millivolts } => {
            report.sentences.push(LOOK_AT_THE_NOTCH.into());
            report.sentences.push(format!(
                "the supply pin, pulled up by the light keeper, stays at {millivolts} mV; nothing was powered"
            ));
            (sure, Reason::ShortOrTurned)
        }
        Finding::Open(pins) => {
            report.open = pins.iter().collect();
            report
                .sentences
                .push(format!("reseat: pin {} shows no contact; nothing was powered", list(*pins)));
            if !seated {
                report.sentences.push(SEAT_AGAIN.into());
            }
            (sure, Reason::OpenContact)
        }
        Finding::Misplaced(words) => {
            report.sentences.push(words.clone());
            report.sentences.push(format!(
                "nothing was powered; seat the {} with {}",
                prepared.name,
                prepared.placement.words()
            ));
            (Outcome::NotDecided, Reason::Misplaced)
        }
    };
    report.outcome = outcome;
    report.reason = reason;
    false
}

/// Notes what the powered program measured.
pub(crate) fn measured(prepared: &Prepared, summary: &Summary, report: &mut Report) {
    report.supply_mv = prepared.supply.millivolts();
    report.current_ua = summary.current_max_ua;
    report.steps = summary.steps;
    report.failures = summary.failures;
}

/// Judges whether the supply has held; where it has not, the verdict stands.
pub(crate) fn powered(
    prepared: &Prepared,
    summary: &Summary,
    seated: bool,
    report: &mut Report,
) -> bool {
    let milliamps = prepared.supply.limit_ua / 1_000;
    match summary.ended {
        Ended::TrippedAtPowerUp => {
            report.outcome = if seated { Outcome::NoGo } else { Outcome::NotDecided };
            report.reason = Reason::ShortOrTurned;
            report.sentences.push(LOOK_AT_THE_NOTCH.into());
            report
                .sentences
                .push(format!("the supply tripped at {milliamps} mA before the first vector"));
            false
        }
        Ended::Tripped { step } => {
            report.outcome = Outcome::NoGo;
            report.reason = Reason::TrippedInVectors;
            report.sentences.push(format!("the supply tripped at {milliamps} mA in step {step}"));
            false
        }
        Ended::Complete | Ended::Failures => true,
    }
}

/// Judges the powered program, running it again with other conditions where that can explain a
/// failure.
pub(crate) fn after_vectors<T: Transport>(
    link: &mut Link<T>,
    prepared: &Prepared,
    summary: &Summary,
    seated: bool,
    report: &mut Report,
) -> Result<(), LinkError> {
    measured(prepared, summary, report);
    if !powered(prepared, summary, seated, report) {
        return Ok(());
    }
    if summary.failures == 0 {
        report.outcome = Outcome::Go;
        report.reason = Reason::Functional;
        report.not_tested = prepared.not_tested.clone();
        if prepared.supply.millivolts() < 5_000 {
            report.sentences.push("functional at 3.3 V".into());
        }
        return Ok(());
    }
    report.outcome = Outcome::NoGo;
    report.reason = Reason::Functions;
    report.pins = pin_faults(
        &prepared.part,
        &prepared.package,
        &prepared.vectors.steps,
        &summary.pins,
        &summary.first,
    );
    if let Some(sentence) = weak_low(link, prepared, &summary.pins)? {
        report.outcome = Outcome::NotDecided;
        report.reason = Reason::WeakLow;
        report.sentences.push(sentence);
        return Ok(());
    }
    // A driven input that does not follow, or a released one that does not rise, is not weak or
    // slow: something else holds it.
    let inputs = prepared.inputs();
    if report.pins.iter().all(|fault| !inputs.contains(fault.pin)) && works_relaxed(link, prepared)?
    {
        if SupplyChoice::below_specification(prepared.family) {
            report.outcome = Outcome::NotDecided;
            report.reason = Reason::WeakAtLowSupply;
            report.sentences.push(
                "works when given more time and no load: weak or slow at 3.3 V, which its maker \
                 does not specify"
                    .into(),
            );
        } else {
            report.sentences.push("works when given more time and no load: weak or slow".into());
        }
    }
    Ok(())
}

/// The guaranteed low input level of TTL in millivolts (TI SN7400 data sheet, SDLS025).
const TTL_LOW_MV: u32 = 800;

/// Inputs whose low level on this fixture may stay above what their family guarantees, with that
/// level: an input of k unit loads behind R ohms sits near 4.3 V · R / (R + 4000/k).
fn heavy_inputs(prepared: &Prepared) -> Vec<(u8, PinId, u32)> {
    if prepared.family.class() != Class::Ttl {
        return Vec::new();
    }
    (1..=prepared.package.pins.len() as u8)
        .filter_map(|number| Some((number, prepared.package.at(number)?)))
        .map(|(number, id)| {
            let (light, firm) = prepared.conditions.rails(Rail::High);
            let pin = prepared.part.pin(id);
            (number, id, prepared.conditions.driven_low_mv(pin, light, firm))
        })
        .filter(|(.., millivolts)| *millivolts > TTL_LOW_MV)
        .collect()
}

/// Whether the failures are exactly those of a chip that takes one weak low for a high. Says so
/// in words, or nothing.
///
/// The keepers load a low too, so an input may be too weak in one phase of the program and strong
/// enough in another: each phase must show the chip with that input always high, or a good chip.
fn weak_low<T: Transport>(
    link: &mut Link<T>,
    prepared: &Prepared,
    failed: &[PinCount],
) -> Result<Option<String>, LinkError> {
    // One that fails itself, released or driven, is held by something else.
    let heavy: Vec<_> = heavy_inputs(prepared)
        .into_iter()
        .filter(|(number, ..)| failed.iter().all(|count| count.pin != *number))
        .collect();
    if heavy.is_empty() {
        return Ok(None);
    }
    let steps = &prepared.vectors.steps;
    let header = prepared.header(true);
    let seen = levels_by_step(&header, steps, &link.run(&header, steps)?.seen);
    let shown = |forced: &[(u8, bool)]| {
        let (part, package) = (&prepared.part, &prepared.package);
        dipsift_generator::replay(part, package, &prepared.conditions, steps, forced)
    };
    let good = shown(&[]);
    for (number, id, millivolts) in heavy {
        let weak = shown(&[(number, true)]);
        let hidden = Pins::one(number);
        let phases = phases(steps);
        let as_good = |phase: &Range<u32>| agree(steps, &good, &seen, phase, hidden);
        let as_weak = |phase: &Range<u32>| agree(steps, &weak, &seen, phase, hidden);
        // A chip that is good throughout this time fails now and then: that explains nothing.
        let explained = phases.iter().all(|phase| as_good(phase) || as_weak(phase))
            && !phases.iter().all(as_good);
        if explained {
            let name = &prepared.part.pin(id).name;
            return Ok(Some(format!(
                "explained by a weak low: {name} (pin {number}) loads this tester so much that its \
                 low is about {millivolts} mV, above the guaranteed {TTL_LOW_MV} mV"
            )));
        }
    }
    Ok(None)
}

/// Programs that a chip passes which takes one heavy input for always high, for a station that
/// cannot look at what it has captured: for each such input one for each load of the keepers, weak
/// in the phases that load it as much or more, good in the others.
///
/// The host's own rule lets each phase be weak or good by itself; a low that is too weak under one
/// load and strong enough under a heavier one does not come from the keepers.
pub(crate) fn weak_programs(prepared: &Prepared) -> Vec<(Header, Vec<Step>)> {
    let steps = &prepared.vectors.steps;
    let shown = |forced: &[(u8, bool)]| {
        let (part, package) = (&prepared.part, &prepared.package);
        dipsift_generator::replay(part, package, &prepared.conditions, steps, forced)
    };
    let heavy = heavy_inputs(prepared);
    if heavy.is_empty() {
        return Vec::new();
    }
    let good = shown(&[]);
    let mut programs = Vec::new();
    for (number, id, _) in heavy {
        let weak = shown(&[(number, true)]);
        let phases: Vec<(Range<u32>, u32)> = phases(steps)
            .into_iter()
            .map(|phase| {
                let (light, firm) = match steps.get(phase.start as usize) {
                    Some(Step::Keep { light, firm }) => (*light, *firm),
                    _ => (Rail::Off, Rail::Off),
                };
                let pin = prepared.part.pin(id);
                (phase, prepared.conditions.driven_low_mv(pin, light, firm))
            })
            .collect();
        let mut loads: Vec<u32> = phases.iter().map(|(_, millivolts)| *millivolts).collect();
        loads.sort_unstable();
        loads.dedup();
        for least in loads {
            let is_weak = |step: u32| {
                phases.iter().any(|(phase, load)| phase.contains(&step) && *load >= least)
            };
            let levels = |step: u32| {
                let from = if is_weak(step) { &weak } else { &good };
                from.iter().find(|shown| shown.step == step).copied()
            };
            let steps =
                (0..).zip(steps).filter_map(|(index, step)| replaced(step, levels(index), number));
            programs.push((prepared.header(false), steps.collect()));
        }
    }
    programs
}

/// A step that looks, with the levels of a model that hides a pin; none where nothing is left to
/// look at. The hidden pin itself must still follow its driver.
fn replaced(step: &Step, shown: Option<Shown>, hidden: u8) -> Option<Step> {
    let own = Pins::one(hidden).0;
    let known = shown.map_or(0, |shown| shown.pins.0);
    let levels = shown.map_or(0, |shown| shown.high.0);
    match *step {
        Step::Expect { pins, high } => {
            let others = pins.0 & known & !own;
            let pins = Pins(others | pins.0 & own);
            let high = Pins(levels & others | high.0 & own);
            (!pins.is_empty()).then_some(Step::Expect { pins, high })
        }
        Step::ExpectReleased { pins, keeper } => {
            let pins = Pins(pins.0 & known & !own);
            (!pins.is_empty()).then_some(Step::ExpectReleased { pins, keeper })
        }
        _ => Some(*step),
    }
}

/// The stretches of steps between changes of the keepers.
fn phases(steps: &[Step]) -> Vec<Range<u32>> {
    let mut starts: Vec<u32> = vec![0];
    let changes = steps.iter().enumerate().filter(|(_, step)| matches!(step, Step::Keep { .. }));
    starts.extend(changes.map(|(index, _)| index as u32));
    let ends = starts.iter().skip(1).copied().chain([steps.len() as u32]);
    starts.iter().copied().zip(ends).map(|(start, end)| start..end).collect()
}

/// Whether the pins that a stretch of steps compares show what a model does, `hidden` ones aside.
fn agree(
    steps: &[Step],
    shown: &[Shown],
    seen: &[Vec<Pins>],
    stretch: &Range<u32>,
    hidden: Pins,
) -> bool {
    shown.iter().filter(|shown| stretch.contains(&shown.step)).all(|shown| {
        let compared = match steps.get(shown.step as usize) {
            Some(Step::Expect { pins, .. } | Step::ExpectReleased { pins, .. }) => pins.0,
            _ => 0,
        };
        let compared = compared & shown.pins.0 & !hidden.0;
        match seen.get(shown.step as usize).map(Vec::as_slice) {
            // With the keeper high, then with the keeper low.
            Some([high, low]) => !high.0 & compared == 0 && low.0 & compared == 0,
            Some([seen]) => (seen.0 ^ shown.high.0) & compared == 0,
            _ => false,
        }
    })
}

/// The captured levels of each step.
fn levels_by_step(header: &Header, steps: &[Step], seen: &[Seen]) -> Vec<Vec<Pins>> {
    let mut records = seen.iter();
    steps
        .iter()
        .map(|step| records.by_ref().take(header.records(step)).filter_map(level).collect())
        .collect()
}

/// How much longer a relaxed run waits.
const RELAXED: u32 = 20;

/// The program of a relaxed run: much more time and, where no output needs a pull-up, no load.
pub(crate) fn relaxed_program(prepared: &Prepared) -> (Header, Vec<Step>) {
    let mut header = prepared.header(false);
    header.settle_ns = header.settle_ns.saturating_mul(RELAXED);
    header.keeper_ns = header.keeper_ns.saturating_mul(RELAXED);
    let pulled_up = prepared.part.pins.iter().any(|pin| pin.output == Some(Output::OpenCollector));
    let steps = &prepared.vectors.steps;
    let steps = if pulled_up { steps.clone() } else { unloaded(steps, prepared.inputs()) };
    (header, steps)
}

/// Whether the chip passes with much more time and, where no output needs a pull-up, no load.
fn works_relaxed<T: Transport>(link: &mut Link<T>, prepared: &Prepared) -> Result<bool, LinkError> {
    let (header, steps) = relaxed_program(prepared);
    let run = link.run(&header, &steps)?;
    Ok(run.summary.ended == Ended::Complete && run.summary.failures == 0)
}

/// The same steps with the keepers off while something is compared. An input that nothing drives
/// needs its keeper, so what is compared meanwhile is left out.
fn unloaded(steps: &[Step], inputs: Pins) -> Vec<Step> {
    const OFF: Step = Step::Keep { light: Rail::Off, firm: Rail::Off };
    let mut driven = Pins::NONE;
    let mut keepers = OFF;
    let mut changed = Vec::new();
    for step in steps {
        match *step {
            Step::Drive { pins, .. } => driven.0 |= pins.0,
            Step::Release { pins } => driven.0 &= !pins.0,
            Step::Keep { .. } => keepers = *step,
            Step::Expect { .. } => {
                if inputs.0 & !driven.0 == 0 {
                    changed.extend([OFF, *step, keepers]);
                }
                continue;
            }
            _ => {}
        }
        changed.push(*step);
    }
    changed
}
