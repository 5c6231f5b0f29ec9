//! The memory under the record of what is armed.

/// One of two sectors that are erased as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Sector {
    First,
    Second,
}

impl Sector {
    /// The other one.
    pub const fn other(self) -> Self {
        match self {
            Self::First => Self::Second,
            Self::Second => Self::First,
        }
    }
}

/// The memory has not done what was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryFault;

/// What a word reads after its sector was erased.
pub(crate) const ERASED: u32 = u32::MAX;

/// Flash memory of two sectors, written word by word.
pub trait Memory {
    /// How many words a sector has. Both have the same; 0 where there is no memory.
    fn words(&self) -> usize;

    /// Reads a word, counted from 0 in its sector; all ones outside it.
    fn read(&self, sector: Sector, word: usize) -> u32;

    /// Programs a word that is erased.
    ///
    /// # Errors
    ///
    /// The memory reports a failure, or does not come to an end.
    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault>;

    /// Erases a sector: all its words then read as all ones.
    ///
    /// # Errors
    ///
    /// The memory reports a failure, or does not come to an end.
    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault>;
}

/// The memory of a station that has none: nothing is ever armed.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoMemory;

impl Memory for NoMemory {
    fn words(&self) -> usize {
        0
    }

    fn read(&self, _: Sector, _: usize) -> u32 {
        ERASED
    }

    fn program(&mut self, _: Sector, _: usize, _: u32) -> Result<(), MemoryFault> {
        Err(MemoryFault)
    }

    fn erase(&mut self, _: Sector) -> Result<(), MemoryFault> {
        Err(MemoryFault)
    }
}
