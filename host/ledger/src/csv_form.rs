//! The ledger as CSV (RFC 4180) in UTF-8: one table for all kinds of records, told apart by the
//! first column, so that one file holds everything and can be read back. Lists are JSON texts.
//!
//! A spreadsheet takes a cell that begins with certain characters for a formula and carries it
//! out (OWASP, "CSV Injection"). A marking or a note may well begin so; an apostrophe before it
//! makes it a text. Cells that begin with an apostrophe get another, so that reading back is
//! exact.

use crate::json_form::unwritten;
use crate::{Ledger, LedgerError, Merged};
use serde_json::{Map, Value};
use std::io::{Read, Write};

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    /// A number or a list: JSON as it stands.
    Json,
}

/// The columns, what people look for first.
const COLUMNS: [(&str, Kind); 36] = [
    ("record", Kind::Text),
    ("at", Kind::Text),
    ("lot", Kind::Text),
    ("marking", Kind::Text),
    ("name", Kind::Text),
    ("verdict", Kind::Text),
    ("reason", Kind::Text),
    ("explanation", Kind::Text),
    ("speed_grade", Kind::Text),
    ("date_code", Kind::Text),
    ("note", Kind::Text),
    ("part", Kind::Text),
    ("family", Kind::Text),
    ("package", Kind::Text),
    ("failing_pins", Kind::Json),
    ("supply_mv", Kind::Json),
    ("currents", Kind::Json),
    ("steps", Kind::Json),
    ("failures", Kind::Json),
    ("tester", Kind::Text),
    ("nature", Kind::Text),
    ("firmware", Kind::Text),
    ("program_hash", Kind::Text),
    ("memory_map", Kind::Text),
    ("retest_of", Kind::Text),
    ("description", Kind::Text),
    ("insertion", Kind::Text),
    ("kind", Kind::Text),
    ("text", Kind::Text),
    ("passed", Kind::Json),
    ("lines", Kind::Json),
    ("id", Kind::Text),
    ("ledger", Kind::Text),
    ("sequence", Kind::Json),
    // Which form this is; the same in every row, because a table has no other place for it.
    ("format", Kind::Text),
    ("version", Kind::Json),
];
const FORMAT: &str = "dipsift-ledger";
const VERSION: u32 = 1;

/// Makes a text that a spreadsheet shows and does not carry out.
fn defuse(text: String) -> String {
    let first = text.chars().next();
    // Also the full-width forms, which some spreadsheets take for the others.
    let formula = text
        .trim_start()
        .starts_with(['=', '+', '-', '@', '\u{FF1D}', '\u{FF0B}', '\u{FF0D}', '\u{FF20}']);
    if formula || first.is_some_and(|c| c == '\'' || c.is_control()) {
        format!("'{text}")
    } else {
        text
    }
}

impl Ledger {
    /// Writes everything as CSV.
    pub fn export_csv(&self, to: impl Write) -> Result<(), LedgerError> {
        let mut table = csv::WriterBuilder::new()
            .quote_style(csv::QuoteStyle::Always)
            .terminator(csv::Terminator::CRLF)
            .from_writer(to);
        let failed = |error: csv::Error| unwritten(std::io::Error::other(error));
        table.write_record(COLUMNS.map(|(name, _)| name)).map_err(failed)?;
        self.for_each_record(|record| {
            let value = serde_json::to_value(&record).map_err(|error| unwritten(error.into()))?;
            let cells = COLUMNS.map(|(name, _)| match (name, value.get(name)) {
                ("format", _) => FORMAT.into(),
                ("version", _) => VERSION.to_string(),
                (_, None | Some(Value::Null)) => String::new(),
                (_, Some(Value::String(text))) => defuse(text.clone()),
                (_, Some(other)) => defuse(other.to_string()),
            });
            table.write_record(&cells).map_err(failed)
        })?;
        table.flush().map_err(unwritten)
    }

    /// Takes over the records of a CSV export that are not here yet, all or none. Columns may
    /// have another order.
    pub fn import_csv(&mut self, from: impl Read) -> Result<Merged, LedgerError> {
        self.take_over(|add| {
            let mut table = csv::Reader::from_reader(from);
            let wrong = |number: u64, message: String| LedgerError::Format { number, message };
            let kinds = table
                .headers()
                .map_err(|error| wrong(0, error.to_string()))?
                .iter()
                // Spreadsheets like to put a byte order mark before the first name.
                .map(|name| kind(name.trim_start_matches('\u{FEFF}')))
                .collect::<Result<Vec<_>, _>>()
                .map_err(|message| wrong(0, message))?;
            for (number, row) in (1..).zip(table.records()) {
                let row = row.map_err(|error| wrong(number, error.to_string()))?;
                let mut record = Map::new();
                for (&(name, kind), cell) in kinds.iter().zip(&row) {
                    let value = value(kind, cell)
                        .map_err(|error| wrong(number, format!("column {name}: {error}")))?;
                    if let Some(value) = value {
                        record.insert(name.into(), value);
                    }
                }
                if record.remove("format") != Some(FORMAT.into())
                    || record.remove("version") != Some(VERSION.into())
                {
                    return Err(wrong(number, "unknown format or version".into()));
                }
                let record = serde_json::from_value(Value::Object(record))
                    .map_err(|error| wrong(number, error.to_string()))?;
                add(record)?;
            }
            Ok(())
        })
    }
}

fn kind(name: &str) -> Result<(&'static str, Kind), String> {
    COLUMNS
        .into_iter()
        .find(|column| column.0 == name)
        .ok_or_else(|| format!("the column {name:?} is unknown"))
}

/// What a cell says; nothing where it is empty.
fn value(kind: Kind, cell: &str) -> Result<Option<Value>, serde_json::Error> {
    let text = cell.strip_prefix('\'').unwrap_or(cell);
    Ok(match kind {
        _ if cell.is_empty() => None,
        Kind::Text => Some(text.into()),
        Kind::Json => Some(serde_json::from_str(text)?),
    })
}
