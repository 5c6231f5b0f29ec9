//! The list of a report's chips, part by part.

use crate::chart::{Yield, failure};
use crate::report::LotPaper;
use crate::words::{count, cut, made, minute, percent};
use dipsift_ledger::{FailingPin, Failure, Insertion, Stored, Type, TypeCounts, Verdict};
use maud::{Markup, html};

/// One part after the other: its counts, then its chips.
pub fn parts(paper: &LotPaper<'_>) -> Markup {
    html! {
        @for line in &paper.report.types {
            (part(paper, line))
        }
    }
}

fn part(paper: &LotPaper<'_>, line: &TypeCounts) -> Markup {
    let chip = &line.chip;
    let lists = paper.lists;
    let of = |list: &'_ [Stored<Insertion>]| -> Vec<Stored<Insertion>> {
        list.iter().filter(|stored| stored.entry.chip == *chip).cloned().collect()
    };
    let (bad, good) = (of(&lists.not_good), of(&lists.good));
    let left_out = line.counts.total() - (bad.len() + good.len()) as u64;
    let counts = &line.counts;
    html! {
        section class="part" {
            h3 {
                (chip.name)
                @if !chip.package.is_empty() { " " span.light { (chip.package) } }
                @if let Some(title) = lists.titles.get(&chip.part) { span.light { ", " (title) } }
            }
            p {
                (counts.go) " good, " (counts.no_go) " bad"
                @for (number, words) in [
                    (counts.not_decided, "not decided"),
                    (counts.refused, "not powered"),
                    (counts.trouble, "lost to tester trouble"),
                ] {
                    @if number > 0 { ", " (number) " " (words) }
                }
                @if let Some(share) = Yield::of(counts.go, counts.decided()) {
                    "; yield " (percent(share.share)) ", interval " (share.interval())
                }
                @if line.made.is_some() { "; made " (made(line.made)) }
                "."
            }
            @if bad.len() + good.len() > 0 {
                table {
                    thead { tr {
                        th.number { "no." } th { "at" } th { "marking" } th { "made" }
                        th { "verdict" } th { "what was seen" } th.number { "max. current" }
                    } }
                    tbody {
                        @for stored in bad.iter().chain(&good) { (row(paper, stored)) }
                    }
                }
            }
            @if left_out > 0 {
                p.light { (count(left_out, "further chip is", "further chips are")) " in the ledger and not listed here." }
            }
        }
    }
}

fn row(paper: &LotPaper<'_>, stored: &Stored<Insertion>) -> Markup {
    let chip = &stored.entry;
    html! {
        tr {
            td.number { (stored.sequence) }
            td.nowrap { (minute(chip.at, paper.zone)) }
            td class=[(chip.marking.len() <= 16).then_some("nowrap")] { (chip.marking) }
            td.nowrap { @if let Some(week) = chip.date_code { (week) } }
            td.nowrap {
                @if chip.verdict == Verdict::Go { (verdict(chip.verdict)) } @else { strong { (verdict(chip.verdict)) } }
            }
            td { (seen(chip)) }
            td.number { @if let Some(current) = largest(chip) { (current) } }
        }
    }
}

/// A verdict in the words that a person says.
pub const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Go => "good",
        Verdict::NoGo => "BAD",
        Verdict::NotDecided => "not decided",
        Verdict::Refused => "not powered",
        Verdict::Trouble => "trouble",
    }
}

/// Failing pins, speed and notes in a line.
fn seen(chip: &Insertion) -> String {
    let mut words: Vec<String> = Vec::new();
    if let Some(grade) = &chip.speed_grade {
        words.push(grade.clone());
    }
    words.extend(chip.failing_pins.iter().map(|pin| {
        format!("{} (pin {}) {}", pin.name, pin.pin, failure(how(pin))).trim_start().to_owned()
    }));
    if words.is_empty() && chip.verdict != Verdict::Go {
        words.push(match &chip.explanation {
            Some(explanation) => cut(explanation, 120),
            None => chip.reason.replace('-', " "),
        });
    }
    if let Some(note) = &chip.note {
        words.push(format!("note: {note}"));
    }
    if chip.retest_of.is_some() {
        words.push("tested again".into());
    }
    words.join("; ")
}

/// How a pin failed; the same division as in the counts of a report.
pub const fn how(pin: &FailingPin) -> Failure {
    match (pin.low > 0, pin.high > 0, pin.held > 0) {
        (true, true, _) => Failure::Wrong,
        (true, false, _) => Failure::StaysLow,
        (false, true, _) => Failure::StaysHigh,
        (false, false, true) => Failure::StillDrives,
        (false, false, false) => Failure::Open,
    }
}

fn largest(chip: &Insertion) -> Option<String> {
    let largest = chip.currents.iter().map(|current| current.microamperes).max()?;
    Some(if largest.unsigned_abs() < 1_000 {
        format!("{largest} \u{b5}A")
    } else {
        format!("{:.1} mA", f64::from(largest) / 1e3)
    })
}

/// The name of a part for a picture's caption.
pub fn caption(stored: &Stored<Insertion>) -> String {
    let Type { name, .. } = &stored.entry.chip;
    format!("no. {}, {name}", stored.sequence)
}
