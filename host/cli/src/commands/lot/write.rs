//! `lot begin`, `note`, `photo` and `undo`.

use super::{About, Begin, Undo};
use crate::commands::ledger::said;
use crate::exit::{Failure, Status};
use crate::output::Output;
use dipsift_ledger::{Lot, RemarkKind, Subject};
use jiff::Timestamp;
use serde_json::json;
use std::io::Write;

pub fn begin(args: &Begin, out: &mut Output) -> Result<Status, Failure> {
    let mut ledger = args.ledger.open_or_make()?;
    let lot = Lot {
        at: Timestamp::now(),
        name: args.name.clone(),
        description: args.description.clone(),
    };
    let id = ledger.add_lot(&lot).map_err(|error| said(&error))?;
    if out.json {
        out.object(Status::Go, json!({ "lot": args.name, "id": id }))?;
    } else {
        writeln!(out, "begun: lot {}", args.name)?;
    }
    Ok(Status::Go)
}

pub fn remark(
    name: &str,
    kind: RemarkKind,
    text: &str,
    about: &About,
    out: &mut Output,
) -> Result<Status, Failure> {
    let mut ledger = about.ledger.open()?;
    let (about, words) = if about.last {
        let last = ledger.last_insertions(name, 1).map_err(|error| said(&error))?;
        let chip = last
            .first()
            .ok_or_else(|| Failure::usage(format!("the lot {name:?} has no insertion yet")))?;
        (Subject::Insertion(chip.id), format!("insertion {} of {name}", chip.sequence))
    } else {
        (Subject::Lot(name.to_owned()), format!("lot {name}"))
    };
    let remark = dipsift_ledger::Remark { at: Timestamp::now(), about, kind, text: text.into() };
    let id = ledger.add_remark(&remark).map_err(|error| said(&error))?;
    if out.json {
        out.object(Status::Go, json!({ "remark": remark, "id": id }))?;
    } else {
        writeln!(out, "{kind} added to {words}")?;
    }
    Ok(Status::Go)
}

pub fn undo(args: &Undo, out: &mut Output) -> Result<Status, Failure> {
    let mut ledger = args.ledger.open()?;
    let undone = ledger
        .undo_last(&args.name, Timestamp::now(), args.reason.as_deref())
        .map_err(|error| said(&error))?;
    let chip = ledger.insertion(undone).map_err(|error| said(&error))?;
    if out.json {
        out.object(Status::Go, json!({ "undone": chip }))?;
    } else if let Some(chip) = chip {
        writeln!(
            out,
            "undone: insertion {} of {}, {} {}",
            chip.sequence, chip.entry.lot, chip.entry.chip.name, chip.entry.verdict
        )?;
    }
    Ok(Status::Go)
}
