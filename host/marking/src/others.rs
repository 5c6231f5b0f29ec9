//! Chips beside the library: makers' own numbers of TTL functions, and numbers that the program
//! only knows of.

use crate::memory::{Cut, ends_at};
use crate::reading::{Reading, Trust};
use crate::table::rows;
use crate::{speed, suffix};
use dipsift_language::Library;

/// A maker's own number of a TTL function.
pub(crate) fn sibling(
    word: &str,
    whole: &str,
    cut: &Cut<'_>,
    library: &Library,
) -> Option<Reading> {
    let [marking, number, family, source] =
        rows(include_str!("../tables/siblings.txt")).find(|[marking, ..]: &[&str; 4]| {
            whole.starts_with(marking) && ends_at(whole, marking.len())
        })?;
    let mut reading = Reading::of(word);
    reading.prefix = Some(cut.letters.to_owned());
    reading.number = Some(number.to_owned());
    reading.title = library.part(number).map(|part| part.title.clone());
    reading.family = Some(family.to_owned());
    reading.trust = Trust::OneSource;
    reading.sources.push(source.to_owned());
    reading.depends_on = Some(cut.letters.to_owned());
    suffix::enter(&mut reading, &whole[marking.len()..], 't');
    let letters = if family == "74" { "" } else { family };
    reading.name(&format!("74{letters}{}", &number[2..]), None, library);
    Some(reading)
}

/// What a number that the library does not describe is, where the program knows of it.
pub(crate) fn other_chip(number: &str) -> Option<&'static str> {
    rows(include_str!("../tables/others.txt"))
        .find(|[known, ..]: &[&str; 3]| *known == number)
        .map(|[_, what, _]| what)
}

/// A chip that the library does not describe.
pub(crate) fn other(word: &str, cut: &Cut<'_>, library: &Library) -> Option<Reading> {
    let digits = cut.body.find(|c: char| !c.is_ascii_digit()).unwrap_or(cut.body.len());
    let number = &cut.body[..digits];
    let what = other_chip(number)?;
    let mut reading = Reading::of(word);
    reading.prefix = (!cut.letters.is_empty()).then(|| cut.letters.to_owned());
    reading.number = Some(number.to_owned());
    reading.trust = Trust::Unknown;
    reading.remarks.push(format!("{number} is the number of a {what} (not described here)"));
    if library.part(number).is_some() {
        return None;
    }
    let rest = &cut.body[digits..];
    suffix::enter(&mut reading, rest, 'm');
    if let Some(mark) = cut.mark {
        reading.speeds = speed::of_unknown(cut.letters, mark);
    }
    Some(reading)
}
