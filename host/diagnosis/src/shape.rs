//! The memory that was marched.

use serde::{Deserialize, Serialize};

/// Which strobe takes an address bit in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Strobe {
    /// The row strobe.
    Row,
    /// The column strobe.
    Column,
}

/// One bit of the address.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct AddressLine {
    /// The name of the pin that carries it.
    pub pin_name: String,
    /// That package pin. Two bits of a strobed address share theirs.
    pub pin: u8,
    /// The strobe that takes it in; `None` where the address is not strobed.
    pub strobe: Option<Strobe>,
}

/// One bit of the word.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct DataLine {
    /// The name of the output.
    pub output: String,
    /// Its package pin.
    pub output_pin: u8,
    /// The name of the input, the output's own where the pin is both.
    pub input: String,
    /// Its package pin.
    pub input_pin: u8,
}

/// Where the cells lie on the chip, as far as it is published.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Physical {
    /// The address bits that choose the row, most significant first.
    pub row: Vec<u8>,
    /// The address bits that choose the column, most significant first.
    pub column: Vec<u8>,
}

/// A memory as its march saw it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shape {
    /// The number, as printed.
    pub number: String,
    /// How many words were marched, at addresses from 0.
    pub words: u32,
    /// The address, least significant bit first. Of a strobed address the row is the upper part.
    pub address: Vec<AddressLine>,
    /// The word, bit 0 first; 1 to 16 bits.
    pub data: Vec<DataLine>,
    /// Where the cells lie; `None` where that is not published.
    pub physical: Option<Physical>,
    /// How many rows are refreshed; `None` for a static part.
    pub refresh_rows: Option<u32>,
}

/// What the rows and columns of an [`Arrangement`] are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Known {
    /// As published.
    Physical,
    /// As strobed.
    Strobed,
    /// The upper and the lower address bits: a way to draw, nothing more.
    Logical,
}

/// Rows and columns by address bit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrangement {
    pub(crate) known: Known,
    /// The address bits of the row, least significant first.
    pub(crate) row: Vec<u8>,
    pub(crate) column: Vec<u8>,
}

impl AddressLine {
    /// Its name, with the strobe where there is one: "A0 at the row strobe".
    pub fn name(&self) -> String {
        match self.strobe {
            None => self.pin_name.clone(),
            Some(Strobe::Row) => format!("{} at the row strobe", self.pin_name),
            Some(Strobe::Column) => format!("{} at the column strobe", self.pin_name),
        }
    }
}

impl DataLine {
    /// Its name: that of the output, with the input's where they differ.
    pub fn name(&self) -> String {
        if self.input_pin == self.output_pin {
            format!("{} (pin {})", self.output, self.output_pin)
        } else {
            let (out, into) = (&self.output, &self.input);
            format!("{out} (pin {}) or its input {into} (pin {})", self.output_pin, self.input_pin)
        }
    }
}

impl Shape {
    /// How many bits a word has.
    pub fn bits(&self) -> u8 {
        self.data.len() as u8
    }

    /// All bits of a word.
    pub(crate) fn mask(&self) -> u16 {
        u16::MAX.checked_shr(16_u32.saturating_sub(self.data.len() as u32)).unwrap_or(0)
    }

    /// How many address bits tell words apart.
    pub(crate) fn address_bits(&self) -> u8 {
        u32::BITS.saturating_sub(self.words.saturating_sub(1).leading_zeros()) as u8
    }

    /// Rows and columns: as published, else as strobed, else near to a square by address.
    pub fn arrangement(&self) -> Arrangement {
        let used = self.address_bits();
        let of = |bits: &[u8]| -> Vec<u8> {
            bits.iter().rev().copied().filter(|&bit| bit < used).collect()
        };
        if let Some(physical) = &self.physical {
            let (row, column) = (of(&physical.row), of(&physical.column));
            let mut all: Vec<u8> = row.iter().chain(&column).copied().collect();
            all.sort_unstable();
            // An order that leaves bits out would lay two words on one place.
            if all == (0..used).collect::<Vec<u8>>() {
                return Arrangement { known: Known::Physical, row, column };
            }
        }
        let strobed = |strobe| -> Vec<u8> {
            let lines = self.address.iter().take(used.into()).enumerate();
            lines.filter(|(_, l)| l.strobe == Some(strobe)).map(|(bit, _)| bit as u8).collect()
        };
        let (row, column) = (strobed(Strobe::Row), strobed(Strobe::Column));
        if row.len() + column.len() == usize::from(used) && !row.is_empty() && !column.is_empty() {
            return Arrangement { known: Known::Strobed, row, column };
        }
        let wide = u32::from(self.bits()).next_power_of_two().trailing_zeros() as u8;
        let low = (used.saturating_sub(wide) / 2).max(u8::from(used > 1));
        let (row, column) = ((low..used).collect(), (0..low).collect());
        Arrangement { known: Known::Logical, row, column }
    }
}

impl Arrangement {
    pub(crate) fn rows(&self) -> u32 {
        1 << self.row.len()
    }

    pub(crate) fn columns(&self) -> u32 {
        1 << self.column.len()
    }

    pub(crate) fn row_of(&self, address: u32) -> u32 {
        gather(&self.row, address)
    }

    pub(crate) fn column_of(&self, address: u32) -> u32 {
        gather(&self.column, address)
    }

    /// Whether rows and columns mean more than a way to draw.
    pub(crate) fn is_known(&self) -> bool {
        self.known != Known::Logical
    }
}

fn gather(bits: &[u8], address: u32) -> u32 {
    bits.iter().enumerate().fold(0, |value, (at, bit)| value | (address >> bit & 1) << at)
}
