//! What makers mark on memories: `HM4864` is a 4164. One marking names one part.

use crate::table_file::{TableError, fields, lines};
use std::collections::BTreeMap;

/// The list that comes with the program.
const BUILTIN: &str = include_str!("../../parts/aliases.txt");

/// Stands for a source where a marking is recalled and not read anywhere.
const MEMORY: &str = "memory";

/// Package and revision letters that may follow a marking, at most.
const MOST_LETTERS: usize = 3;

/// A marking and the part that it means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alias {
    /// The marking, without package letters and speed: `HM4864`.
    pub marking: String,
    /// The number of the part in the library: `4164`.
    pub part: String,
    /// The documents that say so; none where it is from memory.
    pub sources: Vec<String>,
}

impl Alias {
    /// Whether two independent sources say so. One that is not trusted is shown and never
    /// powered.
    pub fn trusted(&self) -> bool {
        self.sources.len() >= 2
    }
}

/// All markings that are known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Aliases {
    by_marking: BTreeMap<String, Alias>,
}

impl Aliases {
    /// The list that comes with the program.
    ///
    /// # Errors
    ///
    /// When the list has one, which a test rules out.
    pub fn builtin() -> Result<Self, TableError> {
        Self::read("aliases.txt", BUILTIN)
    }

    /// Reads a list. Lines `source | KEY | DOCUMENT` name documents that are independent of each
    /// other; lines `MARKING | PART | KEY …` name markings, with `memory` in place of the keys
    /// where there is no document.
    ///
    /// # Errors
    ///
    /// When a line has another form, names a source that is not known, or repeats a marking.
    pub fn read(file: &str, text: &str) -> Result<Self, TableError> {
        let mut documents: BTreeMap<&str, &str> = BTreeMap::new();
        let mut by_marking: BTreeMap<String, Alias> = BTreeMap::new();
        for (line, content) in lines(text) {
            let error = |message: String| TableError { file: file.to_owned(), line, message };
            let [first, second, third] = fields(content).ok_or_else(|| {
                error("expected MARKING | PART | KEY …, or source | KEY | DOCUMENT".into())
            })?;
            if first == "source" {
                if second == MEMORY || documents.insert(second, third).is_some() {
                    return Err(error(format!("source {second} is known already")));
                }
                continue;
            }
            if !first.bytes().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit()) {
                return Err(error(format!("{first:?} is no marking: capitals and figures only")));
            }
            let keys: Vec<&str> = third.split_whitespace().collect();
            let mut sources = Vec::new();
            for key in keys.iter().filter(|key| keys.len() > 1 || **key != MEMORY) {
                let document = documents
                    .get(key)
                    .ok_or_else(|| error(format!("{key:?} is no source of a line above")))?;
                let document = (*document).to_owned();
                if sources.contains(&document) {
                    return Err(error(format!("source {key} stands twice")));
                }
                sources.push(document);
            }
            let alias = Alias { marking: first.to_owned(), part: second.to_owned(), sources };
            if by_marking.insert(first.to_owned(), alias).is_some() {
                return Err(error(format!("{first} stands twice")));
            }
        }
        Ok(Self { by_marking })
    }

    /// What a marking means, up to three package and revision letters after it left aside:
    /// `HM4864AP` is `HM4864` where it is not listed itself.
    pub fn get(&self, marking: &str) -> Option<&Alias> {
        let bare = marking.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        let least = bare.len().max(marking.len().saturating_sub(MOST_LETTERS));
        (least..=marking.len()).rev().find_map(|end| self.by_marking.get(marking.get(..end)?))
    }

    /// All of them, by marking.
    pub fn iter(&self) -> impl Iterator<Item = &Alias> {
        self.by_marking.values()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOURCES: &str = "source | S1 | one list\nsource | S2 | another list\n";

    #[test]
    fn two_sources_make_it_trusted() {
        let text = format!("{SOURCES}HM1 | 1 | S1 S2\nHM2 | 2 | S1 # a remark\nHM3 | 3 | memory");
        let aliases = Aliases::read("t", &text).unwrap();
        let trusted: Vec<bool> = aliases.iter().map(Alias::trusted).collect();
        assert_eq!(trusted, [true, false, false]);
        assert_eq!(aliases.get("HM1").unwrap().sources, ["one list", "another list"]);
        assert!(aliases.get("HM3").unwrap().sources.is_empty());
    }

    #[test]
    fn letters_after_a_marking() {
        let text = format!("{SOURCES}HM6116 | 6116 | S1\nHM6116X | 9 | S1");
        let aliases = Aliases::read("t", &text).unwrap();
        let part = |marking: &str| aliases.get(marking).map(|alias| alias.part.as_str());
        assert_eq!(part("HM6116"), Some("6116"));
        assert_eq!(part("HM6116LP"), Some("6116"));
        assert_eq!(part("HM6116XP"), Some("9"));
        for unknown in ["HM6116LPXX", "HM61161", "HM611", "6116", ""] {
            assert_eq!(part(unknown), None, "{unknown}");
        }
    }

    #[test]
    fn mistakes_have_their_line() {
        let form = "expected MARKING | PART | KEY …, or source | KEY | DOCUMENT";
        for (text, expected) in [
            ("HM1 | 1", format!("t:3: {form}")),
            ("HM1 | 1 |", format!("t:3: {form}")),
            ("hm1 | 1 | S1", "t:3: \"hm1\" is no marking: capitals and figures only".into()),
            ("HM1 | 1 | S3", "t:3: \"S3\" is no source of a line above".into()),
            ("HM1 | 1 | S1 memory", "t:3: \"memory\" is no source of a line above".into()),
            ("HM1 | 1 | S1 S1", "t:3: source S1 stands twice".into()),
            ("HM1 | 1 | S1\nHM1 | 2 | S2", "t:4: HM1 stands twice".into()),
            ("source | S1 | a third", "t:3: source S1 is known already".into()),
            ("source | memory | a third", "t:3: source memory is known already".into()),
        ] {
            let error = Aliases::read("t", &format!("{SOURCES}{text}")).unwrap_err();
            assert_eq!(error.to_string(), expected);
        }
    }
}
