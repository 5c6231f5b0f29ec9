//! Where a memory's cells lie: rows and columns by address.

use dipsift_language::Memory;

/// Rows and columns of an array.
///
/// A word's row is the low part of its address and its column the high part: in a dynamic part
/// the address pins at the row strobe and at the column strobe, in a static one the lower and the
/// upper half of the address bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Geometry {
    pub(crate) row_bits: u32,
    pub(crate) words: u32,
    pub(crate) bits: u32,
}

impl Geometry {
    pub(crate) fn new(memory: &Memory) -> Self {
        let lines = memory.address.len() as u32;
        let row_bits = if memory.strobes.is_empty() { lines.div_ceil(2) } else { lines };
        Self { row_bits, words: memory.words, bits: memory.bits }
    }

    pub(crate) const fn rows(self) -> u32 {
        1 << self.row_bits
    }

    pub(crate) const fn columns(self) -> u32 {
        self.words.div_ceil(self.rows())
    }

    pub(crate) const fn row(self, address: u32) -> u32 {
        address & (self.rows() - 1)
    }

    pub(crate) const fn column(self, address: u32) -> u32 {
        address >> self.row_bits
    }

    pub(crate) const fn address(self, row: u32, column: u32) -> u32 {
        column << self.row_bits | row
    }

    /// All bits of a word.
    pub(crate) const fn mask(self) -> u32 {
        u32::MAX >> (32 - self.bits)
    }
}
