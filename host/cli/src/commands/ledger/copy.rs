//! `ledger backup`, `export` and `merge`.

use super::{Backup, Export, Form, Merge, exists, said};
use crate::exit::{Failure, Status};
use crate::interrupt::Unfinished;
use crate::output::Output;
use crate::progress;
use dipsift_ledger::{Ledger, LedgerError, Merged};
use indicatif::{DecimalBytes, ProgressBar};
use serde_json::json;
use std::ffi::OsStr;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Write};
use std::path::Path;

pub fn backup(args: &Backup, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.ledger.open()?;
    let spinner = progress::spinner(out, "copying and checking");
    let unfinished = Unfinished::new(&args.file);
    ledger.backup(&args.file).map_err(|error| said(&error))?;
    drop(unfinished);
    spinner.finish_and_clear();
    written(&args.file, out)
}

fn written(file: &Path, out: &mut Output) -> Result<Status, Failure> {
    if out.json {
        out.object(Status::Go, json!({ "written": file }))?;
    } else {
        writeln!(out, "written: {}", file.display())?;
    }
    Ok(Status::Go)
}

/// The form that a file's ending names.
fn ending(file: &Path) -> Option<Form> {
    let is = |ending: &str| {
        file.extension()
            .and_then(OsStr::to_str)
            .is_some_and(|found| found.eq_ignore_ascii_case(ending))
    };
    if is("csv") {
        Some(Form::Csv)
    } else if is("json") {
        Some(Form::Json)
    } else {
        None
    }
}

pub fn export(args: &Export, out: &mut Output) -> Result<Status, Failure> {
    let ledger = args.ledger.open()?;
    let form = args.format.or_else(|| args.file.as_deref().and_then(ending)).unwrap_or(Form::Csv);
    match &args.file {
        Some(file) => {
            let spinner = progress::spinner(out, "{msg} written");
            let unfinished = Unfinished::new(file);
            let to = File::create_new(file).map_err(|error| match error.kind() {
                io::ErrorKind::AlreadyExists => exists(file.display()),
                _ => Failure::usage(format!("failed to write {}: {error}", file.display())),
            })?;
            if let Err(error) = export_to(
                &ledger,
                form,
                BufWriter::new(Counted { to, bytes: 0, spinner: &spinner }),
            ) {
                // Half an export is no export; that it failed is told.
                let _ = std::fs::remove_file(file);
                return Err(error);
            }
            drop(unfinished);
            spinner.finish_and_clear();
            written(file, out)
        }
        // The export itself is the output, also with --json.
        None => {
            export_to(&ledger, form, &mut *out)?;
            Ok(Status::Go)
        }
    }
}

/// A file, with a word on how much of it there is.
struct Counted<'a> {
    to: File,
    bytes: u64,
    spinner: &'a ProgressBar,
}

impl Write for Counted<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.to.write(bytes)?;
        self.bytes += written as u64;
        self.spinner.set_message(DecimalBytes(self.bytes).to_string());
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

fn export_to(ledger: &Ledger, form: Form, to: impl Write) -> Result<(), Failure> {
    let written = match form {
        Form::Csv => ledger.export_csv(to),
        Form::Json => ledger.export_json(to),
    };
    written.map_err(|error| match error {
        LedgerError::File { source, .. } if source.kind() == io::ErrorKind::BrokenPipe => {
            Failure::Output(source)
        }
        other => said(&other),
    })
}

pub fn merge(args: &Merge, out: &mut Output) -> Result<Status, Failure> {
    let mut ledger = args.ledger.open_or_make()?;
    let open = || {
        File::open(&args.file).map(BufReader::new).map_err(|error| {
            Failure::usage(format!("failed to read {}: {error}", args.file.display()))
        })
    };
    let spinner = progress::spinner(out, "taking over");
    let merged = match ending(&args.file) {
        Some(Form::Csv) => ledger.import_csv(open()?),
        Some(Form::Json) => ledger.import_json(open()?),
        None => ledger.merge(&args.file),
    };
    let merged = merged.map_err(|error| said(&error))?;
    spinner.finish_and_clear();
    if out.json {
        let body = json!({
            "lots": merged.lots,
            "joined": merged.joined,
            "insertions": merged.insertions,
            "undone": merged.undone,
            "remarks": merged.remarks,
            "selftests": merged.selftests,
            "known": merged.known,
        });
        out.object(Status::Go, body)?;
        return Ok(Status::Go);
    }
    out.labelled("new", &news(&merged))?;
    out.labelled("known", &format!("{} records were here before", merged.known))?;
    for lot in &merged.joined {
        out.labelled("joined", &format!("the lot {lot:?} is in both ledgers and is one lot now"))?;
    }
    Ok(Status::Go)
}

fn news(merged: &Merged) -> String {
    format!(
        "{} lots, {} insertions, {} undone, {} notes and pictures, {} self-tests",
        merged.lots, merged.insertions, merged.undone, merged.remarks, merged.selftests
    )
}
