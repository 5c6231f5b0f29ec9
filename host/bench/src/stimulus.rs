//! A user's own stimulus, as comma-separated values.

use dipsift_generator::Stimulus as Level;
use dipsift_language::{Package, Part, Role};
use thiserror::Error;

/// The most rows of a stimulus.
pub const MOST_ROWS: usize = 100_000;

/// What is wrong with a stimulus file, and where.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("line {line}, column {column}: {message}")]
pub struct StimulusError {
    /// The line, from 1.
    pub line: usize,
    /// The column of values, from 1.
    pub column: usize,
    /// What was expected.
    pub message: String,
}

/// Rows of levels for named input pins.
#[derive(Clone, Debug, PartialEq)]
pub struct Stimulus {
    /// Every row: pin numbers with their levels.
    pub rows: Vec<Vec<(u8, Level)>>,
}

impl Stimulus {
    /// Reads a header of pin names or numbers and rows of `0`, `1` or `Z`. Every error of the file
    /// is returned.
    pub fn read(text: &str, part: &Part, package: &Package) -> Result<Self, Vec<StimulusError>> {
        let mut errors = Vec::new();
        let mut records = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes())
            .into_records()
            .map(|record| record.map_err(|error| unreadable(&error)))
            .filter(|record| !record.as_ref().is_ok_and(|cells| cells.iter().all(str::is_empty)));
        let Some(header) = records.next() else {
            return Err(vec![StimulusError {
                line: 1,
                column: 1,
                message: "expected a header of input pin names or numbers".into(),
            }]);
        };
        let header = header.map_err(|error| vec![error])?;
        let header_line = line_of(&header);
        let mut pins: Vec<u8> = Vec::new();
        for (index, name) in header.iter().enumerate() {
            match input(name, part, package) {
                Ok(pin) if pins.contains(&pin) => errors.push(StimulusError {
                    line: header_line,
                    column: index + 1,
                    message: format!("pin {pin} stands twice in the header"),
                }),
                Ok(pin) => pins.push(pin),
                Err(message) => {
                    errors.push(StimulusError { line: header_line, column: index + 1, message });
                }
            }
        }
        if !errors.is_empty() {
            return Err(errors);
        }
        let mut rows = Vec::new();
        for record in records {
            let cells = match record {
                Ok(cells) => cells,
                Err(error) => {
                    errors.push(error);
                    continue;
                }
            };
            let line = line_of(&cells);
            if rows.len() == MOST_ROWS {
                errors.push(StimulusError {
                    line,
                    column: 1,
                    message: format!("more than {MOST_ROWS} rows"),
                });
                break;
            }
            if cells.len() != pins.len() {
                errors.push(StimulusError {
                    line,
                    column: cells.len().min(pins.len()) + 1,
                    message: format!("expected {} values, found {}", pins.len(), cells.len()),
                });
                continue;
            }
            let mut levels = Vec::with_capacity(pins.len());
            for (index, (cell, pin)) in cells.iter().zip(&pins).enumerate() {
                match cell {
                    "0" => levels.push((*pin, Level::Low)),
                    "1" => levels.push((*pin, Level::High)),
                    "Z" | "z" => levels.push((*pin, Level::Float)),
                    other => errors.push(StimulusError {
                        line,
                        column: index + 1,
                        message: format!("expected 0, 1 or Z, found {other:?}"),
                    }),
                }
            }
            rows.push(levels);
        }
        if errors.is_empty() { Ok(Self { rows }) } else { Err(errors) }
    }
}

fn line_of(record: &csv::StringRecord) -> usize {
    record.position().map_or(1, |position| position.line() as usize)
}

fn unreadable(error: &csv::Error) -> StimulusError {
    StimulusError {
        line: error.position().map_or(1, |position| position.line() as usize),
        column: 1,
        message: error.to_string(),
    }
}

/// The number of the input pin that a header cell names.
fn input(name: &str, part: &Part, package: &Package) -> Result<u8, String> {
    let by_name = || {
        part.pin_named(name).and_then(|id| package.numbers(id).next().map(|number| (number, id)))
    };
    let by_number = || {
        let number: u8 = name.parse().ok()?;
        Some((number, package.at(number)?))
    };
    let (number, id) = by_name()
        .or_else(by_number)
        .ok_or_else(|| format!("{} has no pin {name:?}", part.number))?;
    match part.pin(id).role {
        Role::Input | Role::Bidirectional => Ok(number),
        Role::Output => Err(format!("pin {name:?} is an output; a stimulus drives inputs")),
        _ => Err(format!("pin {name:?} is not a signal; a stimulus drives inputs")),
    }
}
