//! From words to readings.

use crate::date::{self, DateCode, DateForm, Week};
use crate::reading::{Decoded, Military, Reading, Trust};
use crate::{logic, memory, military, others, prefix, series, text, worn};
use dipsift_language::Library;
use std::time::{SystemTime, UNIX_EPOCH};

/// Characters that are read, at most; what follows is left out, with a note.
pub const MOST_CHARACTERS: usize = 240;

/// Readings that are given, at most.
pub const MOST_READINGS: usize = 12;

/// Reads what is legible on a package: one line or several, parted by spaces or `/`, worn
/// characters as `?`.
///
/// Nothing is an error: what is not understood gives no readings, and notes. The system's clock
/// only tells which date codes lie in the future; [`read_as_of`] takes the day instead.
pub fn read(text: &str, library: &Library) -> Decoded {
    read_as_of(text, library, this_week())
}

/// [`read`], as of a week: date codes after it are none.
pub fn read_as_of(text: &str, library: &Library, today: Week) -> Decoded {
    let mut notes = Vec::new();
    let legible: String = text.chars().take(MOST_CHARACTERS).collect();
    let (words, cut) = text::words(&legible);
    if cut || legible.len() < text.len() {
        notes.push("too much to be a marking: a part of it was left out".to_owned());
    }
    let words = join(&words, library);
    let mut sorted = Sorted::default();
    for word in words {
        sorted.enter(word, library, today, &mut notes);
    }
    let mut readings = sorted.readings(&mut notes);
    for reading in &mut readings {
        reading.military.extend(sorted.processing.iter().cloned());
        tell_prefix(reading);
    }
    let mut seen: Vec<Reading> = Vec::new();
    for reading in readings {
        let same = |other: &Reading| {
            other.number == reading.number
                && other.family == reading.family
                && other.prefix == reading.prefix
                && other.temperature == reading.temperature
                && other.date_codes == reading.date_codes
                && (other.number.is_some() || other.marking == reading.marking)
        };
        if !seen.iter().any(same) {
            seen.push(reading);
        }
    }
    if seen.len() > MOST_READINGS {
        notes.push(format!("{} more readings are left out", seen.len() - MOST_READINGS));
        seen.truncate(MOST_READINGS);
    }
    if seen.iter().any(|reading| reading.marking.contains('?') || !reading.assumed.is_empty())
        && seen.len() > 1
    {
        notes.push(
            "completed from the library only; ranked by the fewest assumptions, then by how many \
             families and makers' markings the library lists for the part"
                .to_owned(),
        );
    }
    Decoded { readings: seen, notes }
}

/// This week by the system's clock, its years taken as 365.25 days: a day more or less at a new
/// year is no matter for a date code.
fn this_week() -> Week {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |time| time.as_secs());
    let hours = seconds / 3600;
    // A year of 365.25 days has 8766 hours.
    let (years, rest) = (hours / 8766, hours % 8766);
    Week { year: (1970 + years) as u16, week: (rest / 168 + 1).min(53) as u8 }
}

/// All readings of one word as a device.
pub(crate) fn device(word: &str, library: &Library) -> Vec<Reading> {
    if let Some(reading) = military::read(word, library) {
        return vec![reading];
    }
    let found = logic::read(word, library);
    if !found.is_empty() {
        return found;
    }
    if let Some(reading) = series::read(word, library) {
        return vec![reading];
    }
    let found = memory::read(word, library);
    if !found.is_empty() {
        return found;
    }
    logic::read_short(word, library).into_iter().collect()
}

/// Words that one marking is parted into, at most: `SN 74 LS 138 N`.
const MOST_PIECES: usize = 5;

/// How many words from the first on are one marking only together: `HD 74LS 00 P`; 1 where the
/// first stands alone.
fn pieces(words: &[String], library: &Library) -> usize {
    let sure = |word: &str| {
        device(word, library).iter().any(|reading| {
            reading.title.is_some() && reading.unread.is_none() && reading.assumed.is_empty()
        })
    };
    let most = words.len().min(MOST_PIECES);
    let alone = words[..most].iter().position(|word| sure(word)).unwrap_or(most);
    (2..=alone).rev().find(|&count| sure(&words[..count].concat())).unwrap_or(1)
}

