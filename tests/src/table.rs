//! Function tables as text: pins by number as columns, rows in the order they are played.
//!
//! ```text
//! part   7474
//! source TI SDLS119, function table
//! table  each flip-flop
//! with   9=H              # levels that stay applied; may be left out
//! pins   4 1 3    2 | 5 6 # inputs | outputs; further lines repeat the rows at other pins
//! pins   10 13 11 12 | 9 8
//! L H X    X | H    L
//! H H rise H | H    L
//! H H L    X | same same
//! ```
//!
//! Each `pins` line starts with a chip just powered, on which nothing else is applied, so that a
//! function that leans on a pin of another section shows up. Rows follow each other on one chip.
//!
//! | cell | as input | as output |
//! |---|---|---|
//! | `L` `H` | this level | this level |
//! | `X` | either: every combination is tried, the chip goes on with the lows | |
//! | `.` | as it was | not compared |
//! | `Z` | released | high impedance |
//! | `rise` `fall` | this edge, after all other inputs (at the clock's present level) | |
//! | `pulse` | low, high, low, after all other inputs | |
//! | `same` `flip` | | as before the row; the other level than before the row |
//! | `up` | | not driven low: high or released |
//! | `?` | | the model must say that it does not know |

use crate::Check;
use crate::bench::{Bench, Level};
use dipsift_language::Word;
use std::fmt::Display;

/// A level applied from outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// This level.
    Set(bool),
    /// Either level.
    Either,
    /// As it was.
    Keep,
    /// Released.
    Release,
    /// An edge to this level.
    Edge(bool),
    /// Low, high, low.
    Pulse,
}

/// What must be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// This level.
    Is(Level),
    /// As before the row.
    Same,
    /// The other level than before the row.
    Flip,
    /// High or released.
    Up,
    /// Not compared.
    Any,
}

/// One line of levels.
#[derive(Clone, Debug)]
pub struct Row {
    /// The line in its file, from 1.
    pub line: usize,
    inputs: Vec<Input>,
    outputs: Vec<Output>,
}

/// Rows and the pins they belong to.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// The part's number.
    pub part: String,
    /// The document that it was typed from.
    pub source: String,
    /// What it shows.
    pub title: String,
    with: Vec<(u8, bool)>,
    /// Input pins and output pins, once for each section.
    pub sections: Vec<(Vec<u8>, Vec<u8>)>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// Reads a file of tables.
pub fn read(file: &str, text: &str) -> Result<Vec<Table>, String> {
    let mut tables: Vec<Table> = Vec::new();
    let (mut part, mut source) = (String::new(), String::new());
    for (index, line) in text.lines().enumerate() {
        let content = line.split('#').next().unwrap_or_default().trim();
        let (word, rest) = content.split_once(char::is_whitespace).unwrap_or((content, ""));
        let rest = rest.trim();
        let wrong = |what: &str| format!("{file}:{}: {what}: {line}", index + 1);
        match word {
            "" => {}
            "part" => (part, source) = (rest.to_owned(), String::new()),
            "source" => source = rest.to_owned(),
            "table" => {
                if part.is_empty() || source.is_empty() {
                    return Err(wrong("a table needs a part and a source"));
                }
                tables.push(Table {
                    part: part.clone(),
                    source: source.clone(),
                    title: rest.to_owned(),
                    ..Table::default()
                });
            }
            _ => {
                let table = tables.last_mut().ok_or_else(|| wrong("expected a table first"))?;
                table.line(index + 1, word, rest, content).map_err(|what| wrong(&what))?;
            }
        }
    }
    match tables.iter().find(|table| table.rows.is_empty() || table.sections.is_empty()) {
        Some(table) => Err(format!("{file}: {} {}: empty table", table.part, table.title)),
        None => Ok(tables),
    }
}

impl Table {
    fn line(&mut self, line: usize, word: &str, rest: &str, all: &str) -> Check {
        match word {
            "with" => {
                for item in rest.split_whitespace() {
                    let (pin, level) = item.split_once('=').ok_or("expected pin=level")?;
                    self.with.push((number(pin)?, level == "H"));
                }
            }
            "pins" => {
                let (inputs, outputs) = rest.split_once('|').ok_or("expected a bar")?;
                let numbers =
                    |text: &str| text.split_whitespace().map(number).collect::<Result<Vec<_>, _>>();
                self.sections.push((numbers(inputs)?, numbers(outputs)?));
            }
            _ => {
                let (inputs, outputs) = all.split_once('|').ok_or("expected a bar")?;
                let inputs: Vec<_> =
                    inputs.split_whitespace().map(input).collect::<Result<_, _>>()?;
                let outputs: Vec<_> =
                    outputs.split_whitespace().map(output).collect::<Result<_, _>>()?;
                let fits = |(left, right): &(Vec<_>, Vec<_>)| {
                    left.len() == inputs.len() && right.len() == outputs.len()
                };
                if self.sections.is_empty() || !self.sections.iter().all(fits) {
                    return Err("the columns do not fit the pins".into());
                }
                self.rows.push(Row { line, inputs, outputs });
            }
        }
        Ok(())
    }

