//! `lint FILE...`: errors in part descriptions of one's own.

use crate::args::{General, Lint};
use crate::exit::{Failure, Status};
use crate::library;
use crate::output::Output;
use dipsift_language::{Diagnostic, MOST_BYTES, Reading, Severity, read_with};
use serde_json::{Value, json};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

/// Reads files and tells what is wrong with them.
pub fn run(args: &Lint, general: &General, out: &mut Output) -> Result<Status, Failure> {
    // Variants may take over parts of the library.
    let library = library::load(general)?;
    let mut files: Vec<(String, Reading)> = Vec::new();
    for path in &args.files {
        let name = path.display().to_string();
        let text = text(path)
            .map_err(|error| Failure::usage(format!("failed to read {name}: {error}")))?;
        let reading = read_with(&name, &text, &library);
        files.push((name, reading));
    }
    let clean = files.iter().all(|(_, reading)| !reading.has_errors());
    let status = if clean { Status::Go } else { Status::Usage };
    if out.json {
        let diagnostics: Vec<Value> =
            files.iter().flat_map(|(_, reading)| &reading.diagnostics).map(object).collect();
        let parts: Vec<&str> = files
            .iter()
            .flat_map(|(_, reading)| &reading.parts)
            .map(|part| part.number.as_str())
            .collect();
        out.object(status, json!({ "parts": parts, "diagnostics": diagnostics }))?;
        return Ok(status);
    }
    for (name, reading) in &files {
        for diagnostic in &reading.diagnostics {
            // The output takes the colour out again where none is wanted.
            writeln!(out, "{}\n", diagnostic.render(true))?;
        }
        let count = |severity| {
            reading.diagnostics.iter().filter(|found| found.severity == severity).count()
        };
        writeln!(
            out,
            "{name}: {}, {}, {}",
            number(reading.parts.len(), "usable part"),
            number(count(Severity::Error), "error"),
            number(count(Severity::Warning), "warning"),
        )?;
    }
    Ok(status)
}

/// A file's text. What is not UTF-8 is reported by the reader as a character that it does not
/// know; of a file that is too large only as much is read as shows that.
fn text(path: &Path) -> io::Result<String> {
    let mut bytes = Vec::new();
    File::open(path)?.take(MOST_BYTES as u64 + 1).read_to_end(&mut bytes)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// A count with its noun.
fn number(count: usize, noun: &str) -> String {
    match count {
        0 => format!("no {noun}s"),
        1 => format!("1 {noun}"),
        more => format!("{more} {noun}s"),
    }
}

fn object(diagnostic: &Diagnostic) -> Value {
    json!({
        "severity": match diagnostic.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        "file": diagnostic.file,
        "line": diagnostic.line,
        "column": diagnostic.column,
        "message": diagnostic.message,
        "expected": diagnostic.expected,
        "suggestion": diagnostic.suggestion,
    })
}
