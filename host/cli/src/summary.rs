//! A screened batch, on screen: a line for each chip with the running tally, and the end.

use crate::output::{LOOK, Output};
use crate::verdict;
use dipsift_bench::{Counts, Outcome, Reason, Report, Tally, destination};
use std::io::{self, Write};

/// Prints the heading of the chip lines.
pub fn heading(out: &mut Output) -> io::Result<()> {
    out.heading(&format!(
        "{:>4} {:<22} {:<14} {:<17} {:>4} {:>4} {:>5}",
        "chip", "marking", "verdict", "where it goes", "good", "bad", "other"
    ))
}

/// Prints a chip's line and, where it is not plainly good, why.
pub fn chip(
    out: &mut Output,
    number: u64,
    marking: &str,
    note: Option<&str>,
    report: &Report,
    counts: &Counts,
) -> io::Result<()> {
    let place = destination(report);
    let (place, what_next) = match place.split_once(": ") {
        Some((place, rest)) => (place.to_string(), Some(rest.to_string())),
        None => (place, None),
    };
    let style = verdict::style(report.outcome);
    writeln!(
        out,
        "{number:>4} {:<22} {style}{:<14}{style:#} {place:<17} {:>4} {:>4} {:>5}",
        cut(marking),
        report.outcome.words(),
        counts.go,
        counts.no_go,
        counts.total() - counts.go - counts.no_go,
    )?;
    if report.outcome != Outcome::Go {
        let why = report.pins.first().map(|fault| &fault.sentence).or(report.sentences.first());
        if let Some(why) = why {
            let more = match report.pins.len() {
                0 | 1 => String::new(),
                2 => " (and 1 more pin)".to_string(),
                pins => format!(" (and {} more pins)", pins - 1),
            };
            out.paragraph("       ", 7, &format!("{why}{more}"))?;
        }
        if let Some(what_next) = what_next
            && report.reason != Reason::EmptySocket
        {
            out.paragraph("       -> ", 10, &what_next)?;
        }
    }
    if let Some(note) = note {
        out.paragraph("       note: ", 13, note)?;
    }
    Ok(())
}

/// The widest marking of a line.
const MARKING: usize = 22;

/// A marking in its column.
fn cut(marking: &str) -> String {
    if marking.chars().count() <= MARKING {
        return marking.into();
    }
    marking.chars().take(MARKING - 1).chain(['…']).collect()
}

/// The widest bar.
const BAR: u32 = 24;

/// A bar for `count` of `most`, at least one character where there is anything.
fn bar(count: u32, most: u32) -> String {
    let length = if count == 0 { 0 } else { (count * BAR / most.max(1)).max(1) };
    "#".repeat(length as usize)
}

/// Prints the end of a batch.
pub fn end(out: &mut Output, tally: &Tally, nature: &str) -> io::Result<()> {
    let all = &tally.all;
    writeln!(out)?;
    out.heading(&match all.total() {
        1 => "1 chip".to_string(),
        count => format!("{count} chips"),
    })?;
    if nature != "real" {
        writeln!(out, "{LOOK}{}{LOOK:#}", verdict::nature(nature))?;
    }
    let rows = [
        (Outcome::Go, "good", all.go),
        (Outcome::NoGo, "bad", all.no_go),
        (Outcome::NotDecided, "not decided", all.not_decided),
        (Outcome::Refused, "refused", all.refused),
        (Outcome::Trouble, "tester trouble", all.trouble),
    ];
    let most = rows.iter().map(|row| row.2).max().unwrap_or(0);
    for (outcome, word, count) in rows {
        if count > 0
            || matches!(
                outcome,
                Outcome::Go | Outcome::NoGo | Outcome::NotDecided | Outcome::Refused
            )
        {
            let style = verdict::style(outcome);
            let line = format!("  {style}{word:<16}{style:#}{count:>5}  {}", bar(count, most));
            writeln!(out, "{}", line.trim_end())?;
        }
    }
    parts(out, tally)?;
    pins(out, tally)?;
    writeln!(out)?;
    out.heading("where they go")?;
    for (place, count) in &tally.places {
        out.paragraph(&format!("  {count:>5}  "), 9, place)?;
    }
    if nature == "real" {
        writeln!(out)?;
        out.paragraph("", 0, "good means functional at this socket's supply and at room temperature; it is screening, never requalification.")?;
    }
    Ok(())
}

/// Says where the results are.
pub fn recorded(out: &mut Output, lot: Option<&str>) -> io::Result<()> {
    writeln!(out)?;
    match lot {
        Some(lot) => out.paragraph(
            "",
            0,
            &format!("recorded in the lot {lot}: `dipsift lot show` prints it"),
        ),
        None => out.paragraph("", 0, "nothing was recorded: --lot NAME does that"),
    }
}

/// The counts of each part.
fn parts(out: &mut Output, tally: &Tally) -> io::Result<()> {
    writeln!(out)?;
    out.heading(&format!(
        "  {:<14}{:>6}{:>6}{:>13}{:>9}{:>9}",
        "part", "good", "bad", "not decided", "refused", "trouble"
    ))?;
    for (name, counts) in &tally.by_name {
        let [good, bad, undecided, refused, trouble] =
            [counts.go, counts.no_go, counts.not_decided, counts.refused, counts.trouble].map(some);
        writeln!(out, "  {name:<14}{good:>6}{bad:>6}{undecided:>13}{refused:>9}{trouble:>9}")?;
    }
    Ok(())
}

/// A count, with a dash for none.
fn some(count: u32) -> String {
    if count == 0 { "-".into() } else { count.to_string() }
}

/// More failing pins than this are counted, not listed.
const MOST_PINS: usize = 12;

/// Failing pins, the most frequent first.
fn pins(out: &mut Output, tally: &Tally) -> io::Result<()> {
    let Some(most) = tally.pins.first().map(|pin| pin.chips) else { return Ok(()) };
    writeln!(out)?;
    out.heading("failing pins, by number of chips")?;
    for pin in tally.pins.iter().take(MOST_PINS) {
        writeln!(
            out,
            "  {:<12} pin {:>2} {:<7} {:<13}{:>4}  {}",
            pin.name,
            pin.pin,
            pin.function,
            pin.how,
            pin.chips,
            bar(pin.chips, most)
        )?;
    }
    let rest = tally.pins.len().saturating_sub(MOST_PINS);
    if rest > 0 {
        out.paragraph("  ", 2, &format!("and {rest} more, none on more chips; --json lists all"))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::bar;

    #[test]
    fn a_bar_shows_even_the_rarest_and_never_overflows() {
        assert_eq!(bar(0, 9), "");
        assert_eq!(bar(1, 1_000), "#");
        assert_eq!(bar(9, 9).len(), 24);
    }
}
