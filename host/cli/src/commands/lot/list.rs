//! `lot list`.

use crate::commands::ledger::{LedgerArgs, said};
use crate::exit::{Failure, Status};
use crate::output::Output;
use dipsift_ledger::Selection;
use serde_json::json;
use std::io::Write;

pub fn run(args: &LedgerArgs, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.open()?;
    let mut lots = Vec::new();
    for lot in ledger.lots().map_err(|error| said(&error))? {
        let report =
            ledger.report(&Selection::lot(&lot.entry.name)).map_err(|error| said(&error))?;
        lots.push((lot, report));
    }
    if out.json {
        let lots: Vec<_> = lots
            .iter()
            .map(|(lot, report)| json!({ "lot": lot, "chips": report.chips() }))
            .collect();
        out.object(Status::Go, json!({ "lots": lots }))?;
        return Ok(Status::Go);
    }
    if lots.is_empty() {
        writeln!(out, "no lots")?;
        return Ok(Status::Go);
    }
    writeln!(out, "chips   good    bad  other  lot")?;
    for (lot, report) in &lots {
        let chips = report.chips();
        let other = chips.total() - chips.decided();
        let first =
            format!("{:>5}  {:>5}  {:>5}  {other:>5}  ", chips.total(), chips.go, chips.no_go);
        let words = match &lot.entry.description {
            Some(description) => format!("{}: {description}", lot.entry.name),
            None => lot.entry.name.clone(),
        };
        out.paragraph(&first, 28, &words)?;
    }
    Ok(Status::Go)
}
