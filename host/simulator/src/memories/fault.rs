//! What can be wrong with a memory array, and how it is written.

use super::geometry::Geometry;
use super::primitive::Primitive;
use crate::PhraseError;
use dipsift_language::Memory;
use std::fmt;

/// One cell: an address and a bit of its word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell {
    /// The address.
    pub address: u32,
    /// The bit, 0 is the least significant.
    pub bit: u8,
}

/// What two cells, or two lines, on one conductor come to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Wired {
    /// Low wins.
    #[default]
    And,
    /// High wins.
    Or,
}

/// One fault of a memory array.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// SAF: the cell always holds this value.
    StuckAt {
        /// The cell.
        cell: Cell,
        /// Its value.
        high: bool,
    },
    /// TF: one transition fails.
    Transition {
        /// The cell.
        cell: Cell,
        /// Whether it is 0 to 1 that fails.
        rise: bool,
    },
    /// SOF: the cell cannot be reached; a read returns what the sense amplifier read before.
    StuckOpen {
        /// The cell.
        cell: Cell,
    },
    /// AF, kind A: the address reaches no cell, and no address reaches its cell.
    NoCell {
        /// The address.
        address: u32,
        /// What a read of no cell comes to: ones with `And`, zeros with `Or`.
        wired: Wired,
    },
    /// AF, kind B: the address reaches no cell; its cell is reached by another address, with that
    /// one's own.
    TakenOver {
        /// The address that reaches both.
        by: u32,
        /// The address whose cell it is.
        address: u32,
        /// What both read together.
        wired: Wired,
    },
    /// AF, kind C: the address reaches another's cell instead of its own.
    OtherCell {
        /// The address.
        address: u32,
        /// Whose cell it reaches.
        other: u32,
    },
    /// AF, kind D: the address reaches another's cell as well as its own.
    ExtraCell {
        /// The address.
        address: u32,
        /// Whose cell it reaches too.
        other: u32,
        /// What both read together.
        wired: Wired,
    },
    /// CFin: a transition of one cell inverts another.
    Inversion {
        /// The cell that acts.
        aggressor: Cell,
        /// Whether 0 to 1 acts.
        rise: bool,
        /// The cell that suffers.
        victim: Cell,
    },
    /// CFid: a transition of one cell sets another.
    Idempotent {
        /// The cell that acts.
        aggressor: Cell,
        /// Whether 0 to 1 acts.
        rise: bool,
        /// The cell that suffers.
        victim: Cell,
        /// What it is set to.
        high: bool,
    },
    /// CFst: while one cell holds a value, another reads as one, whatever it holds.
    State {
        /// The cell that acts.
        aggressor: Cell,
        /// While it holds this.
        at: bool,
        /// The cell that suffers.
        victim: Cell,
        /// What it reads as.
        high: bool,
    },
    /// A fault primitive.
    Primitive {
        /// The primitive.
        primitive: Primitive,
        /// The aggressor of a primitive of two cells.
        aggressor: Option<Cell>,
        /// The faulty cell.
        victim: Cell,
    },
    /// DRF: the cell loses a value some time after it was written.
    Retention {
        /// The cell.
        cell: Cell,
        /// The value that it loses.
        high: bool,
        /// After how many milliseconds.
        milliseconds: u32,
    },
    /// A dynamic cell loses its charge some time after its row was last refreshed.
    Leaky {
        /// The cell.
        cell: Cell,
        /// After how many milliseconds.
        milliseconds: u32,
    },
    /// The cell is read correctly after a multiple of the access time only.
    SlowCell {
        /// The cell.
        cell: Cell,
        /// How many times the access time.
        factor: u32,
    },
    /// The whole chip has this access time.
    Access {
        /// In nanoseconds.
        nanoseconds: u32,
    },
    /// A column's sense line: all its cells of one bit read as this.
    Column {
        /// The column.
        column: u32,
        /// The bit.
        bit: u8,
        /// What they read as.
        high: bool,
    },
    /// Two columns of one bit share a sense line: both are written, and read wired.
    CoupledColumns {
        /// The first column.
        column: u32,
        /// The second.
        other: u32,
        /// The bit.
        bit: u8,
        /// What both read together.
        wired: Wired,
    },
    /// A whole row reads as this.
    Row {
        /// The row.
        row: u32,
        /// What it reads as.
        high: bool,
    },
    /// An address line stays at a level inside.
    AddressStuck {
        /// The line, 0 is the least significant.
        line: u8,
        /// Its level.
        high: bool,
    },
    /// Two address lines are one inside.
    AddressShorted {
        /// The first line.
        line: u8,
        /// The second.
        other: u8,
        /// What they come to.
        wired: Wired,
    },
    /// A data line stays at a level inside, in and out.
    DataStuck {
        /// The line, 0 is the least significant.
        line: u8,
        /// Its level.
        high: bool,
    },
    /// Two data lines are one inside, in and out.
    DataShorted {
        /// The first line.
        line: u8,
        /// The second.
        other: u8,
        /// What they come to.
        wired: Wired,
    },
    /// Half of the array takes nothing and reads as ones.
    HalfDead {
        /// The bit of the address that tells the halves.
        line: u8,
        /// Its level in the dead half.
        high: bool,
    },
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "cell {} bit {}", self.address, self.bit)
    }
}

