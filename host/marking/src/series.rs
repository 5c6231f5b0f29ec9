//! The 4000 series: 4011B and its makers' forms.

use crate::reading::{Reading, Trust};
use crate::{prefix, suffix};
use dipsift_language::{Family, Library};

/// Letters in front of a number, at most.
const MOST_LETTERS: usize = 4;

/// Digits that makers put in front of the number, by the letters before them (from memory).
const EXTRA_DIGITS: [(&str, &str); 6] =
    [("MC", "1"), ("HD", "1"), ("MB", "8"), ("F", "3"), ("MCY", "7"), ("", "1")];

/// Reads a word as a marking of the 4000 series.
pub(crate) fn read(word: &str, library: &Library) -> Option<Reading> {
    let is_letter = |c: char| c.is_ascii_uppercase() || c == '?';
    let start = word.find(|c| !is_letter(c)).filter(|start| *start <= MOST_LETTERS)?;
    let (letters, body) = word.split_at(start);
    let digits_end = body.find(|c: char| !c.is_ascii_digit()).unwrap_or(body.len());
    let (digits, tail) = body.split_at(digits_end);
    // A worn character that may be a figure leaves the number open.
    if tail.starts_with('?') {
        return None;
    }
    let (number, extra) = number(letters, digits, tail, library)?;
    let (tail, mark) = match tail.split_once('-') {
        Some((tail, mark)) => (tail, Some(mark)),
        None => (tail, None),
    };
    let (kind, tail) = kind(tail);
    let part = library.part(number).filter(|part| is_series(&part.made));
    let known = prefix::marks(letters, 'c');
    // A number that memories share is one of the series only with its letters or its prefixes.
    let shared = !library.shared(number).is_empty();
    if shared && kind.is_none() && (letters.is_empty() || !only_series(letters)) {
        return None;
    }
    if part.is_none() && !shared && (letters.is_empty() || !known) {
        return None;
    }
    let mut reading = Reading::of(word);
    reading.prefix = (!letters.is_empty()).then(|| letters.to_owned());
    reading.number = Some(number.to_owned());
    reading.title = part.map(|part| part.title.clone());
    let name = format!("{number}B");
    if let Some(choice) = library.shared(number).iter().find(|choice| choice.name == name) {
        reading.remarks.push(format!("{name} is a {}; memories share its number", choice.what));
    }
    reading.trust = if known { Trust::Number } else { Trust::Unlisted };
    if extra {
        let shown = &digits[..1];
        reading.remarks.push(format!("the {shown} in front of {number} is this prefix's"));
    }
    if letters.is_empty() && extra {
        reading.assumed.push("the 1 in front is that of a maker's prefix".to_owned());
    }
    enter_kind(&mut reading, kind, part.map(|part| &part.made[..]), number);
    suffix::enter(&mut reading, tail, 'c');
    if let Some(mark) = mark {
        reading.unread = Some(format!("{}-{mark}", reading.unread.unwrap_or_default()));
    }
    if !known && !letters.contains('?') {
        reading.could_be.push(format!(
            "{letters} is not known in front of the 4000 series: it could be another kind of chip"
        ));
    }
    if part.is_some() && kind != Some("A") {
        let body = format!("{number}{}", kind.unwrap_or(""));
        let body = if shared && kind.is_none() { format!("{number}B") } else { body };
        reading.name(&body, None, library);
    }
    if letters.contains('?') {
        reading.assumed.push(format!("{letters} is a maker's prefix"));
        reading.wants_confirmation();
    }
    Some(reading)
}

fn is_series(made: &[Family]) -> bool {
    made.contains(&Family::B) || made.contains(&Family::Ub)
}

/// Whether letters stand in front of the 4000 series and of no memories.
fn only_series(letters: &str) -> bool {
    prefix::find(letters)
        .is_some_and(|prefix| prefix.series.contains('c') && !prefix.series.contains('m'))
        || letters == "MC"
}

