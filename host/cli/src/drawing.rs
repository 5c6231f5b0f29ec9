//! A package as a drawing in plain text: the notch on top, pin 1 at the upper left, every pin with
//! its number, name and kind, and a word beside each pin that is bad.

use crate::output::{BAD, LOOK};
use dipsift_language::{Output, Package, Part, Pin, Role};
use std::io::{self, Write};

/// What is wrong with a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// It failed.
    Bad,
    /// It has no contact.
    Open,
}

/// The room for a mark, a kind and a name beside the body.
const MARK: usize = 7;
const KIND: usize = 11;
const NAME: usize = 7;
/// The width of the body.
const BODY: usize = 11;

/// The kind of a pin that leads nowhere.
pub const UNCONNECTED: &str = "unconnected";

/// The kind of a pin, in a word or two.
pub fn kind(pin: &Pin) -> &'static str {
    match (pin.role, pin.output) {
        (Role::Input, _) if pin.schmitt => "Schmitt in",
        (Role::Input, _) => "input",
        (Role::Output, Some(Output::OpenCollector)) => "open coll.",
        (Role::Output, Some(Output::ThreeState)) => "three-state",
        (Role::Output, _) => "output",
        (Role::Bidirectional, _) => "both ways",
        (Role::Supply, _) => "supply",
        (Role::Ground, _) => "ground",
        (Role::Fed, _) => "to be fed",
        (Role::Open, _) => "leave open",
        (Role::Foreign { .. }, _) => "other volts",
    }
}

/// Draws a dual in-line package as seen from above.
pub fn draw(
    out: &mut impl Write,
    part: &Part,
    package: &Package,
    marks: &[(u8, Mark)],
) -> io::Result<()> {
    let count = package.pins.len() as u8;
    // A drawing without marks needs no room for them.
    let room = if marks.is_empty() { 0 } else { MARK };
    let margin = " ".repeat(room + 1 + KIND + 1 + NAME + 6);
    let shoulder = "-".repeat((BODY - 5) / 2);
    writeln!(out, "{margin}+{shoulder}.   .{shoulder}+")?;
    for row in 1..=count / 2 {
        let (left, right) =
            (Side::of(part, package, row), Side::of(part, package, count + 1 - row));
        // The notch is as deep as the first row.
        let middle = if row == 1 { "`-'" } else { "" };
        mark(out, marks, row, room)?;
        write!(out, " {:>KIND$} {:>NAME$} {row:>3} -|", left.kind, left.name)?;
        write!(out, "{middle:^BODY$}", BODY = BODY)?;
        write!(out, "|- {:<3} {:<NAME$}", count + 1 - row, right.name)?;
        if marked(marks, count + 1 - row).is_some() {
            write!(out, " {:<KIND$} ", right.kind)?;
            mark(out, marks, count + 1 - row, 0)?;
        } else {
            write!(out, " {}", right.kind)?;
        }
        writeln!(out)?;
    }
    writeln!(out, "{margin}+{}+", "-".repeat(BODY))
}

struct Side<'a> {
    name: &'a str,
    kind: &'static str,
}

impl<'a> Side<'a> {
    fn of(part: &'a Part, package: &Package, number: u8) -> Self {
        match package.at(number) {
            Some(id) => Self { name: &part.pin(id).name, kind: kind(part.pin(id)) },
            None => Self { name: "-", kind: UNCONNECTED },
        }
    }
}

fn marked(marks: &[(u8, Mark)], number: u8) -> Option<Mark> {
    marks.iter().find(|(pin, _)| *pin == number).map(|(_, mark)| *mark)
}

/// Writes the mark of a pin: to the right within `room` on the left side, else to the left.
fn mark(out: &mut impl Write, marks: &[(u8, Mark)], number: u8, room: usize) -> io::Result<()> {
    let (style, word) = match marked(marks, number) {
        None => return write!(out, "{:room$}", ""),
        Some(Mark::Bad) => (BAD, "BAD"),
        Some(Mark::Open) => (LOOK, "OPEN"),
    };
    let text = if room > 0 { format!("{word} =>") } else { format!("<= {word}") };
    write!(out, "{style}{text:>room$}{style:#}")
}
