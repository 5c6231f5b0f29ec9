//! The flash memory that holds what is armed: sectors 12 and 13, 16 KB each, at the beginning of
//! bank 2.
//!
//! The image lies in bank 1, and a bank can be read while the other is programmed or erased (ST
//! RM0090, read-while-write), so neither the loop nor the over-current handler stalls. Should the
//! core stall all the same, the handler would come late; that is why the station writes only while
//! the socket is unpowered, when there is no current to cut.

use super::clock::wait_for;
use super::{fmt, power, watchdog};
use cortex_m::peripheral::DWT;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::stored::SECTOR_BYTES;
use dipsift_stored::{Memory, MemoryFault, Sector};
use stm32f4::stm32f429 as pac;

/// The first sector's address; the second follows (ST RM0090, flash module organization).
const START: usize = 0x0810_0000;
/// The keys that unlock the control register (ST RM0090, FLASH_KEYR).
const KEYS: [u32; 2] = [0x4567_0123, 0xcdef_89ab];
/// Bits of ST RM0090, FLASH_CR: program, erase a sector, start, lock; words of 32 bits, for which
/// the controller's supply must be 2.7 V or more.
const PROGRAM: u32 = 1;
const ERASE: u32 = 1 << 1;
const BY_WORDS: u32 = 2 << 8;
const START_ERASE: u32 = 1 << 16;
const LOCK: u32 = 1 << 31;
/// FLASH_SR: busy; every error, and the end of an operation, which writing ones clears.
const BUSY: u32 = 1 << 16;
const ERRORS: u32 = 0x1f2;
const END: u32 = 1;
/// FLASH_ACR: the data cache, and its reset, which works only while it is off.
const DATA_CACHE: u32 = 1 << 10;
const DATA_CACHE_RESET: u32 = 1 << 12;

/// The two sectors.
pub(crate) struct Record {
    /// A second in cycles: twice what an erasure takes at most (ST DS9405, flash memory
    /// characteristics, from memory).
    patience: u32,
}

const fn number(sector: Sector) -> (u32, usize) {
    match sector {
        // The second bank's sectors count from 16 in FLASH_CR.
        Sector::First => (16, START),
        Sector::Second => (17, START + SECTOR_BYTES),
    }
}

fn flash() -> &'static pac::flash::RegisterBlock {
    // SAFETY: after start-up only this module uses it.
    unsafe { &*pac::FLASH::PTR }
}

fn control(bits: u32) {
    // SAFETY: the values are described in ST RM0090.
    flash().cr().write(|w| unsafe { w.bits(bits) });
}

impl Record {
    pub(crate) const fn new(clocking: Clocking) -> Self {
        Self { patience: clocking.core_hertz() }
    }

    /// Waits for an operation's end and tells how it went.
    fn finish(&self) -> Result<(), MemoryFault> {
        let start = DWT::cycle_count();
        while flash().sr().read().bits() & BUSY != 0 {
            if DWT::cycle_count().wrapping_sub(start) > self.patience {
                fmt::warning!("flash memory stays busy");
                return Err(MemoryFault);
            }
            watchdog::feed();
        }
        if flash().sr().read().bits() & ERRORS == 0 { Ok(()) } else { Err(MemoryFault) }
    }

    /// Does one operation between unlocking and locking.
    fn operate(&self, begin: impl FnOnce()) -> Result<(), MemoryFault> {
        if power::sagging() || !wait_for(|| flash().sr().read().bits() & BUSY == 0) {
            return Err(MemoryFault);
        }
        for key in KEYS {
            // SAFETY: the keys are those of the manual.
            flash().keyr().write(|w| unsafe { w.bits(key) });
        }
        // SAFETY: writing ones clears flags only.
        flash().sr().write(|w| unsafe { w.bits(ERRORS | END) });
        begin();
        cortex_m::asm::dsb();
        let result = self.finish();
        control(LOCK);
        forget_cached();
        result
    }
}

/// Empties the data cache: it may hold what the memory was before.
fn forget_cached() {
    let acr = flash().acr().read().bits();
    for bits in [acr & !DATA_CACHE, acr & !DATA_CACHE | DATA_CACHE_RESET, acr & !DATA_CACHE, acr] {
        // SAFETY: the values are described in ST RM0090.
        flash().acr().write(|w| unsafe { w.bits(bits) });
    }
}

impl Memory for Record {
    fn words(&self) -> usize {
        SECTOR_BYTES / 4
    }

    fn read(&self, sector: Sector, word: usize) -> u32 {
        if word >= self.words() {
            return u32::MAX;
        }
        let address = number(sector).1 + 4 * word;
        // SAFETY: the address lies in the sector, and any bits are a word.
        unsafe { (address as *const u32).read_volatile() }
    }

    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault> {
        if word >= self.words() {
            return Err(MemoryFault);
        }
        let address = number(sector).1 + 4 * word;
        self.operate(|| {
            control(BY_WORDS | PROGRAM);
            // SAFETY: the address lies in the sector, which nothing else uses.
            unsafe { (address as *mut u32).write_volatile(value) };
        })
    }

    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault> {
        let chosen = BY_WORDS | ERASE | number(sector).0 << 3;
        self.operate(|| {
            control(chosen);
            control(chosen | START_ERASE);
        })
    }
}