    /// Plays the table on a chip just powered.
    pub fn check(&self, fresh: &Bench) -> Check {
        for (inputs, outputs) in &self.sections {
            let mut chip = fresh.clone();
            for (pin, high) in &self.with {
                chip.set(*pin, *high)?;
            }
            for row in &self.rows {
                chip = row.play(chip, inputs, outputs).map_err(|what| {
                    format!("{what} (table \"{}\", line {}, {})", self.title, row.line, self.source)
                })?;
            }
        }
        Ok(())
    }
}

impl Row {
    /// Plays the row and returns the chip to go on with.
    fn play(&self, chip: Bench, inputs: &[u8], outputs: &[u8]) -> Result<Bench, String> {
        let before: Vec<Level> =
            outputs.iter().map(|pin| chip.level(*pin)).collect::<Result<_, _>>()?;
        let either: Vec<u8> = self
            .inputs
            .iter()
            .zip(inputs)
            .filter_map(|(cell, pin)| (*cell == Input::Either).then_some(*pin))
            .collect();
        let mut onward = None;
        for combination in 0..1_u64 << either.len() {
            let mut chip = chip.clone();
            for (bit, pin) in either.iter().enumerate() {
                chip.apply(*pin, Word::all(combination >> bit & 1 == 1))?;
            }
            self.apply(&mut chip, inputs)?;
            for ((cell, pin), before) in self.outputs.iter().zip(outputs).zip(&before) {
                cell.compare(&chip, *pin, *before, &format_args!("{either:?} = {combination:#b}"))?;
            }
            onward.get_or_insert(chip);
        }
        onward.ok_or_else(|| "a row without combinations".into())
    }

    fn apply(&self, chip: &mut Bench, inputs: &[u8]) -> Check {
        let cells = || self.inputs.iter().zip(inputs);
        // The other inputs first, at the clock's present level; then the clock goes to where its
        // edge starts.
        for (cell, pin) in cells() {
            match cell {
                Input::Set(high) => chip.apply(*pin, Word::all(*high))?,
                Input::Release => chip.apply(*pin, Word::UNKNOWN)?,
                _ => {}
            }
        }
        chip.settle()?;
        for (cell, pin) in cells() {
            match cell {
                Input::Edge(to) => chip.set(*pin, !to)?,
                Input::Pulse => chip.set(*pin, false)?,
                _ => {}
            }
        }
        for (cell, pin) in cells() {
            match cell {
                Input::Edge(to) => chip.set(*pin, *to)?,
                Input::Pulse => {
                    chip.set(*pin, true)?;
                    chip.set(*pin, false)?;
                }
                _ => {}
            }
        }
        Ok(())
    }
}

impl Output {
    fn compare(self, chip: &Bench, pin: u8, before: Level, when: &dyn Display) -> Check {
        match self {
            Self::Any => Ok(()),
            Self::Is(level) => chip.expect(pin, level, when),
            Self::Same => chip.expect(pin, before, when),
            Self::Flip => match before {
                Level::Low => chip.expect(pin, Level::High, when),
                Level::High => chip.expect(pin, Level::Low, when),
                _ => Err(format!("pin {pin}: {before} before the row, cannot be compared")),
            },
            Self::Up => match chip.level(pin)? {
                Level::High | Level::Released => Ok(()),
                seen => Err(format!("pin {pin}: {when}: expected high or released, is {seen}")),
            },
        }
    }
}

fn number(text: &str) -> Result<u8, String> {
    text.parse().map_err(|_| format!("expected a pin number, found {text}"))
}

fn input(cell: &str) -> Result<Input, String> {
    Ok(match cell {
        "L" => Input::Set(false),
        "H" => Input::Set(true),
        "X" => Input::Either,
        "." => Input::Keep,
        "Z" => Input::Release,
        "rise" => Input::Edge(true),
        "fall" => Input::Edge(false),
        "pulse" => Input::Pulse,
        _ => return Err(format!("unknown input cell {cell}")),
    })
}

fn output(cell: &str) -> Result<Output, String> {
    Ok(match cell {
        "L" => Output::Is(Level::Low),
        "H" => Output::Is(Level::High),
        "Z" => Output::Is(Level::Released),
        "?" => Output::Is(Level::Unknown),
        "same" => Output::Same,
        "flip" => Output::Flip,
        "up" => Output::Up,
        "." => Output::Any,
        _ => return Err(format!("unknown output cell {cell}")),
    })
}

#[cfg(test)]
mod tests {
    use super::read;

    #[test]
    fn a_row_that_does_not_fit_is_refused() {
        let text = "part 1\nsource none\ntable t\npins 1 2 | 3\nL | H\n";
        assert_eq!(read("f", text).unwrap_err(), "f:5: the columns do not fit the pins: L | H");
    }

    #[test]
    fn a_table_without_source_is_refused() {
        assert!(read("f", "part 1\ntable t\n").unwrap_err().contains("source"));
    }
}
