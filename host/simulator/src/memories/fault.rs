//! What can be wrong with a memory array, and how it is written.

use super::geometry::Geometry;
use super::primitive::Primitive;
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
