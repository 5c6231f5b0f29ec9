//! Memories and other chips with numbers of their own: makers' markings, and the library's numbers
//! behind letters.

use crate::ending::{finish, name};
use crate::others::{other, sibling};
use crate::prefix;
use crate::reading::{Reading, Trust};
use dipsift_language::{Alias, Choice, Library, Part};

/// Letters in front of a number, at most.
const MOST_LETTERS: usize = 4;

/// A word, cut where the number may end.
pub(crate) struct Cut<'a> {
    pub letters: &'a str,
    pub body: &'a str,
    /// The digit before the first dash of a form such as `HM1-6514-9`; else empty.
    pub package: &'a str,
    /// What stands after the dash.
    pub mark: Option<&'a str>,
}

/// Reads a word as a marking of a memory or of any other part with its own number.
pub(crate) fn read(word: &str, library: &Library) -> Vec<Reading> {
    let Some(cut) = cut(word) else { return Vec::new() };
    let whole = format!("{}{}", cut.letters, cut.body);
    if let Some(alias) = longest(&whole, library) {
        return of_alias(word, alias, &whole, &cut, library);
    }
    let shared = (3..=cut.body.len().min(6)).rev().find_map(|end| {
        let number = cut.body.get(..end)?;
        let choices = library.shared(number);
        (!choices.is_empty() && ends_at(cut.body, end)).then_some((number, choices))
    });
    if let Some((number, choices)) = shared {
        let rest = &cut.body[number.len()..];
        let mut choices: Vec<&Choice> = choices.iter().collect();
        // The 4000 series is met far more often (common practice), but not behind the letters of
        // memories.
        let memory = !cut.letters.is_empty()
            && prefix::marks(cut.letters, 'm')
            && !prefix::marks(cut.letters, 'c');
        choices.sort_by_key(|choice| choice.name.ends_with("RAM") != memory);
        return choices.iter().map(|choice| of_choice(word, &cut, choice, rest, library)).collect();
    }
    // A part whose number has letters in front of its digits comes first: TMS2716.
    let direct = library.iter().filter_map(|part| {
        let named = part.number.as_str();
        let (letters, text) = if whole.starts_with(named) {
            ("", whole.as_str())
        } else if cut.body.starts_with(named) {
            (cut.letters, cut.body)
        } else {
            return None;
        };
        ends_at(text, named.len()).then_some((part, letters, &text[named.len()..]))
    });
    let best = direct.max_by_key(|(part, letters, _)| (part.number.len(), letters.is_empty()));
    if let Some((part, letters, rest)) = best
        && !part.number.starts_with("74")
    {
        return vec![of_number(word, part, letters, rest, &cut, library)];
    }
    if let Some((part, length)) = tail_of_markings(cut.body, library) {
        let rest = &cut.body[length..];
        let mut reading = of_number(word, part, cut.letters, rest, &cut, library);
        reading.trust = Trust::FromMemory;
        reading.wants_confirmation();
        return vec![reading];
    }
    sibling(word, &whole, &cut, library)
        .or_else(|| other(word, &cut, library))
        .into_iter()
        .collect()
}

/// Letters, number and mark of a word; `None` where there is no number. The form `HM1-6514-9` has
/// its package before the dash.
fn cut(word: &str) -> Option<Cut<'_>> {
    let letters_end = letters_of(word);
    if letters_end > MOST_LETTERS || letters_end == word.len() {
        return None;
    }
    let (letters, rest) = word.split_at(letters_end);
    // The digit of a package, or nothing, before the dash.
    let after = rest.trim_start_matches(|c: char| c.is_ascii_digit());
    if !letters.is_empty()
        && rest.len() - after.len() <= 1
        && let Some(tail) = after.strip_prefix('-')
        && tail.starts_with(|c: char| c.is_ascii_digit())
    {
        let (body, mark) = match tail.split_once('-') {
            Some((body, mark)) => (body, Some(mark)),
            None => (tail, None),
        };
        let package = &rest[..rest.len() - after.len()];
        return Some(Cut { letters, body, package, mark });
    }
    let (body, mark) = match rest.split_once('-') {
        Some((body, mark)) => (body, Some(mark)),
        None => (rest, None),
    };
    Some(Cut { letters, body, package: "", mark }).filter(|cut| cut.body.len() >= 3)
}

