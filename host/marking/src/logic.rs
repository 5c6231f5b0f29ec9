//! The 54/74 series: prefix, temperature, family, number, suffix.

use crate::military::{self, in_family, temperature};
use crate::reading::{Military, Reading, Trust};
use crate::{prefix, speed, suffix};
use dipsift_language::{Family, Library};

/// Letters in front of a number, at most.
const MOST_LETTERS: usize = 4;

/// Families that the library does not know, told as not described (from memory).
const OTHER_FAMILIES: [&str; 24] = [
    "HCU", "AHC", "AHCT", "AHCU", "VHC", "VHCT", "LV", "LVC", "LVT", "LVX", "LVTH", "ALVC", "FCT",
    "BCT", "ABT", "ACQ", "ACTQ", "HCTLS", "ALVCH", "AUC", "AUP", "CBT", "CBTLV", "SSTL",
];

/// Reads a word as a marking of the 54/74 series.
pub(crate) fn read(word: &str, library: &Library) -> Vec<Reading> {
    let starts = (0..=MOST_LETTERS.min(word.len())).filter(|&start| {
        word.is_char_boundary(start)
            && word[..start].bytes().all(|c| c.is_ascii_uppercase() || c == b'?')
    });
    starts.filter_map(|start| read_at(&word[..start], &word[start..], library)).collect()
}

/// Reads `LS138` and the like, whose 74 is worn away or left out.
pub(crate) fn read_short(word: &str, library: &Library) -> Option<Reading> {
    let letters = word.len() - word.trim_start_matches(|c: char| c.is_ascii_uppercase()).len();
    if letters == 0 || Family::from_word(&word[..letters]).is_none() {
        return None;
    }
    let mut reading = read_at("", &format!("74{word}"), library)?;
    reading.title.as_ref()?;
    reading.marking = word.to_owned();
    reading.temperature = None;
    reading.assumed.push("74 or 54 stood in front".to_owned());
    reading.wants_confirmation();
    Some(reading)
}

fn read_at(letters: &str, body: &str, library: &Library) -> Option<Reading> {
    let range = temperature(body.get(..2)?)?;
    let rest = &body[2..];
    let word_end = rest.find(|c: char| !c.is_ascii_uppercase()).unwrap_or(rest.len());
    let (word, rest) = rest.split_at(word_end);
    let digits_end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    let (digits, tail) = rest.split_at(digits_end);
    if !(2..=5).contains(&digits.len()) {
        return None;
    }
    // A worn character that may be a figure leaves the number open.
    if tail.starts_with('?') {
        return None;
    }
    // 64 and 84 are years, and begin the numbers of memories: SN64, SN84 or a family is wanted.
    if matches!(range.prefix.as_str(), "64" | "84") && letters != "SN" && word.is_empty() {
        return None;
    }
    // MCY74011 is of the 4000 series.
    let elsewhere = prefix::find(letters).is_some_and(|prefix| !prefix.series.contains('t'));
    if elsewhere && word.is_empty() {
        return None;
    }
    let family = if word.is_empty() { Some(Family::Standard) } else { Family::from_word(word) };
    if family.is_none() && !OTHER_FAMILIES.contains(&word) {
        return None;
    }
    let seventy_four = format!("74{digits}");
    let number = if library.part(&seventy_four).is_some() {
        seventy_four
    } else if !word.is_empty() && library.part(digits).is_some() {
        // A function of the 4000 series made in another family: 74HC4017.
        digits.to_owned()
    } else if word.is_empty() && digits.len() > 3 {
        return None;
    } else {
        seventy_four
    };
    let part = library.part(&number);
    let made = part.zip(family).is_some_and(|(part, family)| part.made.contains(&family));
    let mut reading = Reading::of(&format!("{letters}{body}"));
    reading.prefix = (!letters.is_empty()).then(|| letters.to_owned());
    reading.family = Some(family.map_or(word, |family| family.word()).to_owned());
    reading.title = part.map(|part| part.title.clone());
    reading.trust = Trust::Number;
    let (tail, mark) = match tail.split_once('-') {
        Some((tail, mark)) => (tail, Some(mark)),
        None => (tail, None),
    };
    reading.number = Some(number);
    // JM in front: class, case and finish of a slash sheet behind the number (from memory).
    match military::class_case_finish(tail).filter(|_| letters == "JM") {
        Some(words) => reading.military.push(Military { mark: tail.to_owned(), words }),
        None => suffix::enter(&mut reading, tail, 't'),
    }
    match (part.and_then(|part| part.memory.as_ref()), mark) {
        (Some(memory), _) => {
            reading.speeds = speed::of_memory(memory, letters, mark.unwrap_or_default());
        }
        (None, Some(mark)) => {
            reading.unread = Some(format!("{}-{mark}", reading.unread.unwrap_or_default()));
        }
        (None, None) => {}
    }
    prefix_known(&mut reading, letters, word.is_empty());
    match part {
        Some(_) if made => {
            let body = format!("{}{word}{digits}", range.prefix);
            let speed = reading.speeds.iter().find_map(|speed| speed.name()).map(str::to_owned);
            reading.name(&body, speed.as_deref(), library);
        }
        Some(part) => {
            let made: Vec<&str> = part.made.iter().map(|family| family.word()).collect();
            reading.remarks.push(format!(
                "not described in this family; the library has it in {}",
                made.join(" ")
            ));
        }
        None => {}
    }
    reading.temperature = in_family(&range.prefix, family);
    military::no_name_in_a_flat_pack(&mut reading);
    Some(reading)
}

