//! What stands behind the number of a memory: package letters, the mark of its speed, and the name
//! for the check.

use crate::memory::Cut;
use crate::reading::Reading;
use crate::{speed, suffix};
use dipsift_language::{Library, Part};

/// What stands in front of an Intel number is a package, not a maker (cpu-museum.com, Intel part
/// numbers), but some of the letters are makers' as well (from memory).
const FRONT_LETTERS: [(&str, &str); 4] = [
    ("C", "C in front: ceramic, side-brazed"),
    ("D", "D in front: ceramic dual in-line; or short for UPD, where C behind is plastic"),
    ("P", "P in front: plastic dual in-line"),
    ("M", "M in front: the military range, or a maker's letter"),
];

/// Packages as a digit before the number, `HM1-6514-9` (from memory).
const FRONT_DIGITS: [(&str, &str); 4] = [
    ("1", "ceramic dual in-line"),
    ("3", "plastic dual in-line"),
    ("4", "leadless carrier"),
    ("9", "flat pack"),
];

/// Reads package letters and speed behind the number of a memory.
pub(crate) fn finish(reading: &mut Reading, part: &Part, rest: &str, cut: &Cut<'_>) {
    let letters = reading.prefix.clone().unwrap_or_default();
    // The speed stands behind the package without a dash with some: MCM6665AP20.
    let figures = rest.find(|c: char| c.is_ascii_digit());
    let (rest, mark) = match (cut.mark, figures) {
        (None, Some(at)) => (&rest[..at], Some(&rest[at..])),
        (mark, _) => (rest, mark),
    };
    let mark = mark.unwrap_or_default();
    let end = mark.find(|c: char| !c.is_ascii_digit()).unwrap_or(mark.len());
    let (mark, behind) = mark.split_at(end);
    let (grade, rest) = grade_letter(&letters, cut.body, rest);
    if let Some(grade) = grade {
        reading.remarks.push(format!("{grade} behind the number: a grade, not recorded here"));
    }
    enter_suffix(reading, rest, behind);
    if !cut.package.is_empty() {
        let known = FRONT_DIGITS.iter().find(|(digit, _)| *digit == cut.package);
        let words = known.map_or("not read", |(_, words)| *words);
        reading.remarks.push(format!("{} before the number: {words}", cut.package));
    }
    if let Some((_, words)) = FRONT_LETTERS.iter().find(|(letter, _)| *letter == letters) {
        reading.remarks.push((*words).to_owned());
    }
    // What is marked D in front and C behind is short for UPD.
    let plastic = reading.package.as_ref().is_some_and(|package| package.letters == "C");
    let maker = if letters == "D" && plastic { "UPD" } else { &letters };
    reading.speeds = match &part.memory {
        Some(_) if grade.is_some() && mark.is_empty() => Vec::new(),
        Some(memory) => speed::of_memory(memory, maker, mark),
        None if mark.is_empty() => Vec::new(),
        None => speed::of_unknown(&letters, mark),
    };
}

/// The letter for a grade that stands right behind some numbers of AMD, 9114B (from memory), and
/// what is left.
fn grade_letter<'a>(letters: &str, body: &str, rest: &'a str) -> (Option<&'a str>, &'a str) {
    let graded = letters == "AM" && (body.starts_with("90") || body.starts_with("91"));
    let ends = suffix::read(rest.get(1..).unwrap_or(""), 'm', letters);
    if graded && rest.starts_with(['B', 'C', 'D', 'E', 'F']) && !ends.is_empty() {
        let (grade, rest) = rest.split_at(1);
        return (Some(grade), rest);
    }
    (None, rest)
}

/// Reads the letters behind the number and those behind the mark, where some put the package:
/// `27C256B-12F1`.
fn enter_suffix(reading: &mut Reading, rest: &str, behind: &str) {
    let prefix = reading.prefix.clone().unwrap_or_default();
    let known = |suffix: &str| !suffix::read(suffix, 'm', &prefix).is_empty();
    let both = format!("{rest}{behind}");
    if matches!(behind, "L" | "LL" | "SL") && !rest.is_empty() {
        suffix::enter(reading, rest, 'm');
        reading.remarks.push(format!("{behind} behind the mark: low power"));
    } else if behind.is_empty() || rest.is_empty() || known(&both) {
        suffix::enter(reading, &both, 'm');
    } else if !known(rest) && known(behind) {
        suffix::enter(reading, behind, 'm');
        reading.unread = Some(rest.to_owned());
    } else {
        suffix::enter(reading, rest, 'm');
        reading.remarks.push(format!("{behind} behind the mark is not read"));
    }
}

/// Names the part for the check, and tells supplies that the bench does not have.
pub(crate) fn name(reading: &mut Reading, body: &str, part: &Part, library: &Library) {
    let mark = reading.speeds.iter().find_map(|speed| speed.name()).map(str::to_owned);
    reading.name(body, mark.as_deref(), library);
    if reading.part_name().is_none() && reading.part_name_if_confirmed().is_none() {
        reading.name(&part.number, mark.as_deref(), library);
        reading.wants_confirmation();
    }
    let foreign: Vec<String> = part
        .foreign_supplies()
        .map(|(pin, millivolts)| format!("{pin} {millivolts:+} mV"))
        .collect();
    if !foreign.is_empty() {
        reading
            .remarks
            .push(format!("it needs {} and is never powered here", foreign.join(" and ")));
    }
}
