//! March tests that the station addresses itself.
//!
//! Everything that the station must know of a memory is in one [`MarchSetup`]: which pins are
//! address and data, how a word is read and written, what the data sheet asks for between pin
//! changes, and the march itself. A [`Header`](crate::Header) of the kind
//! [`March`](crate::Kind::March) comes before it; its settling times are not used, nor is its
//! capture.

use crate::{Failure, Pins, Place, Rail, Summary};
use heapless::Vec;
use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// The most address pins.
pub const MAX_ADDRESS: usize = 20;
/// The most bits of a word.
pub const MAX_WIDTH: usize = 16;
/// The most moves of a cycle.
pub const MAX_MOVES: usize = 16;
/// The most data backgrounds.
pub const MAX_BACKGROUNDS: usize = 8;
/// The most march elements.
pub const MAX_ELEMENTS: usize = 24;
/// The most operations of a march element.
pub const MAX_OPERATIONS: usize = 16;
/// The most failing reads in a reply.
pub const MAX_MISSES: usize = 64;
/// The most words that are read out in a reply.
pub const MAX_WORDS: usize = 128;

/// One move of a cycle. Moves run in their order; each lasts as long as the station takes for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Move {
    /// Take control pins to levels.
    Set {
        /// The control pins that change.
        pins: Pins,
        /// Those of them to drive high; the rest goes low.
        high: Pins,
    },
    /// Put the address on the address pins. Not for a strobed address.
    Address,
    /// Put the row, the upper part of a strobed address, on the first address pins.
    Row,
    /// Put the column, the lower part of a strobed address, on the first address pins.
    Column,
    /// Put the word on the data inputs and drive them.
    Data,
    /// Stop driving data pins that are input and output.
    Release,
    /// Wait. The time counts from when the move before has been done at all its pins. Before a
    /// sample it ends as closely as the station can: the sample follows within the station's
    /// [`sample_ns`](crate::Capabilities::sample_ns) after it, in steps of its
    /// [`step_ns`](crate::Capabilities::step_ns). A wait that is shorter than what the station
    /// needs between two moves anyway makes no difference.
    Wait {
        /// At least this long, in nanoseconds.
        ns: u32,
    },
    /// Look at the data outputs. They are compared once the cycle is over.
    Sample,
}

/// How a word is read, written or refreshed. It begins and ends with every control pin at its idle
/// level and with no data output driven.
pub type Cycle = Vec<Move, MAX_MOVES>;

/// The two parts of an address that is strobed in by halves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Strobed {
    /// The bits of the row, the upper part.
    pub row_bits: u8,
    /// The bits of the column, the lower part.
    pub column_bits: u8,
}

/// What a dynamic memory gets before its first cycle.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct StartUp {
    /// The pause, in microseconds.
    pub pause_us: u32,
    /// How many cycles follow it: refresh cycles, or read cycles where there is no refresh.
    pub cycles: u8,
}

/// How a dynamic memory is refreshed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Refresh {
    /// The cycle that refreshes a row; [`Move::Row`] puts the row.
    pub cycle: Cycle,
    /// How many rows there are.
    pub rows: u16,
    /// How long a row may go without refresh, in nanoseconds.
    pub interval_ns: u32,
}

/// The order of addresses in a march element.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Order {
    /// Ascending.
    Up,
    /// Descending.
    Down,
    /// Either; [`MarchSetup::any_down`] says which.
    Any,
}

/// An operation of a march element, on the word at one address.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Operation {
    /// Read and expect the background.
    R0,
    /// Read and expect the background's complement.
    R1,
    /// Write the background.
    W0,
    /// Write the background's complement.
    W1,
}

/// A march element.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Element {
    /// At each address in turn, all operations.
    Each {
        /// The order of the addresses.
        order: Order,
        /// The operations at each.
        operations: Vec<Operation, MAX_OPERATIONS>,
    },
    /// Leave the memory alone.
    Pause {
        /// How long, in milliseconds.
        ms: u32,
        /// Whether a dynamic memory is refreshed meanwhile.
        refresh: bool,
    },
}

