//! Worn and partial markings, completed from the shelf.

use crate::decode::device;
use crate::prefix;
use crate::reading::{Reading, Trust};
use crate::shelf::{Entry, begins, entries};
use dipsift_language::Library;

/// Characters in front of a number, at most.
const MOST_FRONT: usize = 4;

/// Candidates that are read in full, at most.
const MOST_TRIED: usize = 48;

/// Worn characters of a word, at most.
pub(crate) const MOST_WORN: usize = 6;

/// A way to lay a marking of the shelf over a word.
struct Fit<'a> {
    entry: &'a Entry,
    front: usize,
    filled: usize,
    /// Characters behind the number that are not legible.
    behind: usize,
}

/// The candidates for a word with worn characters, the likeliest first: those with the fewest
/// characters to fill in, then those with the fewest unread ones, then as the shelf has them.
pub(crate) fn read(word: &str, library: &Library) -> Vec<Reading> {
    if !word.is_ascii() || word.matches('?').count() > MOST_WORN {
        return Vec::new();
    }
    let shelf = entries(library);
    let mut fits: Vec<Fit<'_>> = Vec::new();
    for front in 0..=MOST_FRONT.min(word.len()) {
        let letters = &word[..front];
        if !letters.bytes().all(|c| c.is_ascii_uppercase() || c == b'?') {
            break;
        }
        let known = prefix::find(letters);
        let own = |entry: &&Entry| {
            front == 0
                || entry.series != '-'
                    && known.as_ref().is_none_or(|known| known.series.contains(entry.series))
        };
        fits.extend(shelf.iter().filter(own).filter_map(|entry| fit(entry, front, word)));
    }
    // The shelf is sorted, and the sort keeps its order.
    fits.sort_by_key(|fit| (fit.filled, fit.behind, fit.front));
    fits.truncate(MOST_TRIED);
    let mut found: Vec<Reading> =
        fits.iter().filter_map(|fit| filled(fit, word, library)).collect();
    // A prefix that is not listed with a number is one assumption more.
    if found.iter().any(|reading| reading.trust < Trust::Unlisted) {
        found.retain(|reading| reading.trust < Trust::Unlisted);
    }
    found
}

fn fit<'a>(entry: &'a Entry, front: usize, word: &str) -> Option<Fit<'a>> {
    let rest = &word[front..];
    let length = entry.marking.len();
    let over = rest.get(..length)?;
    let behind = &rest[length..];
    if !begins(&entry.marking, over) || behind.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let filled = over.matches('?').count();
    // At least as much must be legible as is filled in.
    (filled * 2 <= length).then(|| Fit {
        entry,
        front,
        filled,
        behind: behind.matches('?').count(),
    })
}

fn filled(fit: &Fit<'_>, word: &str, library: &Library) -> Option<Reading> {
    let letters = &word[..fit.front];
    let behind = &word[fit.front + fit.entry.marking.len()..];
    let (legible, lost) = behind.split_at(behind.find('?').unwrap_or(behind.len()));
    let whole = format!("{letters}{}{}", fit.entry.marking, legible.trim_end_matches('-'));
    let mut reading =
        device(&whole, library).into_iter().next().filter(|it| it.number.is_some())?;
    if fit.filled > 0 {
        let over = &word[fit.front..fit.front + fit.entry.marking.len()];
        reading.assumed.push(format!("{over} is {}", fit.entry.marking));
    }
    if !lost.is_empty() {
        reading.unread = Some(format!("{}{lost}", reading.unread.unwrap_or_default()));
    }
    if fit.filled > 0 || !lost.is_empty() {
        reading.wants_confirmation();
    }
    Some(reading)
}

/// The candidates for a word whose end is worn away: markings of the shelf that begin with it.
pub(crate) fn read_beginning(word: &str, library: &Library) -> Vec<Reading> {
    // Two characters, at least, are legible.
    if word.len() < 3 || word.bytes().filter(|c| *c != b'?').count() < 2 {
        return Vec::new();
    }
    let found = crate::shelf::complete(word, library, MOST_TRIED);
    let readings = found.iter().filter_map(|text| {
        let mut reading = device(text, library).into_iter().next()?;
        reading.assumed.push(format!("the end of {word} is worn away"));
        reading.wants_confirmation();
        Some(reading)
    });
    readings.collect()
}
