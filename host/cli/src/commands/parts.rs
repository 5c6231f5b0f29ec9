//! `parts`: what is in the library.

use crate::args::{General, Parts};
use crate::exit::{Failure, Status};
use crate::library;
use crate::output::Output;
use dipsift_language::Part;
use serde_json::json;
use std::sync::Arc;

/// Lists the library.
pub fn run(args: &Parts, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let wanted = args.word.as_deref().map(str::to_lowercase);
    let parts: Vec<&Arc<Part>> = library
        .iter()
        .filter(|part| wanted.as_deref().is_none_or(|word| matches(part, word)))
        .collect();
    if out.json {
        let list: Vec<_> = parts
            .iter()
            .map(|part| {
                json!({
                    "part": part.number,
                    "title": part.title,
                    "families": families(part),
                    "pins": part.packages.first().map(|package| package.pins.len()),
                    "memory": part.memory.is_some(),
                })
            })
            .collect();
        out.object(Status::Go, json!({ "parts": list }))?;
        return Ok(Status::Go);
    }
    for part in &parts {
        out.paragraph(&format!("{:<7}", part.number), 9, &part.title)?;
        out.paragraph("         ", 9, &families(part).join(" "))?;
    }
    match (parts.len(), &args.word) {
        (0, Some(word)) => {
            return Err(Failure::usage(format!(
                "no part of the library has {word:?} in its number, title or families"
            )));
        }
        (1, _) => out.labelled("", "1 part; `dipsift show PART` tells more")?,
        (count, _) => {
            out.paragraph("", 0, &format!("{count} parts; `dipsift show PART` tells more"))?;
        }
    }
    Ok(Status::Go)
}

/// The words of the families that a part was made in.
pub fn families(part: &Part) -> Vec<&'static str> {
    part.made.iter().map(|family| family.word()).collect()
}

/// Whether a part's number, title or families contain a word in lower case.
fn matches(part: &Part, word: &str) -> bool {
    part.number.to_lowercase().contains(word)
        || part.title.to_lowercase().contains(word)
        || part.made.iter().any(|family| family.word().to_lowercase() == word)
}
