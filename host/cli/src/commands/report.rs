//! `report`: a lot as one file to print and to keep.

use crate::args::General;
use crate::commands::ledger::{LedgerArgs, said, zone};
use crate::commands::lot::titles;
use crate::exit::{DONE_TABLE, Failure, Status};
use crate::library;
use crate::output::Output;
use clap::Args;
use dipsift_ledger::{
    Ledger, LedgerError, LotReport, Remark, RemarkKind, Selection, Stored, Which,
};
use dipsift_papers::{Lists, LotPaper, Photo, lot_report};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde_json::json;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Arguments of `report`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Report {
    /// The lot
    #[arg(value_name = "LOT")]
    pub lot: String,
    /// Where to write the page
    #[arg(long, value_name = "FILE.html")]
    pub out: PathBuf,
    /// List at most so many chips that are not good, and as many good ones
    #[arg(long, value_name = "N", default_value_t = 300)]
    pub list: u32,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Drawn maps: a page of them is enough.
const MOST_MAPS: u32 = 24;

/// The largest photograph that is put into a report, and all of them together: it shall still
/// go by mail.
const MOST_BYTES_EACH: u64 = 4_000_000;
const MOST_BYTES: u64 = 20_000_000;

/// Writes the page.
pub fn run(args: &Report, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.ledger.open()?;
    let unknown = || Failure::usage(format!("no lot is named {:?}", args.lot));
    let lot = ledger.lot(&args.lot).map_err(|error| said(&error))?.ok_or_else(unknown)?;
    let report = ledger.report(&Selection::lot(&args.lot)).map_err(|error| said(&error))?;
    let zone = zone();
    let mut lists = lists(&ledger, args, &report, &zone).map_err(|error| said(&error))?;
    lists.titles = titles(&library::load(general)?);
    lists.photos = photos(&lists.remarks);
    let shown = lists.photos.values().filter(|photo| matches!(photo, Photo::Shown(_))).count();
    let at = Timestamp::now();
    let page = lot_report(&LotPaper { lot: &lot, report: &report, lists: &lists, at, zone: &zone });
    std::fs::write(&args.out, page).map_err(|error| {
        Failure::usage(format!("failed to write {}: {error}", args.out.display()))
    })?;
    if out.json {
        out.object(Status::Go, json!({ "written": args.out, "report": report }))?;
    } else {
        writeln!(out, "written: {}", args.out.display())?;
        if !lists.photos.is_empty() {
            writeln!(out, "pictures: {shown} of {} are in it", lists.photos.len())?;
        }
    }
    Ok(Status::Go)
}

/// The photographs that remarks name, read where they still are.
fn photos(remarks: &[Stored<Remark>]) -> BTreeMap<String, Photo> {
    let mut photos: BTreeMap<String, Photo> = BTreeMap::new();
    let mut left_bytes = MOST_BYTES;
    for remark in remarks.iter().filter(|remark| remark.entry.kind == RemarkKind::Photo) {
        let path = &remark.entry.text;
        if !photos.contains_key(path) {
            photos.insert(path.clone(), photo(Path::new(path), &mut left_bytes));
        }
    }
    photos
}

fn photo(path: &Path, left_bytes: &mut u64) -> Photo {
    // A device or a pipe could keep one waiting.
    let size = match std::fs::metadata(path) {
        Ok(file) if file.is_file() => file.len(),
        Ok(_) => return Photo::Left("it is no file".into()),
        Err(_) => return Photo::Left("there is no such file that can be read".into()),
    };
    if size > MOST_BYTES_EACH {
        let most = MOST_BYTES_EACH / 1_000_000;
        return Photo::Left(format!("larger than {most} MB: keep a smaller copy"));
    }
    if size > *left_bytes {
        return Photo::Left("the report holds enough pictures".into());
    }
    match std::fs::read(path) {
        Ok(bytes) => {
            *left_bytes -= size;
            Photo::of(&bytes)
        }
        Err(error) => Photo::Left(error.to_string()),
    }
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
