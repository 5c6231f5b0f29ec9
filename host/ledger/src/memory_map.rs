//! Where a memory failed, in a form for [`Insertion::memory_map`](crate::Insertion::memory_map).
//!
//! The bytes: a version (1), the width of a word in bits, the number of words (four bytes, the
//! high one first); then for each word that failed, in the order of the addresses, the distance
//! from the one before (from -1 for the first) and the mask of its failing bits, both as
//! LEB128 (DWARF 5, section 7.6). A good memory takes six bytes.

use crate::Hex;
use std::collections::BTreeMap;
use thiserror::Error;

const VERSION: u8 = 1;
/// What [`Insertion::memory_map`](crate::Insertion::memory_map) can hold.
const MOST_BYTES: usize = 1 << 20;

/// Which bits of which words of a memory failed, by logical address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MemoryMap {
    words: u32,
    bits: u8,
    failing: BTreeMap<u32, u64>,
}

/// Why there is no such map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum MapError {
    /// A word has 1 to 64 bits, and there is at least one.
    #[error("{words} words of {bits} bits are no memory")]
    Size {
        /// How many words.
        words: u32,
        /// How wide.
        bits: u8,
    },
    /// The failing word is not in the memory, or none of its bits is.
    #[error("no bit of {mask:#x} at address {address:#x} is in the memory")]
    Outside {
        /// Its address.
        address: u32,
        /// The mask of its failing bits.
        mask: u64,
    },
    /// The map has too many failing words to be kept: over a mebibyte.
    #[error("the map is too large to be kept")]
    Large,
    /// The bytes are of another form.
    #[error("the bytes are no memory map of a known form")]
    Form,
}

impl MemoryMap {
    /// A map of a memory with this many words of `bits` bits, from the failing reads: the address
    /// and a mask of the bits that were wrong. Reads of one address are put together.
    pub fn new(
        words: u32,
        bits: u8,
        failing: impl IntoIterator<Item = (u32, u64)>,
    ) -> Result<Self, MapError> {
        if words == 0 || !(1..=64).contains(&bits) {
            return Err(MapError::Size { words, bits });
        }
        let all = u64::MAX >> (64 - bits);
        let mut map = Self { words, bits, failing: BTreeMap::new() };
        for (address, mask) in failing {
            if address >= words || mask == 0 || mask & !all != 0 {
                return Err(MapError::Outside { address, mask });
            }
            *map.failing.entry(address).or_default() |= mask;
        }
        Ok(map)
    }

    /// How many words the memory has.
    pub const fn words(&self) -> u32 {
        self.words
    }

    /// How many bits a word has.
    pub const fn bits(&self) -> u8 {
        self.bits
    }

    /// The failing words in the order of their addresses, with the masks of their failing bits.
    pub fn failing(&self) -> impl Iterator<Item = (u32, u64)> {
        self.failing.iter().map(|(&address, &mask)| (address, mask))
    }

    /// How many cells failed.
    pub fn failing_cells(&self) -> u64 {
        self.failing.values().map(|mask| u64::from(mask.count_ones())).sum()
    }

    /// The bytes, for a record.
    pub fn to_hex(&self) -> Result<Hex, MapError> {
        let mut bytes = vec![VERSION, self.bits];
        bytes.extend(self.words.to_be_bytes());
        let mut next = 0;
        for (&address, &mask) in &self.failing {
            put(&mut bytes, u64::from(address - next));
            put(&mut bytes, mask);
            next = address + 1;
        }
        if bytes.len() > MOST_BYTES { Err(MapError::Large) } else { Ok(Hex(bytes)) }
    }

    /// Reads the bytes of a record.
    pub fn from_hex(bytes: &Hex) -> Result<Self, MapError> {
        let (head, mut rest) = bytes.0.split_at_checked(6).ok_or(MapError::Form)?;
        let &[VERSION, bits, a, b, c, d] = head else { return Err(MapError::Form) };
        let mut failing = Vec::new();
        let mut next = 0_u64;
        while !rest.is_empty() {
            let distance = take(&mut rest).ok_or(MapError::Form)?;
            let mask = take(&mut rest).ok_or(MapError::Form)?;
            let address = next.checked_add(distance).ok_or(MapError::Form)?;
            failing.push((u32::try_from(address).map_err(|_| MapError::Form)?, mask));
            next = address + 1;
        }
        Self::new(u32::from_be_bytes([a, b, c, d]), bits, failing)
    }
}

fn put(bytes: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        bytes.push(value as u8 | 0x80);
        value >>= 7;
    }
    bytes.push(value as u8);
}

fn take(bytes: &mut &[u8]) -> Option<u64> {
    let mut value = 0_u64;
    for shift in (0..64).step_by(7) {
        let (&byte, rest) = bytes.split_first()?;
        *bytes = rest;
        let part = u64::from(byte & 0x7F);
        if part << shift >> shift != part {
            return None;
        }
        value |= part << shift;
        if byte & 0x80 == 0 {
            return Some(value);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bytes_are_as_described() {
        let map = MemoryMap::new(0x4000, 8, [(300, 0x81), (0, 1), (300, 2)]).unwrap();
        // By hand: distance 0, mask 1; distance 299 = 0x12B, mask 0x83, both of two groups.
        let bytes = [1, 8, 0, 0, 0x40, 0, 0, 1, 0xAB, 0x02, 0x83, 0x01];
        assert_eq!(map.to_hex().unwrap().0, bytes);
        assert_eq!(map.failing_cells(), 4);
        assert_eq!(MemoryMap::from_hex(&Hex(bytes.to_vec())).unwrap(), map);
    }

    #[test]
    fn what_is_wrong_is_refused() {
        let new = |words, bits, failing: &[(u32, u64)]| {
            MemoryMap::new(words, bits, failing.iter().copied())
        };
        assert_eq!(new(0, 1, &[]), Err(MapError::Size { words: 0, bits: 1 }));
        assert_eq!(new(1, 65, &[]), Err(MapError::Size { words: 1, bits: 65 }));
        assert_eq!(new(4, 1, &[(4, 1)]), Err(MapError::Outside { address: 4, mask: 1 }));
        assert_eq!(new(4, 1, &[(3, 2)]), Err(MapError::Outside { address: 3, mask: 2 }));
        let cut = [1, 8, 0, 0, 0x40, 0, 0, 0x81];
        for bytes in [&[][..], &[2, 8, 0, 0, 0x40, 0], &cut] {
            assert_eq!(MemoryMap::from_hex(&Hex(bytes.to_vec())), Err(MapError::Form));
        }
        let every = MemoryMap::new(1 << 20, 1, (0..1 << 20).map(|address| (address, 1))).unwrap();
        assert_eq!(every.to_hex(), Err(MapError::Large));
    }

    #[test]
    fn the_widest_words_are_kept() {
        let map = MemoryMap::new(u32::MAX, 64, [(u32::MAX - 1, u64::MAX), (7, 1 << 63)]).unwrap();
        assert_eq!(MemoryMap::from_hex(&map.to_hex().unwrap()).unwrap(), map);
    }
}
