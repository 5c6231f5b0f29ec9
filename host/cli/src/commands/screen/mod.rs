//! `screen`: a batch of chips, one after the other, with a running tally.

mod ask;
mod batch;
mod hands;
mod record;
mod session;
mod typed;
mod waits;

use crate::args::{General, Screen};
use crate::exit::{Failure, Status};
use crate::library;
use crate::output::{LOOK, Output};
use crate::testers::Opened;
use record::Record;
use session::{Session, Wanted};
use std::io::Write;

/// Screens a batch: a simulated one from a file, or chips that a person inserts.
pub fn run(args: &Screen, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    if args.demo || args.batch.is_some() {
        return batch::run(args, &library, out);
    }
    let bell = general.settings.screen.bell && !args.no_bell;
    hands::run(args, &library, bell, out)
}

fn wanted(args: &Screen) -> Wanted {
    Wanted { repeat: args.repeat, grade: args.grade }
}

/// Where the insertions are recorded, if at all.
fn record_of(args: &Screen, opened: &Opened) -> Result<Option<Record>, Failure> {
    args.lot.as_deref().map(|lot| Record::open(&args.ledger, lot, opened)).transpose()
}

/// Says what screens and where it is recorded, and warns of a tester that nobody has tested.
fn introduce(out: &mut Output, session: &Session<'_>) -> Result<(), Failure> {
    out.labelled("tester", &session.opened.words())?;
    let Some(record) = &session.record else { return Ok(()) };
    let chips = match record.before {
        0 => "no chip yet".to_string(),
        1 => "1 chip so far".to_string(),
        several => format!("{several} chips so far"),
    };
    out.labelled("lot", &format!("{}: {chips}", record.lot()))?;
    if record.untested_today()? {
        write!(out, "{LOOK}caution{LOOK:#}   ")?;
        out.paragraph(
            "",
            10,
            "this tester has passed no selftest today: empty the socket and run `dipsift selftest`",
        )?;
    }
    Ok(())
}
