//! The result of one check, on screen.

mod memory;

use crate::drawing::{self, Mark};
use crate::exit::Status;
use crate::output::{BAD, GOOD, LOOK, Output};
use dipsift_bench::{Outcome, Report};
use dipsift_language::{Package, Part};
use std::io::{self, Write};

/// The exit status of an outcome.
pub const fn status(outcome: Outcome) -> Status {
    match outcome {
        Outcome::Go => Status::Go,
        Outcome::NoGo => Status::NoGo,
        Outcome::NotDecided => Status::NotDecided,
        Outcome::Refused => Status::Refused,
        Outcome::Trouble => Status::Trouble,
    }
}

/// The colour of an outcome, beside its word.
pub const fn style(outcome: Outcome) -> anstyle::Style {
    match outcome {
        Outcome::Go => GOOD,
        Outcome::NoGo => BAD,
        _ => LOOK,
    }
}

/// Says in plain words what kind of tester answered.
pub fn nature(word: &str) -> &'static str {
    match word {
        "simulated" => "SIMULATED tester and chip: this says nothing about a real chip",
        "emulated" => "EMULATED tester, simulated chip: this says nothing about a real chip",
        _ => "real tester",
    }
}

/// The inner width of the verdict's frame.
const INNER: usize = 70;

/// Prints the verdict in its frame.
fn frame(out: &mut Output, report: &Report) -> io::Result<()> {
    let style = style(report.outcome);
    let word = report.outcome.words().to_uppercase();
    let rule = "=".repeat(INNER + 4);
    let second =
        if report.tester == "real" { "functional screening only" } else { nature(&report.tester) };
    writeln!(out, "{rule}")?;
    let text = format!("{word}   {}", report.name);
    writeln!(out, "  {style}{text}{style:#}")?;
    writeln!(out, "  {second}")?;
    writeln!(out, "{rule}")
}

/// Prints a whole report: the verdict, why, the failing pins and the drawing.
pub fn print(out: &mut Output, report: &Report, chip: Option<(&Part, &Package)>) -> io::Result<()> {
    frame(out, report)?;
    for sentence in &report.sentences {
        out.paragraph("", 0, sentence)?;
    }
    if !report.pins.is_empty() {
        writeln!(out)?;
        out.heading("failing pins")?;
        out.items(report.pins.iter().map(|fault| fault.sentence.as_str()))?;
    }
    if let Some((part, package)) = chip
        && !(report.pins.is_empty() && report.open.is_empty())
    {
        let marks: Vec<(u8, Mark)> = report
            .pins
            .iter()
            .map(|fault| (fault.pin, Mark::Bad))
            .chain(report.open.iter().map(|pin| (*pin, Mark::Open)))
            .collect();
        writeln!(out)?;
        drawing::draw(out, part, package, &marks)?;
    }
    if let Some(found) = &report.memory {
        memory::print(out, report, found)?;
    }
    if report.supply_mv > 0 {
        writeln!(out)?;
        out.labelled("measured", &measured(report))?;
    }
    if report.outcome == Outcome::Go && !report.not_tested.is_empty() {
        writeln!(out)?;
        out.heading("a go does not say")?;
        out.items(report.not_tested.iter().map(String::as_str))?;
    }
    Ok(())
}

/// What was measured, in a sentence.
fn measured(report: &Report) -> String {
    let what = if report.memory.is_some() { "reads and writes" } else { "vector steps" };
    format!(
        "at most {} at {}; {} {what}, {} failed comparisons",
        milliamperes(report.current_ua),
        volts(report.supply_mv),
        report.steps,
        report.failures,
    )
}

/// Microamperes, written in milliamperes.
pub fn milliamperes(microamperes: u32) -> String {
    format!("{}.{} mA", microamperes / 1_000, microamperes % 1_000 / 100)
}

/// Millivolts, written in volts.
pub fn volts(millivolts: u32) -> String {
    format!("{}.{} V", millivolts / 1_000, millivolts % 1_000 / 100)
}