/// A memory and its march. The march runs once for each background.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct MarchSetup {
    /// The address pins, least significant first.
    pub address: Vec<u8, MAX_ADDRESS>,
    /// Whether the address is strobed in by halves, and how many bits each has.
    pub strobed: Option<Strobed>,
    /// The data inputs, least significant first; none for a memory that is only read.
    pub data_in: Vec<u8, MAX_WIDTH>,
    /// The data outputs, least significant first. They may be the inputs too.
    pub data_out: Vec<u8, MAX_WIDTH>,
    /// How many words there are, at addresses from 0.
    pub words: u32,
    /// The control pins.
    pub control: Pins,
    /// Those of them that are high between cycles.
    pub idle: Pins,
    /// The light keepers' rail during the march.
    pub light: Rail,
    /// The firm keepers' rail during the march.
    pub firm: Rail,
    /// How a word is read.
    pub read: Cycle,
    /// How a word is written; empty for a memory that is only read.
    pub write: Cycle,
    /// What comes before the first cycle.
    pub start: StartUp,
    /// How it is refreshed; `None` for a static memory.
    pub refresh: Option<Refresh>,
    /// The data backgrounds.
    pub backgrounds: Vec<u16, MAX_BACKGROUNDS>,
    /// The march; empty where the memory is only read out.
    pub elements: Vec<Element, MAX_ELEMENTS>,
    /// Whether elements of either order run downwards.
    pub any_down: bool,
    /// After this many failing reads the march ends at the next address; 1 at least.
    pub most_failures: u32,
}

/// What is wrong with a set-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum MarchFlaw {
    /// A pin is named twice or in two roles, is not there, or idles without being a control pin;
    /// or the data inputs are neither none nor as many as the outputs.
    Pins,
    /// There are no words, or more than the address reaches.
    Words,
    /// There is no background, or one has more bits than a word.
    Backgrounds,
    /// An element has no operations, or writes to a memory that is only read.
    Elements,
    /// A move is not possible in its cycle. One beyond the last says that the cycle does not end
    /// idle, waits too long, or lacks its sample or its data.
    Cycle {
        /// 0 read, 1 write, 2 refresh.
        cycle: u8,
        /// The move's number.
        index: u8,
    },
    /// The rows cannot be refreshed that often, or the pause before the first cycle is too long.
    Refresh,
    /// The number of failures to end at is 0.
    Failures,
}

/// A read that failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Miss {
    /// The march element, from 0.
    pub element: u8,
    /// The operation within it, from 0.
    pub operation: u8,
    /// The data background, from 0.
    pub background: u8,
    /// The address.
    pub address: u32,
    /// The word that was seen.
    pub seen: u16,
}

/// The reply to a piece of a march.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Marched {
    /// The reads that failed in this piece, in order.
    pub misses: Vec<Miss, MAX_MISSES>,
    /// How many operations ran since the march began; saturates.
    pub operations: u32,
    /// What was found, once the march has ended. A trip or too many failures end it early.
    pub summary: Option<Summary>,
}

/// The reply to a read-out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Words {
    /// The words, as many as were asked for unless the supply has tripped.
    pub words: Vec<u16, MAX_WORDS>,
    /// What was found, once the last word has been read or the supply has tripped.
    pub summary: Option<Summary>,
}

impl MarchSetup {
    /// All bits of a word.
    pub fn word(&self) -> u16 {
        u16::MAX.checked_shr(16_u32.saturating_sub(self.data_out.len() as u32)).unwrap_or(0)
    }

    /// How many operations the whole march has.
    pub fn operations(&self) -> u64 {
        let each: usize = self
            .elements
            .iter()
            .map(|element| match element {
                Element::Each { operations, .. } => operations.len(),
                Element::Pause { .. } => 0,
            })
            .sum();
        each as u64 * u64::from(self.words) * self.backgrounds.len() as u64
    }

    /// The word that a read should have seen; `None` where there is no such read.
    pub fn expected(&self, miss: &Miss) -> Option<u16> {
        let Element::Each { operations, .. } = self.elements.get(usize::from(miss.element))? else {
            return None;
        };
        let background = *self.backgrounds.get(usize::from(miss.background))?;
        match operations.get(usize::from(miss.operation))? {
            Operation::R0 => Some(background),
            Operation::R1 => Some(!background & self.word()),
            Operation::W0 | Operation::W1 => None,
        }
    }

    /// A failing read in terms of pins, the data outputs alone; `None` where there is no such
    /// read.
    pub fn failure(&self, miss: &Miss) -> Option<Failure> {
        let expected = self.expected(miss)?;
        let pins = |word: u16| -> Pins {
            let bits = self.data_out.iter().enumerate();
            bits.filter(|(bit, _)| word >> bit & 1 == 1).map(|(_, &pin)| pin).collect()
        };
        Some(Failure {
            place: miss.place(),
            pins: pins((miss.seen ^ expected) & self.word()),
            expected: pins(expected),
            seen: pins(miss.seen),
        })
    }
}

impl Miss {
    /// Where it failed.
    pub const fn place(&self) -> Place {
        Place::March {
            element: self.element,
            operation: self.operation,
            background: self.background,
            address: self.address,
        }
    }
}

impl Operation {
    /// Whether it writes.
    pub const fn writes(self) -> bool {
        matches!(self, Self::W0 | Self::W1)
    }

    /// Whether it is about the background's complement.
    pub const fn inverts(self) -> bool {
        matches!(self, Self::R1 | Self::W1)
    }
}
