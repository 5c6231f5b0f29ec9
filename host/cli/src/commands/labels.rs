//! `labels`: sheets of labels for tubes, drawers and bags.

use crate::args::General;
use crate::commands::ledger::{LedgerArgs, said, zone};
use crate::commands::lot::titles;
use crate::exit::{DONE_TABLE, Failure, Status};
use crate::library;
use crate::output::Output;
use clap::Args;
use dipsift_ledger::Selection;
use dipsift_papers::{Label, Sheet, label_pages, label_svgs, labels_of};
use serde_json::json;
use std::ffi::OsStr;
use std::io::Write;
use std::path::PathBuf;

/// Arguments of `labels`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Labels {
    /// Lots: each type with good chips gets a label
    #[arg(value_name = "LOT", required = true)]
    pub lots: Vec<String>,
    /// Where to write: one page of HTML for each sheet, or one sheet as .svg
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Leave so many labels at the beginning free
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u32).range(..10_000))]
    pub skip: u32,
    /// Draw where to cut, for plain paper
    #[arg(long)]
    pub outlines: bool,
    /// The sheet.
    #[command(flatten)]
    pub sheet: SheetArgs,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Where labels lie on the sheet of A4, in millimetres.
#[derive(Clone, Debug, Args)]
pub struct SheetArgs {
    /// Labels beside each other
    #[arg(long, value_name = "N", default_value_t = 3, help_heading = "Sheet")]
    pub columns: u32,
    /// Labels below each other
    #[arg(long, value_name = "N", default_value_t = 7, help_heading = "Sheet")]
    pub rows: u32,
    /// From the paper's left edge to the first label
    #[arg(long, value_name = "MM", default_value_t = 7.2, help_heading = "Sheet")]
    pub left: f64,
    /// From the paper's top edge to the first label
    #[arg(long, value_name = "MM", default_value_t = 15.1, help_heading = "Sheet")]
    pub top: f64,
    /// From one label's left edge to the next one's
    #[arg(long, value_name = "MM", default_value_t = 66.0, help_heading = "Sheet")]
    pub pitch_x: f64,
    /// From one label's top edge to the next one's
    #[arg(long, value_name = "MM", default_value_t = 38.1, help_heading = "Sheet")]
    pub pitch_y: f64,
    /// A label's width
    #[arg(long, value_name = "MM", default_value_t = 63.5, help_heading = "Sheet")]
    pub width: f64,
    /// A label's height
    #[arg(long, value_name = "MM", default_value_t = 38.1, help_heading = "Sheet")]
    pub height: f64,
}

impl SheetArgs {
    fn sheet(&self) -> Result<Sheet, Failure> {
        let sheet = Sheet {
            columns: self.columns,
            rows: self.rows,
            left_mm: self.left,
            top_mm: self.top,
            pitch_x_mm: self.pitch_x,
            pitch_y_mm: self.pitch_y,
            width_mm: self.width,
            height_mm: self.height,
        };
        sheet.check().map_err(|error| Failure::usage(error.to_string()))?;
        Ok(sheet)
    }
}

/// Writes the sheets.
pub fn run(args: &Labels, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let sheet = args.sheet.sheet()?;
    let ledger = args.ledger.open()?;
    let titles = titles(&library::load(general)?);
    let zone = zone();
    let mut labels: Vec<Label> = Vec::new();
    for name in &args.lots {
        let unknown = || Failure::usage(format!("no lot is named {name:?}"));
        // As it was begun, whatever capitals are typed here.
        let lot = ledger.lot(name).map_err(|error| said(&error))?.ok_or_else(unknown)?;
        let report = ledger.report(&Selection::lot(name)).map_err(|error| said(&error))?;
        labels.extend(labels_of(&lot.entry.name, &report, &titles, &zone));
    }
    if labels.is_empty() {
        return Err(Failure::usage("no label to make: the lots have no good chips"));
    }
    let skip = args.skip as usize;
    let svg = args
        .out
        .extension()
        .and_then(OsStr::to_str)
        .is_some_and(|ending| ending.eq_ignore_ascii_case("svg"));
    let drawn = if svg {
        label_svgs(&labels, &sheet, skip, args.outlines).map(|mut sheets| {
            if sheets.len() == 1 { Ok(sheets.remove(0)) } else { Err(sheets.len()) }
        })
    } else {
        label_pages(&labels, &sheet, skip, args.outlines).map(Ok)
    };
    let text = drawn.map_err(|error| Failure::usage(error.to_string()))?.map_err(|sheets| {
        Failure::usage(format!(
            "{sheets} sheets do not fit into one .svg file: write .html instead"
        ))
    })?;
    std::fs::write(&args.out, text).map_err(|error| {
        Failure::usage(format!("failed to write {}: {error}", args.out.display()))
    })?;
    if out.json {
        let labels: Vec<_> = labels
            .iter()
            .map(|label| {
                json!({
                    "lot": label.lot,
                    "type": label.chip.name,
                    "count": label.count,
                    "symbol": label.symbol_text(),
                })
            })
            .collect();
        out.object(Status::Go, json!({ "written": args.out, "labels": labels }))?;
    } else {
        writeln!(out, "written: {}, {} labels", args.out.display(), labels.len())?;
        out.paragraph("", 0, "print at 100 %, without fitting to the page")?;
    }
    Ok(Status::Go)
}
