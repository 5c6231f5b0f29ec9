//! What is wrong in the text of a march test, and where.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::ops::Range;

/// No more mistakes than this are kept for one text: the rest is noise.
const MOST: usize = 50;

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// The column in characters, from 1; line breaks count as one character.
    pub column: usize,
    /// What is wrong.
    pub message: String,
    /// What was expected there.
    pub expected: String,
    /// What to write instead, or why, where that can be said.
    pub suggestion: Option<String>,
    /// The text, on one line.
    excerpt: String,
    /// The bytes of `excerpt` that are meant.
    range: Range<usize>,
}

impl Mistake {
    /// The message with the text that it points into.
    pub fn render(&self, color: bool) -> String {
        let annotation =
            AnnotationKind::Primary.span(self.range.clone()).label(self.expected.as_str());
        let snippet = Snippet::source(self.excerpt.as_str()).annotation(annotation);
        let mut groups: Vec<Group<'_>> =
            vec![Level::ERROR.primary_title(self.message.as_str()).element(snippet)];
        if let Some(suggestion) = &self.suggestion {
            groups.push(Group::with_title(Level::HELP.secondary_title(suggestion.as_str())));
        }
        let renderer = if color { Renderer::styled() } else { Renderer::plain() };
        renderer.render(&groups).to_string()
    }
}

/// Collects mistakes in one text.
#[derive(Debug)]
pub(crate) struct Sink<'t> {
    text: &'t str,
    found: Vec<(Range<usize>, Mistake)>,
}

impl<'t> Sink<'t> {
    pub fn new(text: &'t str) -> Self {
        Self { text, found: Vec::new() }
    }

    /// Notes a mistake at these bytes of the text.
    pub fn say(
        &mut self,
        at: Range<usize>,
        message: impl Into<String>,
        expected: impl Into<String>,
        suggestion: Option<String>,
    ) {
        if self.found.len() >= MOST {
            return;
        }
        let mistake = Mistake {
            column: self.column(at.start),
            message: message.into(),
            expected: expected.into(),
            suggestion,
            excerpt: one_line(self.text),
            range: at.clone(),
        };
        self.found.push((at, mistake));
    }

    /// The column of a byte of the text, in characters from 1.
    pub fn column(&self, at: usize) -> usize {
        self.text[..at].chars().count() + 1
    }

    /// All that was found, by place.
    pub fn finish(mut self) -> Vec<Mistake> {
        self.found.sort_by_key(|(at, _)| at.start);
        self.found.into_iter().map(|(_, mistake)| mistake).collect()
    }
}

/// The text with each control character in the ASCII range as a space, byte for byte.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii_control() { ' ' } else { c }).collect()
}

/// The name nearest to a word, at most a third of it wrong.
pub(crate) fn nearest<'a>(word: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let most = (word.chars().count() / 3).max(1);
    names
        .into_iter()
        .map(|name| (strsim::osa_distance(word, name), name))
        .filter(|(distance, _)| *distance <= most)
        .min()
        .map(|(_, name)| name)
}
