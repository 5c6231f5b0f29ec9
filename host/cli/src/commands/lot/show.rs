//! `lot show`.

use super::Named;
use crate::args::General;
use crate::commands::ledger::{said, zone};
use crate::exit::{Failure, Status};
use crate::library;
use crate::output::{LOOK, Output};
use dipsift_language::Library;
use dipsift_ledger::{Counts, Failure as PinFailure, LotReport, Nature, Selection};
use dipsift_plan::{SCOPE, Share, Tally, yield_interval};
use serde_json::json;
use std::collections::BTreeMap;
use std::io::{self, Write};

/// More failing pins than these are a matter for the report.
const MOST_PINS: usize = 10;
/// The longest bar.
const BAR: u64 = 20;

/// What each part of the library does, by its number.
pub fn titles(library: &Library) -> BTreeMap<String, String> {
    library.iter().map(|part| (part.number.clone(), part.title.clone())).collect()
}

pub fn run(args: &Named, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.ledger.open()?;
    let unknown = || Failure::usage(format!("no lot is named {:?}", args.name));
    let lot = ledger.lot(&args.name).map_err(|error| said(&error))?.ok_or_else(unknown)?;
    let report = ledger.report(&Selection::lot(&args.name)).map_err(|error| said(&error))?;
    let remarks = ledger.remarks(&args.name).map_err(|error| said(&error))?;
    if out.json {
        out.object(Status::Go, json!({ "lot": lot, "report": report, "remarks": remarks }))?;
        return Ok(Status::Go);
    }
    let zone = zone();
    let day = |at| zone.to_datetime(at).date();
    out.heading(&format!("lot {}", lot.entry.name))?;
    if let Some(description) = &lot.entry.description {
        out.paragraph("", 0, description)?;
    }
    let mut words = format!("begun {}", day(lot.entry.at));
    if let Some((first, last)) = report.first.zip(report.last) {
        words += &format!(", screened {}", day(first));
        if day(first) != day(last) {
            words += &format!(" to {}", day(last));
        }
    }
    words += &format!("; {} insertions", report.insertions);
    if report.undone > 0 {
        words += &format!(", {} undone", report.undone);
    }
    if report.replaced > 0 {
        words += &format!(", {} replaced by a later one of the same chip", report.replaced);
    }
    out.paragraph("", 0, &words)?;
    if report.testers.iter().any(|line| line.tester.nature != Nature::Real) {
        writeln!(out, "{LOOK}SIMULATED{LOOK:#}: some results say nothing about real chips")?;
    }
    writeln!(out)?;
    yields(out, &report, &titles(&library::load(general)?))?;
    pins(out, &report)?;
    speeds(out, &report)?;
    testers(out, &report)?;
    if !remarks.is_empty() {
        writeln!(out)?;
        out.heading("notes and pictures")?;
        for remark in &remarks {
            let text =
                format!("{}, {}: {}", day(remark.entry.at), remark.entry.kind, remark.entry.text);
            out.paragraph("  - ", 4, &text)?;
        }
    }
    writeln!(out)?;
    out.heading("what these numbers do not promise")?;
    out.items(SCOPE)?;
    Ok(Status::Go)
}

/// `23 of 25, 92.0 % (74.0 to 99.0)`
fn share(counts: &Counts) -> String {
    let tally = Tally::new(counts.go, counts.decided()).ok();
    let confidence = Share::percent(95.0).ok();
    match tally.zip(confidence) {
        Some((tally, confidence)) => {
            let interval = yield_interval(tally, confidence);
            format!(
                "{} of {} good: {:.1} % ({:.1} to {:.1})",
                counts.go,
                counts.decided(),
                100.0 * tally.share(),
                (1000.0 * interval.lower + 1e-9).floor() / 10.0,
                (1000.0 * interval.upper - 1e-9).ceil() / 10.0
            )
        }
        None => "none decided".into(),
    }
}

fn bar(part: u64, whole: u64) -> String {
    // A bar that is there is seen.
    let length = if part == 0 { 0 } else { (part * BAR).div_ceil(whole.max(1)) };
    "#".repeat(length as usize)
}

fn yields(
    out: &mut Output,
    report: &LotReport,
    titles: &BTreeMap<String, String>,
) -> io::Result<()> {
    out.heading("good chips of those decided on, with the exact 95 % interval")?;
    if report.types.is_empty() {
        writeln!(out, "  none screened yet")?;
    }
    for line in &report.types {
        let counts = &line.counts;
        let (decided, bar) = (counts.decided(), bar(counts.go, counts.decided()));
        let bar = format!("|{bar:.<width$}|", width = if decided == 0 { 0 } else { BAR as usize });
        let name = format!("{} {}", line.chip.name, line.chip.package);
        out.paragraph(&format!("  {:<16} {bar}", name.trim_end()), 4, &share(counts))?;
        let mut words: Vec<String> = titles.get(&line.chip.part).cloned().into_iter().collect();
        if let Some((first, last)) = line.made {
            words.push(if first == last {
                format!("made {first}")
            } else {
                format!("made {first} to {last}")
            });
        }
        for (number, what) in [
            (counts.not_decided, "not decided"),
            (counts.refused, "not powered"),
            (counts.trouble, "lost to tester trouble"),
        ] {
            if number > 0 {
                words.push(format!("{number} {what}"));
            }
        }
        if !words.is_empty() {
            out.paragraph("      ", 6, &words.join("; "))?;
        }
    }
    Ok(())
}

const fn words(failure: PinFailure) -> &'static str {
    match failure {
        PinFailure::StaysLow => "stays low",
        PinFailure::StaysHigh => "stays high",
        PinFailure::StillDrives => "still drives",
        PinFailure::Wrong => "wrong",
        PinFailure::Open => "open",
    }
}

fn pins(out: &mut Output, report: &LotReport) -> io::Result<()> {
    let Some(first) = report.pins.first() else { return Ok(()) };
    writeln!(out)?;
    out.heading("failing pins, the most frequent first")?;
    for pin in report.pins.iter().take(MOST_PINS) {
        let name = format!("{} pin {} {}", pin.chip.name, pin.pin, pin.pin_name);
        let bar = bar(pin.chips, first.chips);
        writeln!(out, "  {name:<24} {:<12} {:>6}  {bar}", words(pin.failure), pin.chips)?;
    }
    if report.pins.len() > MOST_PINS {
        writeln!(out, "  and {} rarer ones", report.pins.len() - MOST_PINS)?;
    }
    Ok(())
}

fn speeds(out: &mut Output, report: &LotReport) -> io::Result<()> {
    if report.speeds.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    out.heading("speed grades of the good chips")?;
    for group in report.speeds.chunk_by(|a, b| a.chip == b.chip) {
        let most = group.iter().map(|grade| grade.chips).max().unwrap_or(1);
        for grade in group {
            let bar = bar(grade.chips, most);
            writeln!(
                out,
                "  {:<16} {:<12} {:>6}  {bar}",
                grade.chip.name, grade.speed_grade, grade.chips
            )?;
        }
    }
    Ok(())
}

fn testers(out: &mut Output, report: &LotReport) -> io::Result<()> {
    if report.testers.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    out.heading("tested by")?;
    for line in &report.testers {
        let tester = &line.tester;
        let text = format!(
            "{} ({}, firmware {}): {} chips",
            tester.name, tester.nature, tester.firmware, line.chips
        );
        out.paragraph("  - ", 4, &text)?;
    }
    Ok(())
}
