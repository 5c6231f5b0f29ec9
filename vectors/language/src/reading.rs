//! Reads a file of descriptions.

use crate::build::{self, Shelf};
use crate::diagnostic::{Sink, Source, Span};
use crate::syntax::statement;
use crate::syntax::tree::RawPart;
use crate::{Diagnostic, Library, Part, Severity};
use std::sync::Arc;

/// A file of descriptions at most has this many bytes.
pub const MOST_BYTES: usize = 256 * 1024;

/// What a file of descriptions holds.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The parts that are described without errors, in the file's order.
    pub parts: Vec<Part>,
    /// All that is wrong, in the file's order.
    pub diagnostics: Vec<Diagnostic>,
}

impl Reading {
    /// Whether anything is an error.
    pub fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error)
    }
}

/// Reads a file by itself: variants take over parts of the same file only.
pub fn read(file_name: &str, text: &str) -> Reading {
    read_with(file_name, text, &Library::empty())
}

/// Reads a file whose variants may take over parts of a library. The file's own parts come first.
pub fn read_with(file_name: &str, text: &str, library: &Library) -> Reading {
    let mut sink = Sink::new(library.sources().to_vec());
    let parts = raw_parts(file_name, text, &mut sink);
    let mut shelf = library.shelf().clone();
    enter(&parts, &mut shelf, &mut sink);
    let parts = parts.iter().filter_map(|raw| build::build(raw, &shelf, &mut sink)).collect();
    Reading { parts, diagnostics: sink.finish() }
}

/// Splits a text into parts and their statements.
pub(crate) fn raw_parts(file_name: &str, text: &str, sink: &mut Sink) -> Vec<Arc<RawPart>> {
    let source = sink.sources.len() as u32;
    let too_large = text.len() > MOST_BYTES;
    let text = if too_large { String::new() } else { text.to_owned() };
    sink.sources.push(Arc::new(Source { name: file_name.to_owned(), text }));
    if too_large {
        sink.error(
            Span { source, start: 0, end: 0 },
            "the file is too large",
            format!("expected at most {} KiB; it was not read", MOST_BYTES / 1024),
        );
        return Vec::new();
    }
    statement::parts(source, sink).into_iter().map(Arc::new).collect()
}

/// Puts parts on a shelf; a number that stands twice among them is reported.
pub(crate) fn enter(parts: &[Arc<RawPart>], shelf: &mut Shelf, sink: &mut Sink) {
    let mut own: std::collections::HashSet<&str> = std::collections::HashSet::new();
    for part in parts {
        let number = part.number.text.as_str();
        if number != "?" && !own.insert(number) {
            sink.error(
                part.number.span,
                format!("part `{number}` is described twice"),
                "expected each number once",
            );
            continue;
        }
        shelf.insert(number.to_owned(), Arc::clone(part));
    }
}
