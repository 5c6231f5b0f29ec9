//! A simulated batch: each chip of a file is put into the simulated socket and checked over the
//! real serial path.

use super::session::{Session, lost};
use crate::args::Screen;
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::simulated::Ready;
use crate::testers::Opened;
use crate::{interrupt, library, summary};
use dipsift_bench::{Batch, BatchChip};
use dipsift_language::Library;
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;
use std::fs;
use std::io::{IsTerminal, Write, stderr, stdout};
use std::path::Path;

/// The demonstration batch.
const DEMO: &str = include_str!("../../../demo/workshop.toml");

/// Plays a batch.
pub fn run(args: &Screen, library: &Library, out: &mut Output) -> Result<Status, Failure> {
    let name = match &args.batch {
        Some(path) => path.display().to_string(),
        None => "the demonstration batch".to_string(),
    };
    let batch = match &args.batch {
        Some(path) => read(path, &name)?,
        None => parse(DEMO, &name)?,
    };
    if args.tester.tester.as_deref().is_some_and(|tester| tester != "sim") {
        return Err(Failure::usage(
            "a batch file is played on a simulated tester: leave --tester out, or say --tester sim",
        ));
    }
    if args.tester.chip.sim_part.is_some() || !args.tester.chip.defect.is_empty() {
        return Err(Failure::usage(
            "a batch file says what its chips are: --sim-part and --defect do not go with it",
        ));
    }
    // Nothing is played before all of it can be played.
    let contents = batch
        .chips
        .iter()
        .enumerate()
        .map(|(index, chip)| {
            content(library, chip, batch.seed.wrapping_add(index as u64)).map_err(|message| {
                Failure::usage(format!(
                    "failed to use {name}: chip {} ({}): {message}",
                    index + 1,
                    chip.marking
                ))
            })
        })
        .collect::<Result<Vec<Option<Ready>>, Failure>>()?;
    let (opened, socket) = Opened::simulated(batch.seed)?;
    interrupt::install();
    let mut session = Session::new(library, opened, args.repeat);
    if !out.json {
        introduce(out, &batch, &session)?;
    }
    let bar = bar(batch.chips.len(), out.json);
    for (chip, content) in batch.chips.iter().zip(contents) {
        if interrupt::asked() {
            break;
        }
        if let Some(content) = content {
            socket.insert(content)?;
        }
        let report = session.check(&chip.marking);
        bar.suspend(|| -> Result<(), Failure> {
            session.add(out, &chip.marking, chip.note.as_deref(), &report)?;
            Ok(out.flush()?)
        })?;
        bar.inc(1);
        bar.set_message(session.words());
        socket.remove();
        if lost(&report) {
            break;
        }
    }
    bar.finish_and_clear();
    let completed = session.count() as usize == batch.chips.len();
    let body = json!({ "batch": { "title": batch.title, "scenario": batch.scenario } });
    session.end(out, body, completed)
}

/// What goes into the socket. A marking that the library does not know is refused before the
/// tester is asked, so its chip need not be simulated.
fn content(library: &Library, chip: &BatchChip, seed: u64) -> Result<Option<Ready>, String> {
    if chip.holds.is_none() && library::look_up(library, &chip.marking).is_err() {
        return Ok(None);
    }
    Ready::new(library, &chip.marking, chip.holds.as_deref(), &chip.defects, seed).map(Some)
}

fn introduce(out: &mut Output, batch: &Batch, session: &Session<'_>) -> Result<(), Failure> {
    out.labelled("batch", &batch.title)?;
    if !batch.scenario.is_empty() {
        out.labelled("", &batch.scenario)?;
    }
    out.labelled("tester", &session.opened.words())?;
    writeln!(out)?;
    Ok(summary::heading(out)?)
}

/// The progress bar: only where both outputs are a terminal, the chip lines say it all anyway.
fn bar(chips: usize, json: bool) -> ProgressBar {
    if json || !stdout().is_terminal() || !stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("  chip {pos} of {len} [{bar:30}] {msg}")
        .map(|style| style.progress_chars("#-."));
    let bar = ProgressBar::new(chips as u64);
    match style {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

fn read(path: &Path, name: &str) -> Result<Batch, Failure> {
    let text = fs::read_to_string(path)
        .map_err(|error| Failure::usage(format!("failed to read {name}: {error}")))?;
    parse(&text, name)
}

fn parse(text: &str, name: &str) -> Result<Batch, Failure> {
    Batch::read(text).map_err(|error| {
        let message = error.to_string();
        Failure::usage(format!("failed to use {name}: {}", message.trim_end()))
    })
}