/// The length of the letters in front of a number, M5K and the like among them.
fn letters_of(word: &str) -> usize {
    match word.as_bytes() {
        [b'M', b'5', b'G' | b'K' | b'L' | b'M' | b'T', b'0'..=b'9', ..] => 3,
        _ => word.find(|c: char| !c.is_ascii_uppercase() && c != '?').unwrap_or(word.len()),
    }
}

/// Whether a number can end here: no figure follows, nor a worn character that may be one.
pub(crate) fn ends_at(text: &str, end: usize) -> bool {
    text.is_char_boundary(end) && !text[end..].starts_with(|c: char| c.is_ascii_digit() || c == '?')
}

/// The longest marking of the list that a word begins with.
fn longest<'a>(whole: &str, library: &'a Library) -> Option<&'a Alias> {
    let fits =
        |alias: &&Alias| whole.starts_with(&alias.marking) && ends_at(whole, alias.marking.len());
    library.aliases().iter().filter(fits).max_by_key(|alias| alias.marking.len())
}

/// The part of a number that makers mark with their letters in front, 27C256 of NMC27C256, where all
/// who do mean the same part, and the number's length. It has a letter within: other numbers of
/// that kind would be date codes.
fn tail_of_markings<'a>(body: &str, library: &'a Library) -> Option<(&'a Part, usize)> {
    let tails = library.aliases().iter().filter_map(|alias| {
        let tail = digits_of(&alias.marking);
        let fits = tail.len() >= 5
            && tail.bytes().any(|c| c.is_ascii_alphabetic())
            && body.starts_with(tail)
            && ends_at(body, tail.len());
        fits.then_some((alias.part.as_str(), tail.len()))
    });
    let tails: Vec<(&str, usize)> = tails.collect();
    let (part, length) = *tails.iter().max_by_key(|(_, length)| *length)?;
    let agree = tails.iter().all(|(other, other_length)| *other_length < length || *other == part);
    agree.then(|| library.part(part)).flatten().map(|part| (&**part, length))
}

fn of_alias(
    word: &str,
    alias: &Alias,
    whole: &str,
    cut: &Cut<'_>,
    library: &Library,
) -> Vec<Reading> {
    let rest = &whole[alias.marking.len()..];
    let Some(part) = library.part(&alias.part) else { return Vec::new() };
    // 2114 and 2114A are two parts; the list has the one where only the A may tell.
    let revised = rest
        .starts_with('A')
        .then(|| library.part(&format!("{}A", alias.part)))
        .flatten()
        .filter(|_| alias.marking.ends_with(&alias.part));
    let (part, rest) = match revised {
        Some(part) => (part, &rest[1..]),
        None => (part, rest),
    };
    let mut reading = begin(word, cut.letters, part, library);
    reading.trust = match alias.sources.len() {
        _ if revised.is_some() => Trust::Unlisted,
        0 => Trust::FromMemory,
        1 => Trust::OneSource,
        _ => Trust::TwoSources,
    };
    if revised.is_none() {
        reading.sources.clone_from(&alias.sources);
    }
    if alias.part.trim_end_matches("RAM") != digits_of(&alias.marking) {
        // Another number than the part's own: with other letters it would be another chip.
        reading.depends_on = Some(cut.letters.to_owned());
    }
    finish(&mut reading, part, rest, cut);
    let body = if revised.is_some() { &part.number } else { &alias.marking };
    name(&mut reading, body, part, library);
    let mut readings = vec![reading];
    // NEC's D may be a package in front of the number itself: D4016 is no TI part.
    let choices = library.shared(cut.body.trim_end_matches(|c: char| c.is_ascii_alphabetic()));
    for choice in choices.iter().filter(|choice| choice.name != alias.part) {
        if prefix::marks(cut.letters, 'c') && choice.name.ends_with('B') {
            readings[0].could_be.push(format!(
                "{} could be the {}, a {}: the 4000 series carries {} as well",
                cut.body, choice.name, choice.what, cut.letters
            ));
        }
    }
    readings
}

fn digits_of(marking: &str) -> &str {
    &marking[letters_of(marking)..]
}

