//! The flash memory of a simulated station, for what is armed. It lasts as long as the station.

use dipsift_nucleo_f429zi::stored::SECTOR_BYTES;
use dipsift_stored::{Memory, MemoryFault, Sector};

/// The words of a sector, as on the board.
pub const SECTOR_WORDS: usize = SECTOR_BYTES / 4;

/// Two sectors of flash memory: programming only clears bits, erasing sets all of a sector.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlashMemory {
    words: Vec<u32>,
}

impl Default for FlashMemory {
    /// As delivered: erased.
    fn default() -> Self {
        Self { words: vec![u32::MAX; 2 * SECTOR_WORDS] }
    }
}

fn place(sector: Sector, word: usize) -> Option<usize> {
    let start = match sector {
        Sector::First => 0,
        Sector::Second => SECTOR_WORDS,
    };
    (word < SECTOR_WORDS).then_some(start + word)
}

impl Memory for FlashMemory {
    fn words(&self) -> usize {
        SECTOR_WORDS
    }

    fn read(&self, sector: Sector, word: usize) -> u32 {
        place(sector, word).map_or(u32::MAX, |place| self.words[place])
    }

    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault> {
        self.words[place(sector, word).ok_or(MemoryFault)?] &= value;
        Ok(())
    }

    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault> {
        for word in 0..SECTOR_WORDS {
            self.words[place(sector, word).ok_or(MemoryFault)?] = u32::MAX;
        }
        Ok(())
    }
}