impl fmt::Display for Wired {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if *self == Self::Or { " wired or" } else { "" })
    }
}

fn edge(rise: bool) -> &'static str {
    if rise { "rising" } else { "falling" }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digit = u8::from;
        match *self {
            Self::StuckAt { cell, high } => write!(f, "{cell} stuck at {}", digit(high)),
            Self::Transition { cell, rise } => {
                write!(f, "{cell} cannot {}", if rise { "rise" } else { "fall" })
            }
            Self::StuckOpen { cell } => write!(f, "{cell} stuck open"),
            Self::NoCell { address, wired } => {
                write!(f, "address {address} reaches no cell{wired}")
            }
            Self::TakenOver { by, address, wired } => {
                write!(f, "address {by} takes over cell {address}{wired}")
            }
            Self::OtherCell { address, other } => {
                write!(f, "address {address} reaches cell {other} instead")
            }
            Self::ExtraCell { address, other, wired } => {
                write!(f, "address {address} reaches cell {other} too{wired}")
            }
            Self::Inversion { aggressor, rise, victim } => {
                write!(f, "{aggressor} {} inverts {victim}", edge(rise))
            }
            Self::Idempotent { aggressor, rise, victim, high } => {
                write!(f, "{aggressor} {} sets {victim} to {}", edge(rise), digit(high))
            }
            Self::State { aggressor, at, victim, high } => {
                write!(f, "{aggressor} at {} forces {victim} to {}", digit(at), digit(high))
            }
            Self::Primitive { primitive, aggressor: None, victim } => {
                write!(f, "{victim} {primitive}")
            }
            Self::Primitive { primitive, aggressor: Some(aggressor), victim } => {
                write!(f, "{aggressor} to {victim} {primitive}")
            }
            Self::Retention { cell, high, milliseconds } => {
                write!(f, "{cell} loses {} after {milliseconds} ms", digit(high))
            }
            Self::Leaky { cell, milliseconds } => write!(f, "{cell} leaks in {milliseconds} ms"),
            Self::SlowCell { cell, factor } => write!(f, "{cell} slow {factor}"),
            Self::Access { nanoseconds } => write!(f, "access {nanoseconds} ns"),
            Self::Column { column, bit, high } => {
                write!(f, "column {column} bit {bit} reads {}", digit(high))
            }
            Self::CoupledColumns { column, other, bit, wired } => {
                write!(f, "columns {column} and {other} bit {bit} coupled{wired}")
            }
            Self::Row { row, high } => write!(f, "row {row} reads {}", digit(high)),
            Self::AddressStuck { line, high } => {
                write!(f, "address line {line} stuck at {}", digit(high))
            }
            Self::AddressShorted { line, other, wired } => {
                write!(f, "address lines {line} and {other} shorted{wired}")
            }
            Self::DataStuck { line, high } => {
                write!(f, "data line {line} stuck at {}", digit(high))
            }
            Self::DataShorted { line, other, wired } => {
                write!(f, "data lines {line} and {other} shorted{wired}")
            }
            Self::HalfDead { line, high } => {
                write!(f, "half with address bit {line} at {} dead", digit(high))
            }
        }
    }
}