fn of_choice(word: &str, cut: &Cut<'_>, choice: &Choice, rest: &str, library: &Library) -> Reading {
    let number = if choice.name.ends_with("RAM") { &choice.name[..] } else { cut.number(rest) };
    let part = library.part(number);
    let mut reading = match part {
        Some(part) => begin(word, cut.letters, part, library),
        None => {
            let mut reading = Reading::of(word);
            reading.prefix = (!cut.letters.is_empty()).then(|| cut.letters.to_owned());
            reading.number = Some(number.to_owned());
            reading
        }
    };
    reading.trust = if cut.letters.is_empty() { Trust::Number } else { Trust::Unlisted };
    if !choice.name.ends_with("RAM") {
        reading.family = Some("4000B".to_owned());
    }
    if let Some(part) = part.filter(|part| part.memory.is_some()) {
        finish(&mut reading, part, rest, cut);
    } else if let Some(mark) = cut.mark {
        reading.unread = Some(format!("{rest}-{mark}"));
    } else if !rest.is_empty() {
        reading.unread = Some(rest.to_owned());
    }
    reading.could_be.push(format!(
        "{} is the number of several chips: say {} for the {} in {} pins",
        cut.number(rest),
        choice.name,
        choice.what,
        choice.pins
    ));
    if let Some(part) = part {
        name(&mut reading, &choice.name, part, library);
        reading.wants_confirmation();
    }
    reading
}

impl Cut<'_> {
    fn number(&self, rest: &str) -> &str {
        &self.body[..self.body.len() - rest.len()]
    }
}

fn of_number(
    word: &str,
    part: &Part,
    letters: &str,
    rest: &str,
    cut: &Cut<'_>,
    library: &Library,
) -> Reading {
    // The letters of TMS2716 are a part of its number.
    let own = part.number.find(|c: char| !c.is_ascii_uppercase()).unwrap_or(0);
    let shown = if letters.is_empty() { &part.number[..own] } else { letters };
    let mut reading = begin(word, shown, part, library);
    reading.trust = if letters.is_empty() { Trust::Number } else { Trust::Unlisted };
    if own > 0 {
        reading.depends_on = Some(shown.to_owned());
    }
    finish(&mut reading, part, rest, cut);
    name(&mut reading, &part.number, part, library);
    if letters.contains('?') {
        let fitting = prefix::fitting(letters, 'm');
        let such = if fitting.is_empty() {
            String::new()
        } else {
            format!(", such as {}", fitting.join(" "))
        };
        reading.assumed.push(format!("{letters} is a maker's prefix{such}"));
    } else if !letters.is_empty() && !prefix::marks(letters, 'm') {
        reading.could_be.push(format!(
            "{letters} is not known in front of memories: it could be another kind of chip"
        ));
    }
    reading
}

fn begin(word: &str, letters: &str, part: &Part, library: &Library) -> Reading {
    let mut reading = Reading::of(word);
    reading.prefix = (!letters.is_empty()).then(|| letters.to_owned());
    reading.number = Some(part.number.clone());
    reading.title = library.part(&part.number).map(|part| part.title.clone());
    reading
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(word: &str) -> Reading {
        let mut found = read(word, &Library::builtin());
        assert_eq!(found.len(), 1, "{word}: {found:?}");
        found.remove(0)
    }

    #[test]
    fn listed_markings() {
        let read = one("HM4864-3");
        assert_eq!((read.number.as_deref(), read.trust), (Some("4164"), Trust::TwoSources));
        assert_eq!((read.part_name(), read.speeds[0].access_ns), (Some("HM4864-3"), Some(200)));
        let read = one("HM6264LP-15");
        assert_eq!((read.part_name(), read.part_name_if_confirmed()), (None, Some("6264-15")));
        assert_eq!(read.package.unwrap().letters, "P");
    }

    #[test]
    fn numbers_of_several_chips() {
        let found = read("4027", &Library::builtin());
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|reading| reading.part_name().is_none()));
        assert!(found[1].could_be[0].contains("say 4027RAM"));
    }

    #[test]
    fn numbers_with_other_letters() {
        assert_eq!(one("TMS2716JL").number.as_deref(), Some("TMS2716"));
        assert_eq!(one("ZZ2114-2").trust, Trust::Unlisted);
        assert_eq!(one("ZZ2114-2").part_name(), None);
        assert_eq!(one("HM1-6514-9").speeds[0].access_ns, None);
        assert_eq!(one("8205").title, None);
    }
}
