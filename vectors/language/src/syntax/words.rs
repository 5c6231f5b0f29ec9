//! Words between white space, for the statements that are lists.

use super::lines::Line;
use super::tree::Word;
use crate::diagnostic::{Sink, Span};

/// The words that mean something in a statement. They are never taken for names.
pub(crate) const RESERVED: [&str; 52] = [
    "part", "like", "title", "source", "made", "dip", "flat", "open", "totem", "schmitt", "load",
    "fed", "ground", "leave", "limit", "note", "untested", "group", "wire", "state", "when", "on",
    "rise", "fall", "if", "while", "table", "for", "in", "steady", "avoid", "memory", "grade",
    "refresh", "same", "flip", "none", "rows", "address", "data", "read", "write", "strobe", "out",
    "supply", "timing", "startup", "column", "half", "latch", "array", "row",
];

/// What the variables of the surrounding `for` stand for.
#[derive(Clone, Debug, Default)]
pub(crate) struct Variables(pub Vec<(char, String)>);

impl Variables {
    /// A name with its variables filled in. A reserved word stays as it is.
    pub fn fill(&self, word: &str) -> String {
        if RESERVED.contains(&word) {
            return word.to_owned();
        }
        let mut filled = String::with_capacity(word.len());
        for c in word.chars() {
            match self.0.iter().rev().find(|(variable, _)| *variable == c) {
                Some((_, value)) => filled.push_str(value),
                None => filled.push(c),
            }
        }
        filled
    }
}

/// Longest list that `A0..A63` may stand for.
const LONGEST_RANGE: u32 = 64;

/// The words of some lines as they stand.
pub(crate) fn raw(source: u32, text: &str, lines: &[Line]) -> Vec<Word> {
    let mut words = Vec::new();
    for line in lines {
        let said = &text[line.start..line.end];
        let mut at = 0;
        for word in said.split(char::is_whitespace) {
            if !word.is_empty() {
                let start = (line.start + at) as u32;
                let span = Span { source, start, end: start + word.len() as u32 };
                words.push(Word { text: word.to_owned(), span });
            }
            at += word.len();
            at += said[at..].chars().next().map_or(0, char::len_utf8);
        }
    }
    words
}

/// Names: variables filled in and ranges written out. `None` where a word is not a name.
pub(crate) fn names(words: &[Word], variables: &Variables, sink: &mut Sink) -> Option<Vec<Word>> {
    let mut names = Vec::new();
    let mut good = true;
    for word in words {
        let filled = Word { text: variables.fill(&word.text), span: word.span };
        match filled.text.split_once("..") {
            Some((first, last)) => match range(first, last) {
                Some(list) => {
                    names.extend(list.into_iter().map(|text| Word { text, span: word.span }))
                }
                None => {
                    good = false;
                    sink.error(
                        word.span,
                        format!("`{}` is not a range", filled.text),
                        "expected two names that differ in the number at their end, at most 64 \
                         apart, as in A9..A0",
                    );
                }
            },
            None => names.push(filled),
        }
    }
    for name in &names {
        if name.text != "-" && !is_name(&name.text) {
            good = false;
            bad_name(name, variables, sink);
        }
    }
    good.then_some(names)
}

/// Says why a word is not a name.
pub(crate) fn bad_name(name: &Word, variables: &Variables, sink: &mut Sink) {
    let upper = name.text.to_uppercase();
    let suggestion = is_name(&upper).then(|| format!("did you mean `{upper}`?"));
    let lower = name.text.chars().find(char::is_ascii_lowercase);
    match lower {
        Some(letter) if suggestion.is_some() && !variables.0.is_empty() => sink.error_with(
            name.span,
            format!("`{}` is not a name", name.text),
            format!("`{letter}` is not a variable of `for` here"),
            suggestion,
        ),
        _ => sink.error_with(
            name.span,
            format!("`{}` is not a name", name.text),
            "expected upper-case letters, digits and `_`, after a `/` where active low",
            suggestion,
        ),
    }
}

/// Whether a word can be the name of a pin: `A0`, `/CLR`.
pub(crate) fn is_name(word: &str) -> bool {
    let bare = word.strip_prefix('/').unwrap_or(word);
    let mut letters = false;
    for c in bare.chars() {
        match c {
            'A'..='Z' | '_' => letters = true,
            '0'..='9' => {}
            _ => return false,
        }
    }
    letters && bare.len() <= 32
}

/// `A9..A0` or `1..8`, written out.
pub(crate) fn range(first: &str, last: &str) -> Option<Vec<String>> {
    let stem = first.trim_end_matches(|c: char| c.is_ascii_digit());
    let from: u32 = first[stem.len()..].parse().ok()?;
    let to: u32 = last.strip_prefix(stem)?.parse().ok()?;
    if !last[stem.len()..].starts_with(|c: char| c.is_ascii_digit())
        || from.abs_diff(to) >= LONGEST_RANGE
    {
        return None;
    }
    let name = |number| format!("{stem}{number}");
    Some(if from <= to {
        (from..=to).map(name).collect()
    } else {
        (to..=from).rev().map(name).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges() {
        assert_eq!(range("A2", "A0").unwrap(), ["A2", "A1", "A0"]);
        assert_eq!(range("/Y0", "/Y1").unwrap(), ["/Y0", "/Y1"]);
        assert_eq!(range("1", "3").unwrap(), ["1", "2", "3"]);
        for (first, last) in [("A0", "B3"), ("A", "B"), ("A0", "A64"), ("A0", "A"), ("A0", "A+1")] {
            assert_eq!(range(first, last), None, "{first}..{last}");
        }
    }

    #[test]
    fn names_and_others() {
        for name in ["A", "1A", "/CLR", "Q_A", "_"] {
            assert!(is_name(name), "{name}");
        }
        for word in ["", "/", "12", "a", "A-B", "//A", "Ä"] {
            assert!(!is_name(word), "{word}");
        }
    }

    #[test]
    fn variables_fill_names_not_statements() {
        let variables = Variables(vec![('n', "1".into())]);
        assert_eq!(variables.fill("/nQ"), "/1Q");
        assert_eq!(variables.fill("on"), "on");
    }
}
