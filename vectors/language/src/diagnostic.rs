//! What is wrong in a description, and where.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::collections::HashSet;
use std::sync::Arc;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Severity {
    /// The description cannot be used.
    Error,
    /// It can be used, but something is likely not meant.
    Warning,
}

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// The file.
    pub file: String,
    /// The line, from 1.
    pub line: u32,
    /// The column in characters, from 1.
    pub column: u32,
    /// What is wrong.
    pub message: String,
    /// What was expected there.
    pub expected: String,
    /// What to write instead, where something is near.
    pub suggestion: Option<String>,
    /// The line's text.
    excerpt: String,
    /// The bytes of `excerpt` that are meant.
    range: (usize, usize),
}

impl Diagnostic {
    /// The message with an excerpt of the line that it points into.
    pub fn render(&self, color: bool) -> String {
        let level = match self.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let annotation =
            AnnotationKind::Primary.span(self.range.0..self.range.1).label(self.expected.as_str());
        let snippet = Snippet::source(self.excerpt.as_str())
            .path(self.file.as_str())
            .line_start(self.line as usize)
            .annotation(annotation);
        let mut groups: Vec<Group<'_>> =
            vec![level.primary_title(self.message.as_str()).element(snippet)];
        if let Some(suggestion) = &self.suggestion {
            groups.push(Group::with_title(Level::HELP.secondary_title(suggestion.as_str())));
        }
        let renderer = if color { Renderer::styled() } else { Renderer::plain() };
        renderer.render(&groups).to_string()
    }
}

/// The text of a file that is read.
#[derive(Debug)]
pub(crate) struct Source {
    pub name: String,
    pub text: String,
}

/// A stretch of a source's text, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Span {
    pub source: u32,
    pub start: u32,
    pub end: u32,
}

impl Span {
    /// From the start of one to the end of another.
    pub fn to(self, other: Self) -> Self {
        Self { end: other.end.max(self.end), ..self }
    }
}

/// No more messages than this are kept for one run over a file: the rest is noise.
const MOST: usize = 200;

/// Collects what is wrong.
#[derive(Debug, Default)]
pub(crate) struct Sink {
    pub sources: Vec<Arc<Source>>,
    found: Vec<(Span, Diagnostic)>,
    /// What was said where, names left out: a `for` says each thing once.
    said: HashSet<(Span, String)>,
    errors: usize,
}

impl Sink {
    pub fn new(sources: Vec<Arc<Source>>) -> Self {
        Self { sources, ..Self::default() }
    }

    pub fn error(&mut self, span: Span, message: impl Into<String>, expected: impl Into<String>) {
        self.say(Severity::Error, span, message.into(), expected.into(), None);
    }

    pub fn error_with(
        &mut self,
        span: Span,
        message: impl Into<String>,
        expected: impl Into<String>,
        suggestion: Option<String>,
    ) {
        self.say(Severity::Error, span, message.into(), expected.into(), suggestion);
    }

    pub fn warning(
        &mut self,
        span: Span,
        message: impl Into<String>,
        expected: impl Into<String>,
        suggestion: Option<String>,
    ) {
        self.say(Severity::Warning, span, message.into(), expected.into(), suggestion);
    }

    /// How many errors there were so far.
    pub fn errors(&self) -> usize {
        self.errors
    }

    /// Whether further messages are dropped, so that a caller may save the search for suggestions.
    pub fn full(&self) -> bool {
        self.found.len() >= MOST
    }

    /// All that was found, by place.
    pub fn finish(mut self) -> Vec<Diagnostic> {
        self.found.sort_by_key(|(span, diagnostic)| (*span, diagnostic.severity as u8));
        self.found.into_iter().map(|(_, diagnostic)| diagnostic).collect()
    }

    fn say(
        &mut self,
        severity: Severity,
        span: Span,
        message: String,
        expected: String,
        suggestion: Option<String>,
    ) {
        if severity == Severity::Error {
            self.errors += 1;
        }
        let gist: String = message.split('`').step_by(2).collect();
        if self.full() || !self.said.insert((span, gist)) {
            return;
        }
        let source = &self.sources[span.source as usize];
        let text = source.text.as_str();
        let start = floor(text, span.start as usize);
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
        let end = floor(text, span.end as usize).clamp(start, line_end);
        let diagnostic = Diagnostic {
            severity,
            file: source.name.clone(),
            line: text[..line_start].matches('\n').count() as u32 + 1,
            column: text[line_start..start].chars().count() as u32 + 1,
            message,
            expected,
            suggestion,
            excerpt: text[line_start..line_end].trim_end().to_owned(),
            range: (start - line_start, end - line_start),
        };
        self.found.push((span, diagnostic));
    }
}

/// The nearest character boundary at or before a byte.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// The names nearest to a word by edit distance: at most a third of the word wrong, best first.
pub(crate) fn nearest<'a>(word: &str, names: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let most = (word.chars().count() / 3).max(1);
    let mut near: Vec<(usize, &str)> = names
        .into_iter()
        .filter(|name| name.len().abs_diff(word.len()) <= most && *name != word)
        .map(|name| (distance(word, name), name))
        .filter(|(distance, _)| *distance <= most)
        .collect();
    near.sort_unstable();
    near.dedup();
    near.truncate(8);
    near.into_iter().map(|(_, name)| name).collect()
}

/// `did you mean …?`, where a name is near.
pub(crate) fn did_you_mean<'a>(
    word: &str,
    names: impl IntoIterator<Item = &'a str>,
) -> Option<String> {
    nearest(word, names).first().map(|name| format!("did you mean `{name}`?"))
}

/// Edit distance with neighbouring letters swapped counted as one step.
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before: Vec<usize> = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let change = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = change.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearest_names() {
        assert_eq!(nearest("CLEAR", ["CLR", "CLEER", "CLARE"]), ["CLEER"]);
        assert_eq!(nearest("tilte", ["title", "table"]), ["title"]);
        assert!(nearest("Q", ["ENABLE"]).is_empty());
    }

    #[test]
    fn distances() {
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", "acb"), 1);
        assert_eq!(distance("kitten", "sitting"), 3);
    }
}
