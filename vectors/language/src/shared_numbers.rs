//! Numbers that several chips share. What such a number means must be said: the chips differ in
//! their supply pins, so that a guess can destroy one.

use crate::table_file::{TableError, fields, lines};
use std::collections::BTreeMap;

/// The table that comes with the program.
const BUILTIN: &str = include_str!("../../parts/shared-numbers.txt");

/// One of the chips that share a number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// What to say for it: `4027B`, `4027RAM`.
    pub name: String,
    /// What it is, in words.
    pub what: String,
    /// The pins of its dual in-line package.
    pub pins: u8,
    /// Where that is from.
    pub source: String,
}

/// The numbers that several chips share.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SharedNumbers {
    choices: BTreeMap<String, Vec<Choice>>,
}

impl SharedNumbers {
    /// The table that comes with the program.
    ///
    /// # Errors
    ///
    /// When the table has one, which a test rules out.
    pub fn builtin() -> Result<Self, TableError> {
        Self::read("shared-numbers.txt", BUILTIN)
    }

    /// Reads a table: a line for each chip, `NUMBER | NAME | PINS | WHAT | SOURCE`.
    ///
    /// # Errors
    ///
    /// When a line has another form, a name stands twice, or a number has one chip only.
    pub fn read(file: &str, text: &str) -> Result<Self, TableError> {
        let mut choices: BTreeMap<String, Vec<Choice>> = BTreeMap::new();
        for (line, content) in lines(text) {
            let error = |message: String| TableError { file: file.to_owned(), line, message };
            let [number, name, pins, what, source] = fields(content)
                .ok_or_else(|| error("expected NUMBER | NAME | PINS | WHAT | SOURCE".into()))?;
            let pins = pins.parse().map_err(|_| error(format!("{pins:?} is no pin count")))?;
            if !name.starts_with(number) || name.len() <= number.len() {
                return Err(error(format!("{name:?} does not start with {number} and say more")));
            }
            let known = choices.entry(number.to_owned()).or_default();
            if known.iter().any(|choice| choice.name == name) {
                return Err(error(format!("{name} stands twice")));
            }
            known.push(Choice {
                name: name.to_owned(),
                what: what.to_owned(),
                pins,
                source: source.to_owned(),
            });
        }
        if let Some((number, _)) = choices.iter().find(|(_, known)| known.len() < 2) {
            let message = format!("{number} is shared by one chip only");
            return Err(TableError { file: file.to_owned(), line: 0, message });
        }
        Ok(Self { choices })
    }

    /// The chips that share a number; empty for a number that means one.
    pub fn of(&self, number: &str) -> &[Choice] {
        self.choices.get(number).map_or(&[], Vec::as_slice)
    }

    /// All shared numbers and their chips.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &[Choice])> {
        self.choices.iter().map(|(number, known)| (number.as_str(), known.as_slice()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mistakes_have_their_line() {
        let good = "4016 | 4016B | 14 | a switch | a sheet";
        for (text, expected) in [
            ("4016 | 4016B | 14 | a switch", "t:1: expected NUMBER | NAME | PINS | WHAT | SOURCE"),
            ("4016 | 4016B | x | a | b", "t:1: \"x\" is no pin count"),
            (
                "# a\n4016 | 4016 | 14 | a | b",
                "t:2: \"4016\" does not start with 4016 and say more",
            ),
            (&format!("{good}\n{good}"), "t:2: 4016B stands twice"),
            (good, "t: 4016 is shared by one chip only"),
        ] {
            let error = SharedNumbers::read("t", text).unwrap_err();
            assert_eq!(error.to_string(), expected);
        }
    }
}