/// The number in the series, and whether a maker's digit stood in front of it.
fn number<'a>(
    letters: &str,
    digits: &'a str,
    tail: &str,
    library: &Library,
) -> Option<(&'a str, bool)> {
    let in_series = |digits: &str| {
        matches!(digits.len(), 4 | 5)
            && (digits.starts_with("40") || digits.starts_with("45") && digits.len() == 4)
    };
    let extra = EXTRA_DIGITS.iter().find_map(|(known, digit)| {
        let rest = digits.strip_prefix(digit).filter(|_| *known == letters)?;
        let listed = || library.part(rest).is_some_and(|part| is_series(&part.made));
        (in_series(rest) || listed()).then_some(rest)
    });
    if let Some(rest) = extra {
        // 14011 alone is known by its B, or not at all.
        return (!letters.is_empty() || tail.starts_with('B')).then_some((rest, true));
    }
    let listed = library.part(digits).is_some_and(|part| is_series(&part.made));
    let shared = digits.len() == 4 && !library.shared(digits).is_empty();
    // MC4000 and 93-series numbers are others: with MC the 1 in front belongs to the series.
    if letters == "MC" {
        return None;
    }
    (in_series(digits) || listed || shared).then_some((digits, false))
}

/// The letters of the kind, and what is left: `B`, `UB`, `A`.
fn kind(tail: &str) -> (Option<&'static str>, &str) {
    if let Some(rest) = tail.strip_prefix("UB") {
        return (Some("UB"), rest);
    }
    if let Some(rest) = tail.strip_prefix('B') {
        return (Some("B"), rest);
    }
    match tail.strip_prefix('A') {
        // AL is a package of its own.
        Some(rest) if !rest.starts_with('L') => (Some("A"), rest),
        _ => (None, tail),
    }
}

fn enter_kind(
    reading: &mut Reading,
    kind: Option<&'static str>,
    made: Option<&[Family]>,
    number: &str,
) {
    reading.family = kind.map(|kind| format!("4000{kind}"));
    match (kind, made) {
        (Some("A"), Some(_)) => reading.remarks.push(format!(
            "the A kind, for supplies up to 12 V, is not described; {number}B has the same pins \
             (from memory)"
        )),
        (Some(kind), Some(made)) => {
            let family = if kind == "B" { Family::B } else { Family::Ub };
            if !made.contains(&family) {
                reading.remarks.push(format!("not described as {number}{kind}"));
            }
        }
        (None, Some(_)) => {
            reading.remarks.push(format!(
                "no B is marked: read as {number}B, of which an unmarked one is an older kind"
            ));
        }
        (_, None) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(word: &str) -> Option<(String, Option<String>, Option<String>)> {
        let reading = read(word, &Library::builtin())?;
        let package = reading.package.map(|package| package.letters);
        Some((reading.number?, reading.family, package))
    }

    fn expected(
        number: &str,
        family: &str,
        package: &str,
    ) -> Option<(String, Option<String>, Option<String>)> {
        let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        Some((number.to_owned(), some(family), some(package)))
    }

    #[test]
    fn makers_forms() {
        assert_eq!(fields("CD4011BE"), expected("4011", "4000B", "E"));
        assert_eq!(fields("MC14011BCP"), expected("4011", "4000B", "CP"));
        assert_eq!(fields("CD4049UBE"), expected("4049", "4000UB", "E"));
        assert_eq!(fields("HEF4013BP"), expected("4013", "4000B", "P"));
        assert_eq!(fields("CD4001AE"), expected("4001", "4000A", "E"));
        assert_eq!(fields("4011"), expected("4011", "", ""));
        assert_eq!(fields("CD4027BE"), expected("4027", "4000B", "E"));
        assert_eq!(fields("CD4066BE"), expected("4066", "4000B", "E"));
    }

    #[test]
    fn what_is_not_of_the_series() {
        for word in ["4027", "MC4011", "HM4864", "4164", "MK4027", "4066", "14011", ""] {
            assert_eq!(fields(word), None, "{word}");
        }
    }
}
