//! What a person types between chips: a marking, or a word.

/// What a line asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// The marking of the next chip.
    Marking(String),
    /// An empty line.
    Same,
    /// The last chip is checked again.
    Again,
    /// The last insertion does not count.
    Undo,
    /// A chip that should be seated again is set aside as it is.
    Skip,
    /// A note about the last chip.
    Note(String),
    /// The path of a picture of the last chip.
    Photo(String),
    /// What can be typed.
    Help,
    /// The evening is over.
    End,
}

/// The words, and what they do. None has a digit, as every marking has.
pub const WORDS: [(&str, &str); 7] = [
    ("again", "check the last chip again; the new result replaces the old one"),
    ("undo", "the last result does not count"),
    ("skip", "leave a chip aside that should be seated again"),
    ("note", "note TEXT: a note about the last chip"),
    ("photo", "photo PATH: the path of a picture of the last chip"),
    ("help", "this list"),
    ("end", "end, as Ctrl-D does"),
];

/// Reads a line.
pub fn read(line: &str) -> Typed {
    let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim().to_string();
    match (word.to_ascii_lowercase().as_str(), rest.is_empty()) {
        ("", _) => Typed::Same,
        ("again", true) => Typed::Again,
        ("undo", true) => Typed::Undo,
        ("skip", true) => Typed::Skip,
        ("note", false) => Typed::Note(rest),
        ("photo", false) => Typed::Photo(rest),
        ("help", true) => Typed::Help,
        ("end", true) => Typed::End,
        _ => Typed::Marking(line.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_markings() {
        assert_eq!(read(""), Typed::Same);
        assert_eq!(read("Undo"), Typed::Undo);
        assert_eq!(read("note bent pin 3"), Typed::Note("bent pin 3".into()));
        assert_eq!(read("SN74LS00N 8412"), Typed::Marking("SN74LS00N 8412".into()));
        // A word with something behind it that it does not take is no command.
        assert_eq!(read("undo 7400"), Typed::Marking("undo 7400".into()));
    }

    #[test]
    fn every_word_is_understood() {
        for (word, _) in WORDS {
            let line =
                if matches!(word, "note" | "photo") { format!("{word} x") } else { word.into() };
            assert!(!matches!(read(&line), Typed::Marking(_)), "{word}");
            assert!(!word.bytes().any(|c| c.is_ascii_digit()));
        }
    }
}
