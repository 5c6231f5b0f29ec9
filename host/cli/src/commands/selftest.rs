//! `selftest`: the tester itself.

use crate::args::{General, Selftest};
use crate::commands::ledger::said;
use crate::exit::{Failure, Status};
use crate::output::{BAD, GOOD, Output};
use crate::testers::{Opened, lost};
use crate::{health, library, progress};
use dipsift_bench::SelftestLine;
use dipsift_ledger::Ledger;
use jiff::Timestamp;
use serde_json::json;
use std::io::Write;

/// Runs the tester's own check.
pub fn run(args: &Selftest, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let mut opened = Opened::open(&args.tester, &library, None)?;
    opened.interruptible();
    // What cannot be recorded is not begun.
    let mut ledger = ledger(args, &opened)?;
    let health = opened.bench.link().health().map_err(|error| lost(&error))?;
    if !out.json {
        out.labelled("tester", &opened.words())?;
        if let Some(health) = &health {
            out.labelled("health", &health::words(health))?;
        }
        out.labelled("socket", "must be empty for this")?;
    }
    let spinner = progress::spinner(out, "self-test");
    let result = opened.bench.selftest().map_err(|error| lost(&error))?;
    spinner.finish_and_clear();
    let status = if result.ok { Status::Go } else { Status::Trouble };
    if let Some(ledger) = &mut ledger {
        record(ledger, &opened, &result)?;
    }
    if out.json {
        let mut body = opened.json();
        body["health"] = health::json(health.as_ref());
        body["selftest"] = json!(result);
        body["recorded"] = json!(ledger.is_some());
        out.object(status, body)?;
        return Ok(status);
    }
    writeln!(out)?;
    for line in &result.lines {
        let (style, word) = if line.ok { (GOOD, "ok") } else { (BAD, "WRONG") };
        write!(out, "  {style}{word:<6}{style:#}")?;
        out.paragraph("", 8, &format!("{}: {}", line.what, line.sentence))?;
    }
    writeln!(out)?;
    let end = if result.ok {
        "the tester is in order"
    } else {
        "the tester is not in order, or the socket is not empty: check no chip with it"
    };
    out.paragraph("", 0, end)?;
    if ledger.is_some() {
        writeln!(out, "recorded in the ledger")?;
    }
    Ok(status)
}

/// The ledger: for a simulated tester only one that was named.
fn ledger(args: &Selftest, opened: &Opened) -> Result<Option<Ledger>, Failure> {
    if opened.bench.nature() == "simulated" && args.ledger.ledger.is_none() {
        return Ok(None);
    }
    args.ledger.open_or_make().map(Some)
}

fn record(
    ledger: &mut Ledger,
    opened: &Opened,
    result: &dipsift_bench::Selftest,
) -> Result<(), Failure> {
    let line = |line: &SelftestLine| {
        let word = if line.ok { "ok" } else { "wrong" };
        format!("{word}: {}: {}", line.what, line.sentence)
    };
    let selftest = dipsift_ledger::Selftest {
        at: Timestamp::now(),
        tester: opened.record(),
        passed: result.ok,
        lines: result.lines.iter().map(line).collect(),
    };
    ledger.add_selftest(&selftest).map(drop).map_err(|error| said(&error))
}
