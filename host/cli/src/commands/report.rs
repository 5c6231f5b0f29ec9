//! `report`: a lot as one file to print and to keep.

use crate::args::General;
use crate::commands::ledger::{LedgerArgs, said, zone};
use crate::commands::lot::titles;
use crate::exit::{Failure, Status};
use crate::library;
use crate::output::Output;
use clap::Args;
use dipsift_ledger::{Ledger, LedgerError, LotReport, Selection, Stored, Which};
use dipsift_papers::{Lists, LotPaper, lot_report};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde_json::json;
use std::io::Write;
use std::path::PathBuf;

/// Arguments of `report`.
#[derive(Debug, Args)]
pub struct Report {
    /// The lot
    #[arg(value_name = "LOT")]
    pub lot: String,
    /// Where to write the page
    #[arg(long, value_name = "FILE.html")]
    pub output: PathBuf,
    /// List at most so many chips that are not good, and as many good ones
    #[arg(long, value_name = "N", default_value_t = 300)]
    pub list: u32,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Drawn maps: a page of them is enough.
const MOST_MAPS: u32 = 24;

/// Writes the page.
pub fn run(args: &Report, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.ledger.open()?;
    let unknown = || Failure::usage(format!("no lot is named {:?}", args.lot));
    let lot = ledger.lot(&args.lot).map_err(|error| said(&error))?.ok_or_else(unknown)?;
    let report = ledger.report(&Selection::lot(&args.lot)).map_err(|error| said(&error))?;
    let zone = zone();
    let mut lists = lists(&ledger, args, &report, &zone).map_err(|error| said(&error))?;
    lists.titles = titles(&library::load(general)?);
    let at = Timestamp::now();
    let page = lot_report(&LotPaper { lot: &lot, report: &report, lists: &lists, at, zone: &zone });
    std::fs::write(&args.output, page).map_err(|error| {
        Failure::usage(format!("failed to write {}: {error}", args.output.display()))
    })?;
    if out.json {
        out.object(Status::Go, json!({ "written": args.output, "report": report }))?;
    } else {
        writeln!(out, "written: {}", args.output.display())?;
    }
    Ok(Status::Go)
}

fn lists(
    ledger: &Ledger,
    args: &Report,
    report: &LotReport,
    zone: &TimeZone,
) -> Result<Lists, LedgerError> {
    // The self-tests of the lot's first day and since.
    let since = report.first.map(|first| {
        let midnight = zone.to_datetime(first).date().at(0, 0, 0, 0);
        zone.to_timestamp(midnight).unwrap_or(first)
    });
    let mut selftests: Vec<Stored<_>> = Vec::new();
    if let Some(since) = since {
        for line in &report.testers {
            selftests.extend(ledger.last_selftest(&line.tester.name, since)?);
        }
    }
    Ok(Lists {
        not_good: ledger.counted(&args.lot, Which::NotGood, args.list)?,
        good: ledger.counted(&args.lot, Which::Good, args.list)?,
        mapped: ledger.counted(&args.lot, Which::Mapped, MOST_MAPS)?,
        remarks: ledger.remarks(&args.lot)?,
        selftests,
        ..Lists::default()
    })
}