/// Joins words that one marking was parted into: `MM 74C00 N`, `CD 4011 BE`.
fn join(words: &[String], library: &Library) -> Vec<String> {
    let letters = |word: &str, most: usize| {
        word.len() <= most && word.bytes().all(|c| c.is_ascii_uppercase() || c == b'?')
    };
    let known = |word: &str| device(word, library).iter().any(|reading| reading.number.is_some());
    let mut joined: Vec<String> = Vec::new();
    let mut left = words;
    while !left.is_empty() {
        let (these, rest) = left.split_at(pieces(left, library));
        left = rest;
        let word = &these.concat();
        if let Some(last) = joined.last_mut() {
            let both = format!("{last}{word}");
            let starts = word.starts_with(|c: char| c.is_ascii_digit());
            let bare = last.ends_with(|c: char| c.is_ascii_digit());
            let front = letters(last, 4) && starts && known(&both);
            let behind = letters(word, 4)
                && bare
                && known(last)
                && device(&both, library)
                    .iter()
                    .any(|it| it.unread.is_none() && it.number.is_some());
            if front || behind {
                *last = both;
                continue;
            }
        }
        joined.push(word.clone());
    }
    joined
}

/// What a word can be.
struct Word {
    text: String,
    devices: Vec<Reading>,
    dates: Vec<DateCode>,
}

/// The words of a marking, by what they can be.
#[derive(Default)]
struct Sorted {
    /// Those that are a device or a date.
    words: Vec<Word>,
    processing: Vec<Military>,
    unread: Vec<String>,
}

impl Sorted {
    fn enter(&mut self, word: String, library: &Library, today: Week, notes: &mut Vec<String>) {
        if let Some(told) = military::processing(&word) {
            self.processing.push(told);
            return;
        }
        if word.starts_with(['\u{a9}', '\'']) || word.starts_with("(C)") {
            notes.push(format!("{word}: the year of the masks, no date code"));
            return;
        }
        let mut devices = device(&word, library);
        let mut dates = date::read(&word, today);
        // A rarer form of date is no rival to a number that is known, nor is one whose letter for
        // the lot is that of a package.
        let packed = devices.iter().any(|reading| reading.package.is_some());
        let rival = dates
            .first()
            .is_some_and(|date| date.form == DateForm::YearWeek && (date.lot.is_none() || !packed));
        if !devices.is_empty() && !rival {
            dates.clear();
        }
        if devices.is_empty() && word.contains('?') {
            devices = worn::read(&word, library);
            if word.matches('?').count() > worn::MOST_WORN {
                notes.push(format!("{word}: too worn to be read"));
            }
        }
        let figures = word.bytes().filter(u8::is_ascii_digit).count();
        let lettered = word.bytes().any(|c| c.is_ascii_uppercase());
        if devices.is_empty() && dates.is_empty() {
            devices = worn::read_beginning(&word, library);
        }
        if devices.is_empty() && dates.is_empty() {
            // A letter in front of a date code, or one repeated (QQ8412), is the place of assembly
            // or the masks with many makers (from memory).
            let rest = word.trim_start_matches(|c| word.starts_with(c));
            let front = word.len() - rest.len();
            let maker = front > 1 && prefix::find(&word[..front]).is_some();
            let alike = front <= 4 && figures == 4 && rest.len() == 4 && !maker;
            let behind = if alike { date::read(rest, today) } else { Vec::new() };
            if lettered && !behind.is_empty() {
                let letters = &word[..front];
                notes.push(format!("{word}: {letters} in front of the date is not read"));
                self.words.push(Word { text: word, devices, dates: behind });
                return;
            }
            if lettered && figures >= 3 && word.is_ascii() {
                let mut reading = Reading::of(&word);
                let end = word.find(|c: char| !c.is_ascii_uppercase()).unwrap_or(0);
                reading.prefix = (end > 0).then(|| word[..end].to_owned());
                reading.remarks.push("this marking is not known here".to_owned());
                devices.push(reading);
            } else {
                self.unread.push(word);
                return;
            }
        }
        self.words.push(Word { text: word, devices, dates });
    }

    /// Takes out the slash sheets and drawings that stand beside a marking of the same chip: they
    /// are its processing, no second part.
    fn take_drawings(&mut self, words: &mut Vec<Word>) {
        let drawn = |word: &Word| word.devices.iter().any(|reading| !reading.military.is_empty());
        let numbers: Vec<Option<String>> = words
            .iter()
            .filter(|word| !drawn(word))
            .flat_map(|word| word.devices.iter().map(|reading| reading.number.clone()))
            .filter(Option::is_some)
            .collect();
        words.retain(|word| {
            let beside = |reading: &Reading| match reading.number {
                None => !numbers.is_empty(),
                Some(_) => numbers.contains(&reading.number),
            };
            let taken = drawn(word) && word.devices.iter().all(beside);
            if taken {
                let military = word.devices.iter().flat_map(|reading| &reading.military);
                self.processing.extend(military.cloned());
            }
            !taken
        });
    }

