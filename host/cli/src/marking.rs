//! What a typed or marked text is checked as.

use crate::library::{self, Named};
use dipsift_language::Library;
use dipsift_ledger::DateCode;
use dipsift_marking::{Decoded, Reading};

/// More than this is no marking, and too long for a record.
pub const LONGEST: usize = 100;

/// A chip's marking, and what it is checked as.
#[derive(Clone)]
pub struct Marked {
    /// As it was typed.
    pub text: String,
    /// The part; or why there is none, in a sentence.
    pub named: Result<Named, String>,
    /// The week it was made in, where its marking says one and only one.
    pub made: Option<DateCode>,
}

impl Marked {
    /// A chip that is not powered.
    pub fn set_aside(text: &str, why: String) -> Self {
        Self { text: text.into(), named: Err(why), made: None }
    }
}

/// What a text can mean.
pub enum Meaning {
    /// One part, which may be powered on this marking.
    One(Marked),
    /// A person has to say which, or has to look twice: the question, then each part with what is
    /// known of it.
    Ask(String, Vec<(String, Marked)>),
    /// No part of the library.
    None(String),
}

/// Reads what stands on a package, or a part's name.
pub fn read(library: &Library, text: &str) -> Meaning {
    if text.chars().count() > LONGEST {
        return Meaning::None(format!("more than {LONGEST} characters are no marking"));
    }
    let decoded = dipsift_marking::read(text, library);
    let marked = |named: Named| {
        let made = made(&decoded, &named);
        Marked { text: text.into(), named: Ok(named), made }
    };
    // The library's own rules come first: they decide what may be powered.
    let error = match library::look_up(library, text) {
        Ok(named) => return Meaning::One(marked(named)),
        Err(error) => error.to_string(),
    };
    let named = |reading: &Reading| {
        let name = reading.part_name_if_confirmed()?;
        library::look_up(library, name).ok()
    };
    if let [only] = decoded.readings.as_slice()
        && only.part_name().is_some()
        && let Some(named) = named(only)
    {
        return Meaning::One(marked(named));
    }
    let choices: Vec<(String, Marked)> = decoded
        .readings
        .iter()
        .filter_map(|reading| Some((words(reading), marked(named(reading)?))))
        .collect();
    match (choices.len(), several_words(text)) {
        (0, false) => Meaning::None(error),
        (0, true) => Meaning::None(why_not(&decoded)),
        (1, _) => Meaning::Ask("compare the data sheet: is it this".into(), choices),
        _ => Meaning::Ask("it can be several".into(), choices),
    }
}

/// The same where nobody can be asked: what is not plain is set aside.
pub fn read_unattended(library: &Library, text: &str) -> Marked {
    match read(library, text) {
        Meaning::One(marked) => marked,
        Meaning::None(why) => Marked::set_aside(text, why),
        Meaning::Ask(question, choices) => {
            let choices: Vec<String> = choices.into_iter().map(|(words, _)| words).collect();
            Marked::set_aside(text, format!("{question}: {}; not powered", choices.join("; ")))
        }
    }
}

fn several_words(text: &str) -> bool {
    text.split_whitespace().nth(1).is_some()
}

fn why_not(decoded: &Decoded) -> String {
    let known = decoded.readings.first().map(|reading| match (&reading.number, &reading.title) {
        (Some(number), Some(title)) => format!("{number}, {title}, is not checked on this marking"),
        (Some(number), None) => format!("{number} is not described in the library"),
        _ => format!("{} is no part of the library", reading.marking),
    });
    known.unwrap_or_else(|| "there is no part number in it".into())
}

/// A reading in a line.
fn words(reading: &Reading) -> String {
    let name = reading.part_name_if_confirmed().unwrap_or(&reading.marking);
    let mut words = name.to_string();
    if let Some(title) = &reading.title {
        words += &format!(", {title}");
    }
    if reading.part_name().is_none() && reading.assumed.is_empty() {
        words += &format!(" ({})", reading.trust.words());
    }
    words
}

/// The week, where all readings as this part agree on one.
fn made(decoded: &Decoded, named: &Named) -> Option<DateCode> {
    let mut weeks = decoded
        .readings
        .iter()
        .filter(|reading| reading.number.as_ref() == Some(&named.part.number))
        .flat_map(|reading| &reading.date_codes)
        .filter(|code| !code.rare)
        .map(|code| DateCode::new(code.year?, code.week?));
    let first = weeks.next()??;
    weeks.all(|week| week == Some(first)).then_some(first)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(text: &str) -> Option<String> {
        match read(&Library::builtin(), text) {
            Meaning::One(marked) => marked.named.ok().map(|named| named.name),
            _ => None,
        }
    }

    #[test]
    fn a_whole_marking_is_a_part_with_its_week() {
        let library = Library::builtin();
        let Meaning::One(marked) = read(&library, "SN74LS00N 8412") else { panic!("not one") };
        assert_eq!(marked.named.ok().map(|named| named.name).as_deref(), Some("74LS00"));
        assert_eq!(marked.made, DateCode::new(1984, 12));
        let Meaning::One(marked) = read(&library, "SN74LS00N/7825") else { panic!("not one") };
        assert_eq!(marked.made, DateCode::new(1978, 25));
        assert_eq!(name("74LS00").as_deref(), Some("74LS00"));
        // A number alone is no date, though it could be one.
        let Meaning::One(marked) = read(&library, "7404") else { panic!("not one") };
        assert_eq!(marked.made, None);
    }

    #[test]
    fn what_is_not_plain_is_asked_and_never_powered_unasked() {
        let library = Library::builtin();
        let Meaning::Ask(_, choices) = read(&library, "74LS1?8") else { panic!("not asked") };
        assert!(choices.len() > 1 && choices.iter().any(|(words, _)| words.contains("74LS138")));
        assert!(read_unattended(&library, "74LS1?8").named.is_err());
        assert!(read_unattended(&library, "4016").named.is_err(), "a number of several chips");
        assert!(matches!(read(&library, "XYZZY"), Meaning::None(_)));
        assert!(matches!(read(&library, &"7".repeat(101)), Meaning::None(_)));
    }
}