/// Reads numbers of a phrase, and says which of them is wrong.
struct Reader<'a>(&'a str);

impl Reader<'_> {
    fn error(&self, word: &str, wanted: &'static str) -> PhraseError {
        PhraseError::Number {
            phrase: self.0.trim().to_owned(),
            word: format!("\"{word}\""),
            wanted,
        }
    }

    fn number(&self, word: &str, most: u32, wanted: &'static str) -> Result<u32, PhraseError> {
        let parsed = match word.strip_prefix("0x").or_else(|| word.strip_prefix("0X")) {
            Some(digits) => u32::from_str_radix(digits, 16).ok(),
            None => word.parse().ok(),
        };
        parsed.filter(|&value| value <= most).ok_or_else(|| self.error(word, wanted))
    }

    fn address(&self, word: &str) -> Result<u32, PhraseError> {
        self.number(word, (1 << 24) - 1, "an address such as 5 or 0x1F")
    }

    fn bit(&self, word: &str) -> Result<u8, PhraseError> {
        self.number(word, 15, "a bit number from 0 to 15").map(|bit| bit as u8)
    }

    fn line(&self, word: &str) -> Result<u8, PhraseError> {
        self.number(word, 23, "a line number from 0 to 23").map(|line| line as u8)
    }

    fn cell(&self, address: &str, bit: &str) -> Result<Cell, PhraseError> {
        Ok(Cell { address: self.address(address)?, bit: self.bit(bit)? })
    }

    fn value(&self, word: &str) -> Result<bool, PhraseError> {
        self.number(word, 1, "0 or 1").map(|value| value == 1)
    }

    fn milliseconds(&self, word: &str) -> Result<u32, PhraseError> {
        match self.number(word, 1_000_000, "1 to 1000000 ms")? {
            0 => Err(self.error(word, "1 to 1000000 ms")),
            value => Ok(value),
        }
    }

    fn other(&self, first: u32, word: &str, second: u32) -> Result<(), PhraseError> {
        if first == second { Err(self.error(word, "another than the first")) } else { Ok(()) }
    }

    fn primitive(&self, word: &str, cells: bool) -> Result<Primitive, PhraseError> {
        let primitive: Primitive = word
            .parse()
            .map_err(|super::primitive::NotAPrimitive(wanted)| self.error(word, wanted))?;
        match (primitive.aggressor.is_some(), cells) {
            (true, false) => Err(self.error(word, "a primitive of one cell, <S/F/R>")),
            (false, true) => Err(self.error(word, "a primitive of two cells, <Sa;Sv/F/R>")),
            _ => Ok(primitive),
        }
    }
}

/// Reads a phrase; `None` where none of a memory begins like this.
pub(crate) fn parse(text: &str) -> Option<Result<Fault, PhraseError>> {
    let mut words: Vec<&str> = text.split_whitespace().collect();
    let wired = if words.ends_with(&["wired", "or"]) {
        words.truncate(words.len() - 2);
        Some(Wired::Or)
    } else {
        None
    };
    let fault = phrase(text, &words, wired.unwrap_or_default())?;
    let takes_wired = matches!(
        fault,
        Ok(Fault::NoCell { .. }
            | Fault::TakenOver { .. }
            | Fault::ExtraCell { .. }
            | Fault::CoupledColumns { .. }
            | Fault::AddressShorted { .. }
            | Fault::DataShorted { .. })
    );
    (wired.is_none() || takes_wired || fault.is_err()).then_some(fault)
}

