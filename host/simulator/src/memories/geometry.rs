//! Where a memory's cells lie: rows and columns by address.

use dipsift_language::{Memory, PinId};

/// Rows and columns of an array.
///
/// The address of a word of a dynamic part is its row, and above that its column. Rows and columns
/// of a static part are those of its description, else the lower and the upper half of the
/// address bits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Geometry {
    pub(crate) words: u32,
    pub(crate) bits: u32,
    /// The address bits of a row, least significant first.
    row: Vec<u8>,
    column: Vec<u8>,
    /// The address bits at the row strobe.
    row_bits: u32,
    /// By address pin, the pin's bit in the column; empty without strobes.
    column_pins: Vec<Option<u8>>,
}

impl Geometry {
    pub(crate) fn new(memory: &Memory) -> Self {
        let lines = memory.address.len() as u32;
        let of = |pins: &[PinId], pin: PinId| {
            pins.iter().rev().position(|&at| at == pin).map(|bit| bit as u8)
        };
        if memory.strobes.is_empty() {
            let (row, column) = match &memory.array {
                Some(array) => {
                    let bits = |pins: &[PinId]| -> Vec<u8> {
                        pins.iter().rev().filter_map(|&pin| of(&memory.address, pin)).collect()
                    };
                    (bits(&array.row), bits(&array.column))
                }
                None => split(lines, lines.div_ceil(2)),
            };
            let (words, bits) = (memory.words, memory.bits);
            return Self { words, bits, row, column, row_bits: lines, column_pins: Vec::new() };
        }
        // Without a line of its own every address pin counts at the column strobe.
        let pins = if memory.column.is_empty() { &memory.address } else { &memory.column };
        let all = lines + pins.len() as u32;
        let (row, column) = split(all, lines);
        Self {
            // A part of which half is good has all the cells.
            words: 1 << all,
            bits: memory.bits,
            row,
            column,
            row_bits: lines,
            column_pins: memory.address.iter().rev().map(|&pin| of(pins, pin)).collect(),
        }
    }

    pub(crate) const fn rows(&self) -> u32 {
        1 << self.row.len()
    }

    pub(crate) const fn columns(&self) -> u32 {
        1 << self.column.len()
    }

    pub(crate) fn row(&self, address: u32) -> u32 {
        gather(&self.row, address)
    }

    pub(crate) fn column(&self, address: u32) -> u32 {
        gather(&self.column, address)
    }

    pub(crate) fn address(&self, row: u32, column: u32) -> u32 {
        scatter(&self.row, row) | scatter(&self.column, column)
    }

    /// The row that address lines choose at the row strobe.
    pub(crate) const fn row_at_strobe(&self, lines: u32) -> u32 {
        lines & ((1 << self.row_bits) - 1)
    }

    /// The column that address lines choose at the column strobe.
    pub(crate) fn column_at_strobe(&self, lines: u32) -> u32 {
        let bits = self.column_pins.iter().enumerate();
        bits.fold(0, |column, (line, bit)| match bit {
            Some(bit) => column | (lines >> line & 1) << bit,
            None => column,
        })
    }

    /// All bits of a word.
    pub(crate) const fn mask(&self) -> u32 {
        u32::MAX >> (32 - self.bits)
    }
}

fn split(all: u32, low: u32) -> (Vec<u8>, Vec<u8>) {
    ((0..low as u8).collect(), (low as u8..all as u8).collect())
}

fn gather(bits: &[u8], address: u32) -> u32 {
    bits.iter().enumerate().fold(0, |value, (at, bit)| value | (address >> bit & 1) << at)
}

fn scatter(bits: &[u8], value: u32) -> u32 {
    bits.iter().enumerate().fold(0, |address, (at, bit)| address | (value >> at & 1) << bit)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pins(count: u16) -> Vec<PinId> {
        (0..count).rev().map(PinId).collect()
    }

    #[test]
    fn a_published_order_is_followed() {
        // As a 2114: rows by A8 to A3, columns by A9 and A2 to A0.
        let array = dipsift_language::Array {
            row: [8, 7, 6, 5, 4, 3].map(PinId).to_vec(),
            column: [9, 2, 1, 0].map(PinId).to_vec(),
        };
        let memory = Memory {
            words: 1024,
            bits: 4,
            address: pins(10),
            array: Some(array),
            ..Memory::default()
        };
        let geometry = Geometry::new(&memory);
        assert_eq!((geometry.rows(), geometry.columns()), (64, 16));
        let address = 0b10_1101_0110;
        assert_eq!((geometry.row(address), geometry.column(address)), (0b01_1010, 0b1110));
        assert_eq!(geometry.address(0b01_1010, 0b1110), address);
    }

    #[test]
    fn some_pins_may_not_count_at_the_column_strobe() {
        // As a 4416: 256 rows, 64 columns by A6 to A1.
        let memory = Memory {
            words: 16_384,
            bits: 4,
            address: pins(8),
            column: [6, 5, 4, 3, 2, 1].map(PinId).to_vec(),
            strobes: vec![PinId(8), PinId(9)],
            ..Memory::default()
        };
        let geometry = Geometry::new(&memory);
        assert_eq!((geometry.rows(), geometry.columns(), geometry.words), (256, 64, 16_384));
        assert_eq!(geometry.row_at_strobe(0b1010_0101), 0b1010_0101);
        assert_eq!(geometry.column_at_strobe(0b1010_0101), 0b01_0010);
        assert_eq!(geometry.address(0xA5, 0x12), 0x12A5);
    }
}
