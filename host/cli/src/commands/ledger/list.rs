//! `ledger list`.

use super::{List, said, zone};
use crate::exit::{Failure, Status};
use crate::output::Output;
use dipsift_ledger::{Insertion, Stored};
use jiff::tz::TimeZone;
use serde_json::json;
use std::io::{self, Write};

pub fn run(args: &List, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.ledger.open()?;
    let found = match &args.lot {
        Some(lot) => ledger.last_insertions(lot, args.most),
        None => ledger.last_recorded(args.most),
    };
    let found = found.map_err(|error| said(&error))?;
    if out.json {
        out.object(Status::Go, json!({ "insertions": found }))?;
        return Ok(Status::Go);
    }
    let zone = zone();
    if found.is_empty() {
        writeln!(out, "no insertions")?;
    }
    for stored in &found {
        line(out, stored, &zone)?;
    }
    Ok(Status::Go)
}

/// `   12  2026-11-25 19:04  not-decided  74LS00    cabinet 3: open contact`
fn line(out: &mut Output, stored: &Stored<Insertion>, zone: &TimeZone) -> io::Result<()> {
    let chip = &stored.entry;
    let at = zone.to_datetime(chip.at).strftime("%Y-%m-%d %H:%M");
    let first =
        format!("{:>6}  {at}  {:<11}  {:<10} ", stored.sequence, chip.verdict, chip.chip.name);
    let again = if chip.retest_of.is_some() { ", tested again" } else { "" };
    let words = format!("{}: {}{again}", chip.lot, chip.reason.replace('-', " "));
    out.paragraph(&first, 49, &words)
}