    /// The readings of all words together.
    fn readings(&mut self, notes: &mut Vec<String>) -> Vec<Reading> {
        let mut words = std::mem::take(&mut self.words);
        self.take_drawings(&mut words);
        let known = |word: &Word| word.devices.iter().any(|reading| reading.number.is_some());
        let strong = |word: &Word| !word.devices.is_empty() && word.dates.is_empty();
        // A marking that is not known counts where there is nothing better.
        if words.iter().any(|word| strong(word) && known(word)) {
            words.retain(|word| {
                let keep = !strong(word) || known(word);
                if !keep {
                    self.unread.push(word.text.clone());
                }
                keep
            });
        }
        let firm = words.iter().any(strong);
        // Three figures are a date only beside a marking that is none.
        words.retain(|word| {
            let keep = firm || word.text.len() != 3 || !word.devices.is_empty();
            if !keep {
                self.unread.push(word.text.clone());
            }
            keep
        });
        if !self.unread.is_empty() {
            notes.push(format!("not read: {}", self.unread.join(" ")));
        }
        let pure = words.iter().any(|word| word.devices.is_empty());
        let devices: Vec<usize> = (0..words.len())
            .filter(|&at| !words[at].devices.is_empty() && (!firm || strong(&words[at])))
            .collect();
        if devices.len() > 1 {
            let texts: Vec<&str> = devices.iter().map(|at| words[*at].text.as_str()).collect();
            notes.push(format!("more than one part number: {}", texts.join(", ")));
        }
        let mut readings = Vec::new();
        for &at in &devices {
            for device in &words[at].devices {
                let mut reading = device.clone();
                for (other, word) in words.iter().enumerate().filter(|(other, _)| *other != at) {
                    if word.dates.is_empty() || strong(word) {
                        continue;
                    }
                    reading.date_codes.extend(word.dates.iter().cloned());
                    if let Some(also) = word.devices.first()
                        && (firm || devices.contains(&other))
                    {
                        reading.could_be.push(number_too(&word.text, also));
                    }
                }
                if !firm && !pure && !words[at].dates.is_empty() {
                    let date = words[at].dates[0].words();
                    reading.could_be.push(format!("{} could be a date: {date}", words[at].text));
                }
                readings.push(reading);
            }
        }
        // Beside a word that can be a date and a number, or without any device: the date alone.
        if devices.is_empty() || (!firm && !pure && devices.len() == 1) {
            readings.extend(words.iter().filter(|word| !word.dates.is_empty()).map(|word| {
                let mut reading = Reading::of(&word.text);
                reading.date_codes.clone_from(&word.dates);
                reading.remarks.push("a date code, read without a part number".to_owned());
                if let Some(also) = word.devices.first() {
                    reading.could_be.push(number_too(&word.text, also));
                }
                reading
            }));
        }
        readings.sort_by_key(|reading| {
            (
                reading.number.is_none(),
                reading.assumed.len(),
                // A number of the 4000 series is no less likely for want of a description.
                reading.title.is_none() && reading.family.as_deref() != Some("4000B"),
                reading.trust == Trust::Unlisted,
            )
        });
        readings
    }
}

/// That a date code is a part's number too.
fn number_too(text: &str, reading: &Reading) -> String {
    let number = reading.number.as_deref().unwrap_or(text);
    let what = reading.title.clone().or_else(|| others::other_chip(number).map(str::to_owned));
    match what {
        Some(what) => format!("{text} could be the number of a part: {number}, {what}"),
        None => format!("{text} could be the number of a part"),
    }
}

fn tell_prefix(reading: &mut Reading) {
    if let Some(letters) = &reading.prefix
        && prefix::find(letters).is_some_and(|prefix| prefix.shared)
    {
        reading.remarks.push(format!("more than one maker marks {letters}"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_gives_a_week_of_our_time() {
        let week = this_week();
        assert!(week.year >= 2026 && (1..=53).contains(&week.week));
    }
}
