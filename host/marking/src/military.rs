//! Slash sheets, standard military drawings and processing.

use crate::reading::{Military, Reading, Temperature, Trust};
use crate::table::rows;
use dipsift_language::{Class, Family, Library};

/// Case outlines. C, D and 2 are those of TI's package addenda of the SN54LS00; the others are from
/// memory.
const CASES: [(char, &str); 12] = [
    ('2', "20-terminal leadless carrier"),
    ('C', "14-pin dual in-line"),
    ('D', "14-pin flat pack"),
    ('E', "16-pin dual in-line"),
    ('F', "16-pin flat pack"),
    ('J', "24-pin dual in-line, 600 mil"),
    ('L', "24-pin dual in-line, 300 mil"),
    ('P', "8-pin dual in-line"),
    ('Q', "40-pin dual in-line"),
    ('R', "20-pin dual in-line"),
    ('S', "20-pin flat pack"),
    ('V', "18-pin dual in-line"),
];

/// Lead finishes: A as in TI's package addenda, the others from memory.
const FINISHES: [(char, &str); 4] =
    [('A', "solder dip"), ('B', "tin plate"), ('C', "gold plate"), ('X', "any finish")];

fn of(table: &[(char, &'static str)], letter: char) -> Option<&'static str> {
    table.iter().find(|(known, _)| *known == letter).map(|(_, words)| *words)
}

/// Class, case outline and finish in words: `BCA`.
pub(crate) fn class_case_finish(letters: &str) -> Option<String> {
    let mut chars = letters.chars();
    let (class, case, finish) = (chars.next()?, chars.next()?, chars.next()?);
    if !matches!(class, 'B' | 'S' | 'Q' | 'V' | 'M') {
        return None;
    }
    let case_words = of(&CASES, case)?;
    let finish_words = of(&FINISHES, finish)?;
    let rest: String = chars.collect();
    matches!(rest.as_str(), "" | "JC").then(|| {
        format!("class {class}, case {case} ({case_words}), lead finish {finish} ({finish_words})")
    })
}

/// Whether letters behind a slash are class, case outline and finish.
pub(crate) fn is_class_case_finish(letters: &str) -> bool {
    class_case_finish(letters).is_some()
}

/// Processing marked as a word of its own: `/883B`, `883B`, `/BCA`, `MIL-STD-883`.
pub(crate) fn processing(word: &str) -> Option<Military> {
    let bare = word.trim_start_matches('/').trim_start_matches("MIL-STD-");
    let told = |words: String| Some(Military { mark: word.to_owned(), words });
    if let Some(class) = bare.strip_prefix("883") {
        return match class {
            "" => told("processed to MIL-STD-883".to_owned()),
            "B" | "C" | "S" => told(format!("processed to MIL-STD-883, mark {class}")),
            _ => None,
        };
    }
    if word == "/B" {
        return told("class B of MIL-STD-883 (from memory)".to_owned());
    }
    if word.starts_with('/') {
        return class_case_finish(bare).and_then(told);
    }
    None
}

/// A slash sheet or a standard military drawing.
pub(crate) fn read(word: &str, library: &Library) -> Option<Reading> {
    slash_sheet(word, library).or_else(|| drawing(word))
}

fn slash_sheet(word: &str, library: &Library) -> Option<Reading> {
    let body = word.strip_prefix('J').unwrap_or(word);
    let body = body.strip_prefix('M').unwrap_or(body).strip_prefix("38510")?;
    let body = body.trim_start_matches(['/', '-']);
    let device = body.get(..5).filter(|device| device.bytes().all(|c| c.is_ascii_digit()))?;
    let mut reading = Reading::of(word);
    let mut words = format!("slash sheet {} of MIL-M-38510, device {}", &device[..3], &device[3..]);
    match (&body[5..], class_case_finish(&body[5..])) {
        (_, Some(told)) => words += &format!(", {told}"),
        ("", _) => {}
        (rest, None) => reading.unread = Some(rest.to_owned()),
    }
    reading.military.push(Military { mark: word.to_owned(), words });
    let known = rows(include_str!("../tables/slash-sheets.txt"))
        .find(|[number, ..]: &[&str; 4]| *number == device);
    let Some([_, part, marked, source]) = known else {
        reading.remarks.push(
            "which part the device of the sheet is, is not recorded here; its number is not that \
             of the 54 type"
                .to_owned(),
        );
        return Some(reading);
    };
    reading.number = Some(part.to_owned());
    reading.title = library.part(part).map(|part| part.title.clone());
    reading.trust = Trust::OneSource;
    reading.sources.push(source.to_owned());
    if let Some(rest) = marked.strip_prefix("54") {
        let family: String = rest.chars().take_while(char::is_ascii_alphabetic).collect();
        reading.family = Some(if family.is_empty() { "74".to_owned() } else { family });
        reading.temperature = temperature("54");
    }
    reading.remarks.push(format!("the sheet's device is the {marked}"));
    reading.name(marked, None, library);
    no_name_in_a_flat_pack(&mut reading);
    Some(reading)
}

/// Takes the name for the check from a flat pack of standard, H or L TTL: it can have its supply on
/// other pins than the dual in-line package (TI SDLS025B, pin drawings of the SN5400W; the
/// SN54LS00W and SN54S00W have those of the DIP).
pub(crate) fn no_name_in_a_flat_pack(reading: &mut Reading) {
    let packed = reading.package.iter().flat_map(|package| &package.meanings);
    let cased = reading.military.iter().map(|military| &military.words);
    let flat = packed.chain(cased).any(|words| words.contains("flat pack"));
    if flat && matches!(reading.family.as_deref(), Some("74" | "H" | "L")) {
        reading.part_name = None;
        reading.if_confirmed = None;
        reading.remarks.push(
            "the flat pack of this family can have its supply on other pins than the dual in-line \
             package: it is not named for a check"
                .to_owned(),
        );
    }
}

/// Case outline and finish of an older drawing, which marks no class: `EA`.
fn case_finish(letters: &str) -> Option<String> {
    let mut chars = letters.chars();
    let (case, finish) = (chars.next()?, chars.next()?);
    let (case_words, finish_words) = (of(&CASES, case)?, of(&FINISHES, finish)?);
    chars
        .next()
        .is_none()
        .then(|| format!("case {case} ({case_words}), lead finish {finish} ({finish_words})"))
}

/// `5962-YYnnnNNQCA`: a drawing's number, which is no date code. Before 1986 or so the 5962 was not
/// marked: `8404001CA` (from memory), which is read only with case and finish behind it.
fn drawing(word: &str) -> Option<Reading> {
    let body = match word.strip_prefix("5962") {
        Some(body) => body.strip_prefix('-').unwrap_or(body),
        None => word.get(7..).and_then(case_finish).map(|_| word)?,
    };
    let body = body.strip_prefix(['R', 'F', 'H', 'G', 'M', 'P', 'L', 'D']).unwrap_or(body);
    let number = body.get(..7).filter(|number| number.bytes().all(|c| c.is_ascii_digit()))?;
    let mut reading = Reading::of(word);
    let mut words = format!("standard military drawing {}, device {}", &number[..5], &number[5..]);
    match (&body[7..], class_case_finish(&body[7..]).or_else(|| case_finish(&body[7..]))) {
        (_, Some(told)) => words += &format!(", {told}"),
        ("", _) => {}
        (rest, None) => reading.unread = Some(rest.to_owned()),
    }
    reading.military.push(Military { mark: word.to_owned(), words });
    reading.remarks.push(
        "the drawing tells the part; its first two digits are the year of the drawing, no date code"
            .to_owned(),
    );
    Some(reading)
}

/// What the digits in front of the family say about the temperature (from memory for 64 and 84).
pub(crate) fn temperature(prefix: &str) -> Option<Temperature> {
    in_family(prefix, None)
}

/// The same, of a family: 74 is a wider range in CMOS than in TTL.
pub(crate) fn in_family(prefix: &str, family: Option<Family>) -> Option<Temperature> {
    let words = match prefix {
        "74" if family.is_some_and(|family| family.class() == Class::Ttl) => {
            "commercial range, 0 to 70 °C"
        }
        "74" if family.is_some() => "-40 to 85 °C",
        "54" => "military range, -55 to 125 °C",
        "64" => "-40 to 85 °C with those who mark it",
        "74" => "commercial range, 0 to 70 °C; CMOS -40 to 85 °C",
        "84" => "-25 to 85 °C with those who mark it",
        _ => return None,
    };
    Some(Temperature { prefix: prefix.to_owned(), words: words.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// TI's package addendum of the SN54LS00 lists JM38510/00104BCA as 5400 in a 14-pin CDIP.
    #[test]
    fn a_slash_sheet() {
        let library = Library::builtin();
        let read = read("JM38510/00104BCA", &library).unwrap();
        assert_eq!((read.number.as_deref(), read.family.as_deref()), (Some("7400"), Some("74")));
        assert_eq!(
            read.military[0].words,
            "slash sheet 001 of MIL-M-38510, device 04, class B, case C (14-pin dual in-line), \
             lead finish A (solder dip)"
        );
        assert_eq!((read.part_name(), read.part_name_if_confirmed()), (None, Some("5400")));
    }

    #[test]
    fn others() {
        let library = Library::builtin();
        assert_eq!(read("M38510/99999BCA", &library).unwrap().number, None);
        assert!(read("M38510/0010", &library).is_none() && read("M38510", &library).is_none());
        assert!(read("5962-8403701EA", &library).unwrap().unread.is_none());
        assert!(read("5962-8403701ZZ", &library).unwrap().unread.is_some());
        assert!(read("5962", &library).is_none());
        let old = read("8404001CA", &library).unwrap();
        assert!(old.military[0].words.starts_with("standard military drawing 84040, device 01"));
        assert!(read("8404001", &library).is_none() && read("8404001ZZ", &library).is_none());
        assert!(processing("/B").is_some() && processing("/D").is_none());
        let flat = read("JM38510/00104BDA", &library).unwrap();
        assert_eq!(flat.part_name_if_confirmed(), None);
        assert!(processing("/883B").is_some() && processing("/BCA").is_some());
        assert!(processing("BCA").is_none() && processing("/BZA").is_none());
    }
}
