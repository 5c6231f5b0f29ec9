//! A simulated batch: each chip of a file is put into the simulated socket and checked over the
//! real serial path.

use super::session::{Ending, Session, lost};
use crate::args::Screen;
use crate::desk::Display;
use crate::exit::{Failure, Status};
use crate::marking::{self, Marked};
use crate::output::Output;
use crate::simulated::{Ready, Simulated};
use crate::testers::Opened;
use crate::{interrupt, progress, summary};
use dipsift_bench::{Batch, BatchChip};
use dipsift_language::Library;
use serde_json::json;
use std::fs;
use std::io::Write;
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
        .collect::<Result<Vec<(Marked, Option<Ready>)>, Failure>>()?;
    let (mut opened, socket) = Opened::simulated(batch.seed)?;
    opened.interruptible();
    let record = super::record_of(args, &opened)?;
    let played = match &record {
        Some(record) if args.resume => record.before as usize,
        _ => 0,
    };
    let mut session = Session::new(library, opened, record, super::wanted(args));
    if !out.json {
        introduce(out, &batch, &session)?;
        out.flush()?;
    }
    let all = batch.chips.len();
    let display = Display::start(Some(progress::bar_with(
        out,
        "  chip {pos} of {len} [{bar:30}] {msg}",
        all as u64,
    )));
    let mut done = played.min(all);
    let chips = batch.chips.iter().zip(contents).skip(played);
    let result = play(&mut session, &socket, chips, &display, out, &mut |session| {
        done += 1;
        display.progress(done as u64, session.words());
    });
    let shown = display.end();
    if let Err(failure) = result {
        return Err(session.failed(out, failure));
    }
    shown?;
    let body = json!({ "batch": { "title": batch.title, "scenario": batch.scenario } });
    let ending = if done == all { Ending::Completed } else { Ending::Interrupted };
    session.end(out, body, ending)
}

/// Plays chips until all had their turn, somebody wants it to end, or the tester is lost.
fn play<'b>(
    session: &mut Session<'_>,
    socket: &Simulated,
    chips: impl Iterator<Item = (&'b BatchChip, (Marked, Option<Ready>))>,
    display: &Display,
    out: &Output,
    told: &mut dyn FnMut(&Session<'_>),
) -> Result<(), Failure> {
    for (chip, (marked, content)) in chips {
        if interrupt::asked() {
            break;
        }
        if let Some(content) = content {
            socket.insert(content)?;
        }
        let Some(checked) = session.check(&marked, false, &mut |_| {}) else { break };
        let mut page = out.page();
        session.add(&mut page, &marked, chip.note.as_deref(), &checked, false)?;
        socket.remove();
        display.text(page.take());
        told(session);
        display.check()?;
        if lost(checked.report()) {
            break;
        }
    }
    Ok(())
}

/// What a chip is checked as, and what goes into the socket. A marking that the library does not know is refused before the
/// tester is asked, so its chip need not be simulated.
fn content(
    library: &Library,
    chip: &BatchChip,
    seed: u64,
) -> Result<(Marked, Option<Ready>), String> {
    let marked = marking::read_unattended(library, &chip.marking);
    let (name, holds) = match (&marked.named, &chip.holds) {
        (Ok(named), holds) => (named.name.as_str(), holds.as_deref()),
        (Err(_), Some(holds)) => (chip.marking.as_str(), Some(holds.as_str())),
        (Err(_), None) => return Ok((marked, None)),
    };
    let ready = Ready::new(library, name, holds, &chip.defects, seed)?;
    Ok((marked, Some(ready)))
}

fn introduce(out: &mut Output, batch: &Batch, session: &Session<'_>) -> Result<(), Failure> {
    out.labelled("batch", &batch.title)?;
    if !batch.scenario.is_empty() {
        out.labelled("", &batch.scenario)?;
    }
    super::introduce(out, session)?;
    writeln!(out)?;
    Ok(summary::heading(out)?)
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
