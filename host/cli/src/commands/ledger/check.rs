//! `ledger check`.

use super::{LedgerArgs, said};
use crate::exit::{Failure, Status};
use crate::output::{BAD, GOOD, Output};
use crate::progress;
use dipsift_ledger::Selection;
use serde_json::json;
use std::io::Write;

pub fn run(args: &LedgerArgs, out: &mut Output) -> Result<Status, Failure> {
    let path = args.path()?;
    let ledger = args.open()?;
    let spinner = progress::spinner(out, "checking");
    let findings = ledger.check().map_err(|error| said(&error))?;
    // A damaged file may not be able to tell; the findings matter more.
    let insertions = ledger.report(&Selection::default()).map(|report| report.insertions).ok();
    spinner.finish_and_clear();
    let status = if findings.is_empty() { Status::Go } else { Status::Usage };
    if out.json {
        let findings: Vec<_> = findings
            .iter()
            .map(|finding| json!({ "rule": finding.rule, "detail": finding.detail }))
            .collect();
        let body = json!({ "ledger": path, "insertions": insertions, "findings": findings });
        out.object(status, body)?;
        return Ok(status);
    }
    out.labelled("ledger", &path.display().to_string())?;
    if let Some(insertions) = insertions {
        out.labelled("holds", &format!("{insertions} insertions"))?;
    }
    if findings.is_empty() {
        writeln!(out, "{GOOD}whole{GOOD:#}: no damage, and every rule is kept")?;
    } else {
        writeln!(out, "{BAD}DAMAGED{BAD:#}: keep the file, and go on with a backup of it")?;
        let lines: Vec<String> = findings.iter().map(ToString::to_string).collect();
        out.items(lines.iter().map(String::as_str))?;
    }
    Ok(status)
}