fn phrase(text: &str, words: &[&str], wired: Wired) -> Option<Result<Fault, PhraseError>> {
    let read = Reader(text);
    Some(match *words {
        ["cell", address, "bit", bit, ref what @ ..] => of_cell(&read, address, bit, what)?,
        ["address", address, "reaches", "no", "cell"] => {
            read.address(address).map(|address| Fault::NoCell { address, wired })
        }
        ["address", by, "takes", "over", "cell", address] => {
            two(&read, by, address).map(|(by, address)| Fault::TakenOver { by, address, wired })
        }
        ["address", address, "reaches", "cell", other, "instead"] => {
            two(&read, address, other).map(|(address, other)| Fault::OtherCell { address, other })
        }
        ["address", address, "reaches", "cell", other, "too"] => two(&read, address, other)
            .map(|(address, other)| Fault::ExtraCell { address, other, wired }),
        ["access", nanoseconds, "ns"] => read
            .number(nanoseconds, 1_000_000, "1 to 1000000 ns")
            .map(|nanoseconds| Fault::Access { nanoseconds: nanoseconds.max(1) }),
        ["column", column, "bit", bit, "reads", value] => (|| {
            let (column, bit) = (read.address(column)?, read.bit(bit)?);
            Ok(Fault::Column { column, bit, high: read.value(value)? })
        })(),
        ["columns", column, "and", other, "bit", bit, "coupled"] => two(&read, column, other)
            .and_then(|(column, other)| {
                Ok(Fault::CoupledColumns { column, other, bit: read.bit(bit)?, wired })
            }),
        ["row", row, "reads", value] => {
            read.address(row).and_then(|row| Ok(Fault::Row { row, high: read.value(value)? }))
        }
        ["address", "line", line, "stuck", "at", value] => read
            .line(line)
            .and_then(|line| Ok(Fault::AddressStuck { line, high: read.value(value)? })),
        ["address", "lines", line, "and", other, "shorted"] => two_lines(&read, line, other)
            .map(|(line, other)| Fault::AddressShorted { line, other, wired }),
        ["data", "line", line, "stuck", "at", value] => {
            read.bit(line).and_then(|line| Ok(Fault::DataStuck { line, high: read.value(value)? }))
        }
        ["data", "lines", line, "and", other, "shorted"] => two_lines(&read, line, other)
            .map(|(line, other)| Fault::DataShorted { line, other, wired }),
        ["half", "with", "address", "bit", line, "at", value, "dead"] => {
            read.line(line).and_then(|line| Ok(Fault::HalfDead { line, high: read.value(value)? }))
        }
        _ => return None,
    })
}

fn two(read: &Reader<'_>, first: &str, second: &str) -> Result<(u32, u32), PhraseError> {
    let (a, b) = (read.address(first)?, read.address(second)?);
    read.other(a, second, b).map(|()| (a, b))
}

fn two_lines(read: &Reader<'_>, first: &str, second: &str) -> Result<(u8, u8), PhraseError> {
    let (a, b) = (read.line(first)?, read.line(second)?);
    read.other(a.into(), second, b.into()).map(|()| (a, b))
}

