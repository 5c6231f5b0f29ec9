//! What can be wrong.

use serde::{Deserialize, Serialize};

/// One cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Cell {
    /// The address of its word.
    pub address: u32,
    /// Its bit in the word, 0 is the least significant.
    pub bit: u8,
}

/// What is wrong with a cell by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum CellFault {
    /// It always reads as this value.
    StuckAt(bool),
    /// It cannot change from 0 to 1.
    CannotRise,
    /// It cannot change from 1 to 0.
    CannotFall,
    /// It loses a value in a pause.
    Loses {
        /// The value.
        value: bool,
        /// The shortest pause of the march in which it did, in milliseconds.
        within_ms: u32,
    },
    /// A dynamic cell that loses a value sooner than it is refreshed.
    Leaks {
        /// The value.
        value: bool,
    },
    /// It is cut off: a read gives what was read before.
    Open,
    /// A read of this value gives the other, and the cell changes to it.
    ReadFlips(bool),
    /// A read of this value is right, but the cell changes to the other.
    ReadUpsets(bool),
    /// A read of this value gives the other, and the cell keeps its own.
    ReadsWrong(bool),
    /// Writing this value once more changes the cell to the other.
    WriteFlips(bool),
}

/// What the aggressor of a coupling does to make its victim fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Condition {
    /// It changes from 0 to 1.
    Rises,
    /// It changes from 1 to 0.
    Falls,
    /// This value, which it holds already, is written to it.
    Rewritten(bool),
    /// It is read while it holds this value.
    Read(bool),
}

/// How one cell affects another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Effect {
    /// When the aggressor does this, the victim takes this value.
    Sets(Condition, bool),
    /// When the aggressor does this, the victim inverts.
    Inverts(Condition),
    /// While the aggressor holds the first value, the victim has a fault of its own.
    While(bool, CellFault),
    /// What is written to the aggressor's address is written to the victim too.
    TakesWrites,
    /// The victim's address reaches the other cell too, and reads what both hold together.
    ReachesToo(Joined),
}

/// What two cells read together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Joined {
    /// 0 if one holds 0.
    LowWins,
    /// 1 if one holds 1.
    HighWins,
}

/// Where aggressors are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Place {
    /// In words at lower addresses.
    Below,
    /// In words at higher addresses.
    Above,
    /// In the victim's own word.
    SameWord,
}

/// The cells that may be the aggressor of a coupling. The order of the addresses and the
/// backgrounds are all that a march tells of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Aggressors {
    /// Where they are.
    pub place: Place,
    /// The bits that they can be of.
    pub bits: u16,
    /// How many they are.
    pub count: u32,
    /// The nearest of them to the victim: likely ones, where the physical order is known, which is
    /// common practice and no proof. All of them where `count` is not larger. None are named of a coupling
    /// that is not the first of its finding.
    pub nearest: Vec<Cell>,
}

/// Which level wins on shorted lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Wins {
    /// Low.
    Low,
    /// High.
    High,
    /// Whatever is on this line.
    Line(u8),
}

/// How the cells of a row, column or block fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum LineFault {
    /// They read as this value.
    Reads(bool),
    /// They read as they should at once after a write, and have lost this value later; `None`
    /// where some lose one and others the other.
    Loses(Option<bool>),
    /// They have lost this value, or read as its opposite always.
    ReadsOrLoses(bool),
    /// They lose this value in a pause; `None` as above.
    LosesInPause(Option<bool>),
    /// They fail in several ways.
    Variously,
}

/// All words whose address has given levels on some lines.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Block {
    /// The address bits that are fixed.
    pub fixed: u32,
    /// Their levels.
    pub levels: u32,
}

/// What is wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Every read gives the same word.
    Dead {
        /// That word.
        word: u16,
    },
    /// A bit always reads as one level: a data line stuck or open.
    DataStuck {
        /// The bit.
        line: u8,
        /// The level.
        high: bool,
    },
    /// Two data lines are one.
    DataShorted {
        /// The lower bit.
        line: u8,
        /// The upper bit.
        other: u8,
        /// Which level wins.
        wins: Wins,
    },
    /// Address bits that make no difference: both levels reach one word.
    AddressLine {
        /// The bits: both of a pin, where the address is strobed.
        lines: Vec<u8>,
    },
    /// Two address pins are one.
    AddressShorted {
        /// The pairs of bits: two of them, where both pins carry a row and a column bit.
        pairs: Vec<(u8, u8)>,
        /// Which level wins.
        wins: Wins,
    },
    /// One half does not hold anything, the other is good.
    HalfDead {
        /// The address bit that tells the halves.
        line: u8,
        /// Its level in the dead half.
        high: bool,
        /// What is read there.
        reads: LineFault,
    },
    /// Rows fail.
    Rows {
        /// Their numbers, by the row bits of the arrangement.
        rows: Vec<u32>,
        /// The bits of the word.
        bits: u16,
        /// How.
        fault: LineFault,
    },
    /// Columns fail.
    Columns {
        /// Their numbers.
        columns: Vec<u32>,
        /// The bits of the word.
        bits: u16,
        /// How.
        fault: LineFault,
    },
    /// A block of words fails, where rows and columns are not known.
    Block {
        /// The block.
        block: Block,
        /// The bits of the word.
        bits: u16,
        /// How.
        fault: LineFault,
    },
    /// Two addresses reach one word.
    SharedWord {
        /// The lower address.
        address: u32,
        /// The higher one.
        other: u32,
    },
    /// Cells by themselves.
    Cells {
        /// What is wrong with each.
        fault: CellFault,
        /// The first of them, at most [`Cause::MOST_CELLS`].
        cells: Vec<Cell>,
        /// How many they are.
        count: u32,
    },
    /// One cell disturbs another.
    Coupling {
        /// The cell that goes wrong.
        victim: Cell,
        /// How.
        effect: Effect,
        /// The cell that may make it do so.
        aggressors: Aggressors,
    },
    /// Reads that are right when they are given more time.
    Slow {
        /// The cells, at most [`Cause::MOST_CELLS`]; none where it is the whole chip.
        cells: Vec<Cell>,
        /// How many they are; 0 for the whole chip.
        count: u32,
    },
    /// Nothing simpler covers these failures.
    Scattered {
        /// How many cells fail.
        cells: u32,
        /// How many bits were read as 0 instead of 1.
        zeros_for_ones: u64,
        /// How many bits were read as 1 instead of 0.
        ones_for_zeros: u64,
        /// The bits of the word in which they are.
        bits: u16,
    },
}

impl Cause {
    /// The most cells that a cause lists.
    pub const MOST_CELLS: usize = 16;
}

/// Half of a chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Half {
    /// The address bit that tells the halves.
    pub line: u8,
    /// Its level in this half.
    pub high: bool,
}

/// A cause and what speaks for it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// The simplest cause.
    pub cause: Cause,
    /// Other causes that fail the very same reads: the march does not tell them from the first.
    pub or: Vec<Cause>,
    /// Whether the failures force one of these causes among all that are known here: each covered
    /// cell fails exactly the reads that the cause fails, and the march was not ended early.
    pub certain: bool,
    /// How many failing reads have a wrong bit that it covers.
    pub reads: u64,
    /// How many cells fail by it.
    pub cells: u32,
}