/// Doubts a prefix that the series is not known to be marked with: TDA7432 is no gate.
fn prefix_known(reading: &mut Reading, letters: &str, bare: bool) {
    if prefix::marks(letters, 't') {
        return;
    }
    if letters.contains('?') {
        let fitting = prefix::fitting(letters, 't');
        reading.assumed.push(match &fitting[..] {
            [] => format!("{letters} is a maker's prefix"),
            _ => format!("{letters} is a maker's prefix, such as {}", fitting.join(" ")),
        });
        reading.wants_confirmation();
    } else if bare {
        reading.trust = Trust::Unlisted;
        reading.could_be.push(format!(
            "{letters} is not known in front of TTL: it could be another kind of chip"
        ));
    }
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
    fn parts_of_a_marking() {
        let read = one("SN54LS138AJ");
        assert_eq!(read.number.as_deref(), Some("74138"));
        assert_eq!(read.family.as_deref(), Some("LS"));
        assert_eq!(read.revision.as_deref(), Some("A"));
        assert_eq!(read.package.as_ref().unwrap().letters, "J");
        assert_eq!(read.part_name(), Some("54LS138"));
        assert_eq!(one("CD74HC4017E").number.as_deref(), Some("4017"));
        assert_eq!(one("SN7413N").title, None);
        let read = one("JM54LS00BCA");
        assert!(read.unread.is_none() && read.military[0].words.starts_with("class B, case C"));
    }

    /// TI SDLS025B: the SN5400W has VCC on pin 4 and GND on pin 11, the SN54LS00W as in a DIP.
    #[test]
    fn a_flat_pack_of_standard_ttl_has_no_name_for_a_check() {
        assert_eq!(one("SN5400W").part_name_if_confirmed(), None);
        assert_eq!(one("SN54LS00W").part_name(), Some("54LS00"));
        assert_eq!(one("SN5400J").part_name(), Some("5400"));
    }

    #[test]
    fn what_is_no_logic() {
        let library = Library::builtin();
        for word in ["8412", "6410", "7", "74", "74LS", "747825", "74XX00", "é74LS00", "LM317"] {
            assert!(read(word, &library).is_empty(), "{word}");
        }
        assert_eq!(one("TDA7432").part_name(), None);
        assert!(one("TDA7432").is_ambiguous());
    }

    #[test]
    fn a_worn_74() {
        let library = Library::builtin();
        let read = read_short("LS138", &library).unwrap();
        assert_eq!((read.part_name(), read.part_name_if_confirmed()), (None, Some("74LS138")));
        assert!(read_short("LS999", &library).is_none() && read_short("138", &library).is_none());
    }
}