fn of_cell(
    read: &Reader<'_>,
    address: &str,
    bit: &str,
    what: &[&str],
) -> Option<Result<Fault, PhraseError>> {
    let known = matches!(
        *what,
        ["stuck", "at", _]
            | ["stuck", "open"]
            | ["cannot", "rise" | "fall"]
            | ["rising" | "falling", "inverts", "cell", _, "bit", _]
            | ["rising" | "falling", "sets", "cell", _, "bit", _, "to", _]
            | ["at", _, "forces", "cell", _, "bit", _, "to", _]
            | ["to", "cell", _, "bit", _, _]
            | ["loses", _, "after", _, "ms"]
            | ["leaks", "in", _, "ms"]
            | ["slow", _]
    );
    if !known && !matches!(*what, [primitive] if primitive.starts_with(['<', '\u{27e8}'])) {
        return None;
    }
    Some((|| {
        let cell = read.cell(address, bit)?;
        let victim = |address, bit| {
            let victim = read.cell(address, bit)?;
            if victim == cell {
                return Err(read.error(address, "another cell than the first"));
            }
            Ok(victim)
        };
        Ok(match *what {
            ["stuck", "at", value] => Fault::StuckAt { cell, high: read.value(value)? },
            ["stuck", "open"] => Fault::StuckOpen { cell },
            ["cannot", edge] => Fault::Transition { cell, rise: edge == "rise" },
            [edge, "inverts", "cell", address, "bit", bit] => Fault::Inversion {
                aggressor: cell,
                rise: edge == "rising",
                victim: victim(address, bit)?,
            },
            [edge, "sets", "cell", address, "bit", bit, "to", value] => Fault::Idempotent {
                aggressor: cell,
                rise: edge == "rising",
                victim: victim(address, bit)?,
                high: read.value(value)?,
            },
            ["at", at, "forces", "cell", address, "bit", bit, "to", value] => Fault::State {
                aggressor: cell,
                at: read.value(at)?,
                victim: victim(address, bit)?,
                high: read.value(value)?,
            },
            ["to", "cell", address, "bit", bit, primitive] => Fault::Primitive {
                primitive: read.primitive(primitive, true)?,
                aggressor: Some(cell),
                victim: victim(address, bit)?,
            },
            ["loses", value, "after", time, "ms"] => Fault::Retention {
                cell,
                high: read.value(value)?,
                milliseconds: read.milliseconds(time)?,
            },
            ["leaks", "in", time, "ms"] => {
                Fault::Leaky { cell, milliseconds: read.milliseconds(time)? }
            }
            ["slow", factor] => match read.number(factor, 1_000, "a factor from 2 to 1000")? {
                0 | 1 => return Err(read.error(factor, "a factor from 2 to 1000")),
                factor => Fault::SlowCell { cell, factor },
            },
            // Nothing else passes the look above.
            _ => Fault::Primitive {
                primitive: read.primitive(what[0], false)?,
                aggressor: None,
                victim: cell,
            },
        })
    })())
}

impl Fault {
    /// Whether a memory has the places that the fault names; else what it lacks.
    pub(crate) fn fits(&self, memory: Option<&Memory>) -> Result<(), String> {
        let memory = memory.ok_or("memory")?;
        let geometry = Geometry::new(memory);
        let below = |what: &str, value: u32, count: u32| {
            if value < count { Ok(()) } else { Err(format!("{what} {value}: there are {count}")) }
        };
        let address = |value| below("address", value, geometry.words);
        let bit = |value: u8| below("bit", value.into(), geometry.bits);
        let line = |value: u8| below("address line", value.into(), memory.address.len() as u32);
        let column = |value| below("column", value, geometry.columns());
        let cell = |cell: Cell| address(cell.address).and(bit(cell.bit));
        match *self {
            Self::StuckAt { cell: at, .. }
            | Self::Transition { cell: at, .. }
            | Self::StuckOpen { cell: at }
            | Self::Retention { cell: at, .. }
            | Self::SlowCell { cell: at, .. } => cell(at),
            Self::Leaky { cell: at, .. } => match memory.strobes.len() {
                0 => Err("dynamic cells".to_owned()),
                _ => cell(at),
            },
            Self::NoCell { address: at, .. } => address(at),
            Self::TakenOver { by: at, address: other, .. }
            | Self::OtherCell { address: at, other }
            | Self::ExtraCell { address: at, other, .. } => address(at).and(address(other)),
            Self::Inversion { aggressor, victim, .. }
            | Self::Idempotent { aggressor, victim, .. }
            | Self::State { aggressor, victim, .. } => cell(aggressor).and(cell(victim)),
            Self::Primitive { aggressor, victim, .. } => {
                aggressor.map_or(Ok(()), cell).and(cell(victim))
            }
            Self::Access { .. } => Ok(()),
            Self::Column { column: at, bit: of, .. } => column(at).and(bit(of)),
            Self::CoupledColumns { column: at, other, bit: of, .. } => {
                column(at).and(column(other)).and(bit(of))
            }
            Self::Row { row, .. } => below("row", row, geometry.rows()),
            Self::AddressStuck { line: at, .. } => line(at),
            Self::AddressShorted { line: at, other, .. } => line(at).and(line(other)),
            Self::DataStuck { line: at, .. } => bit(at),
            Self::DataShorted { line: at, other, .. } => bit(at).and(bit(other)),
            Self::HalfDead { line, .. } => {
                below("address bit", line.into(), geometry.words.trailing_zeros())
            }
        }
    }
}
