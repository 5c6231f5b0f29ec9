//! Tables with one line an entry and bars between the fields; `#` starts a comment.

use std::fmt;

/// What is wrong with a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableError {
    /// The file.
    pub file: String,
    /// The line, from 1; 0 where it is the file as a whole.
    pub line: usize,
    /// What is wrong.
    pub message: String,
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => write!(f, "{}: {}", self.file, self.message),
            line => write!(f, "{}:{line}: {}", self.file, self.message),
        }
    }
}

impl std::error::Error for TableError {}

/// The lines that say something, with their numbers from 1.
pub(crate) fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let said = |line: &'_ str| line.split('#').next().unwrap_or_default().trim().len();
    (1..)
        .zip(text.lines())
        .map(move |(number, line)| {
            let start = line.len() - line.trim_start().len();
            (number, &line[start..start + said(line)])
        })
        .filter(|(_, content)| !content.is_empty())
}

/// The fields of a line, none of them empty.
pub(crate) fn fields<const N: usize>(line: &str) -> Option<[&str; N]> {
    let found: Vec<&str> = line.split('|').map(str::trim).collect();
    let fields: [&str; N] = found.try_into().ok()?;
    fields.iter().all(|field| !field.is_empty()).then_some(fields)
}
