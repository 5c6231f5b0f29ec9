//! The flash controller, and the second bank of its memory: the image programs and erases there.
//!
//! Registers and rules are those of ST RM0090, embedded flash memory interface. What the manual
//! calls a bus error, and what no image should do, is an error here.

use crate::Trouble;
use std::collections::BTreeSet;

/// The second bank (ST RM0090, flash module organization of 2 MB in two banks).
pub(crate) const BANK: u32 = 0x0810_0000;
pub(crate) const BANK_SIZE: usize = 1 << 20;

/// Bits of FLASH_CR.
const PROGRAM: u32 = 1;
const ERASE: u32 = 1 << 1;
const SECTOR: u32 = 0x1f << 3;
const SIZE: u32 = 3 << 8;
const START: u32 = 1 << 16;
const END_REPORTED: u32 = 1 << 24;
const LOCK: u32 = 1 << 31;
/// Bits of FLASH_SR, which writing ones clears, but for busy.
const END: u32 = 1;
const PROTECTED: u32 = 1 << 4;
const ALIGNMENT: u32 = 1 << 5;
const PARALLELISM: u32 = 1 << 6;
const SEQUENCE: u32 = 1 << 7;
const BUSY: u32 = 1 << 16;
const CLEARABLE: u32 = 0x1f3;
/// What FLASH_KEYR takes, in this order.
const KEYS: [u32; 2] = [0x4567_0123, 0xcdef_89ab];
/// FLASH_ACR: the data cache on, and its reset.
const CACHE: u32 = 1 << 10;
const CACHE_RESET: u32 = 1 << 12;
/// A row of the memory, and so a line of the cache.
const ROW: u32 = 16;
/// Typical times (ST DS9405, flash memory programming, from memory): a word, and an erasure by
/// words for each size of sector.
const PROGRAM_NS: u64 = 16_000;
const fn erase_ns(bytes: usize) -> u64 {
    match bytes >> 10 {
        16 => 250_000_000,
        64 => 550_000_000,
        _ => 1_000_000_000,
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Guard {
    Locked,
    /// The first key has come.
    Half,
    Open,
    /// Until the next reset.
    Shut,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Operation {
    Program { at: usize, size: usize, value: u32 },
    Erase { at: usize, size: usize },
}

#[derive(Clone, Copy, Debug)]
struct Running {
    operation: Operation,
    ends_at: u64,
    /// The power goes then, in the middle.
    cut_at: Option<u64>,
}

/// Where a sector of the second bank lies in it, by its code in FLASH_CR: 16 for sector 12.
const fn sector(code: u32) -> Option<(usize, usize)> {
    Some(match code {
        16..=19 => ((code as usize - 16) << 14, 16 << 10),
        20 => (64 << 10, 64 << 10),
        21..=27 => ((code as usize - 20) << 17, 128 << 10),
        _ => return None,
    })
}

/// The controller and the second bank.
#[derive(Debug)]
pub(crate) struct Flash {
    memory: Vec<u8>,
    guard: Guard,
    control: u32,
    status: u32,
    running: Option<Running>,
    /// Sectors by their codes that are protected against writing.
    protected: u32,
    caches: bool,
    /// Rows that may be in the data cache, and those of them that were erased since.
    cached: BTreeSet<u32>,
    stale: BTreeSet<u32>,
    operations: u64,
    cut_after: Option<u64>,
}

impl Flash {
    /// With this content of the second bank.
    pub(crate) fn new(memory: Vec<u8>) -> Self {
        Self {
            memory,
            guard: Guard::Locked,
            control: 0,
            status: 0,
            running: None,
            protected: 0,
            caches: false,
            cached: BTreeSet::new(),
            stale: BTreeSet::new(),
            operations: 0,
            cut_after: None,
        }
    }

    /// Registers as after a reset. The memory stays; what was being written stays half done.
    pub(crate) fn reset(&mut self) {
        if let Some(running) = self.running.take() {
            self.half_done(running.operation);
        }
        (self.guard, self.control, self.status) = (Guard::Locked, 0, 0);
        self.caches = false;
        self.cached.clear();
        self.stale.clear();
    }

    /// The second bank's content.
    pub(crate) fn memory(&self) -> &[u8] {
        &self.memory
    }

    /// Replaces some of the memory from outside.
    pub(crate) fn replace(&mut self, at: usize, bytes: &[u8]) {
        if let Some(place) = self.memory.get_mut(at..at + bytes.len()) {
            place.copy_from_slice(bytes);
        }
    }

    /// How many words were programmed and sectors erased.
    pub(crate) fn operations(&self) -> u64 {
        self.operations
    }

    /// Lets so many more operations complete; in the middle of the next, the power goes.
    pub(crate) fn cut_power_after(&mut self, operations: Option<u64>) {
        self.cut_after = operations;
    }

    /// Protects a sector, by its code in FLASH_CR, as the option bytes would.
    pub(crate) fn protect(&mut self, code: u32) {
        self.protected |= 1 << code;
    }

    /// When the running operation ends or the power goes, in nanoseconds.
    pub(crate) fn due(&self) -> u64 {
        self.running.map_or(u64::MAX, |running| running.cut_at.unwrap_or(running.ends_at))
    }

    /// Ends what is due. Whether the power has gone.
    pub(crate) fn tick(&mut self, now: u64) -> bool {
        if self.due() > now {
            return false;
        }
        let Some(running) = self.running.take() else { return false };
        if running.cut_at.is_some() {
            self.half_done(running.operation);
            return true;
        }
        self.done(running.operation);
        if self.control & END_REPORTED != 0 {
            self.status |= END;
        }
        self.control &= !START;
        false
    }

    fn done(&mut self, operation: Operation) {
        match operation {
            Operation::Program { at, size, value } => {
                for (byte, new) in self.memory[at..at + size].iter_mut().zip(value.to_le_bytes()) {
                    // Programming only clears bits.
                    *byte &= new;
                }
            }
            Operation::Erase { at, size } => {
                self.memory[at..at + size].fill(0xff);
                let rows = at as u32 / ROW..(at + size) as u32 / ROW;
                self.stale.extend(self.cached.range(rows));
            }
        }
    }

    /// Leaves what the manual calls not guaranteed: some of the bits as before, some as they
    /// should become.
    fn half_done(&mut self, operation: Operation) {
        let mut random = 0x9e37_79b9_u32 ^ self.operations as u32;
        let mut some = || {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (random >> 24) as u8
        };
        match operation {
            Operation::Program { at, size, value } => {
                for (byte, new) in self.memory[at..at + size].iter_mut().zip(value.to_le_bytes()) {
                    *byte &= new | some();
                }
            }
            Operation::Erase { at, size } => {
                for (index, byte) in self.memory[at..at + size].iter_mut().enumerate() {
                    *byte |= if index < size / 2 { 0xff } else { some() };
                }
            }
        }
    }

    fn begin(&mut self, operation: Operation, now: u64, takes: u64) {
        let cut = self.cut_after == Some(0);
        self.cut_after = self.cut_after.map(|left| left.saturating_sub(1));
        if cut {
            self.cut_after = None;
        } else {
            self.operations += 1;
        }
        let cut_at = cut.then_some(now + takes / 2);
        self.running = Some(Running { operation, ends_at: now + takes, cut_at });
    }

    /// FLASH_ACR was written.
    pub(crate) fn access(&mut self, value: u32) -> Result<(), Trouble> {
        if value & CACHE_RESET != 0 {
            if self.caches || value & CACHE != 0 {
                return Err(Trouble::Misuse("the data cache is reset while it is on"));
            }
            self.cached.clear();
            self.stale.clear();
        }
        self.caches = value & CACHE != 0;
        Ok(())
    }

    /// A register but FLASH_ACR and FLASH_OPTCR.
    pub(crate) fn read(&self, offset: u32) -> Result<u32, Trouble> {
        match offset {
            0x0c => Ok(self.status | if self.running.is_some() { BUSY } else { 0 }),
            0x10 => Ok(self.control | if self.guard == Guard::Open { 0 } else { LOCK }),
            _ => Err(Trouble::unmodelled("FLASH", offset)),
        }
    }

    /// A register but FLASH_ACR. Nothing may be running: the bus waits for that.
    pub(crate) fn write(&mut self, offset: u32, value: u32, now: u64) -> Result<(), Trouble> {
        match offset {
            0x04 => {
                self.guard = match self.guard {
                    Guard::Locked if value == KEYS[0] => Guard::Half,
                    Guard::Half if value == KEYS[1] => Guard::Open,
                    _ => Guard::Shut,
                };
                if self.guard == Guard::Shut {
                    return Err(Trouble::Misuse("a wrong key locks FLASH_CR until a reset"));
                }
            }
            0x0c => self.status &= !(value & CLEARABLE),
            0x10 if self.guard != Guard::Open => {
                return Err(Trouble::Misuse("FLASH_CR written while it is locked"));
            }
            0x10 => return self.control(value, now),
            _ => return Err(Trouble::unmodelled("FLASH", offset)),
        }
        Ok(())
    }

    fn control(&mut self, value: u32, now: u64) -> Result<(), Trouble> {
        // Erasure of everything and the other interrupt are left out; 64 bits need a high voltage.
        let modelled = PROGRAM | ERASE | SECTOR | SIZE | START | END_REPORTED | LOCK;
        if value & !modelled != 0 || value & SIZE == SIZE {
            return Err(Trouble::unmodelled("FLASH", 0x10));
        }
        if value & (PROGRAM | ERASE) == PROGRAM | ERASE {
            return Err(Trouble::Misuse("FLASH_CR programs and erases at once"));
        }
        self.control = value & !(LOCK | START);
        if value & LOCK != 0 {
            self.guard = Guard::Locked;
        }
        if value & START == 0 {
            return Ok(());
        }
        let code = value >> 3 & 0x1f;
        let Some((at, size)) = sector(code).filter(|_| value & ERASE != 0) else {
            return Err(Trouble::Misuse("an erasure that is none of a sector of the second bank"));
        };
        if self.protected >> code & 1 == 1 {
            self.status |= PROTECTED;
            return Ok(());
        }
        self.control |= START;
        self.begin(Operation::Erase { at, size }, now, erase_ns(size));
        Ok(())
    }

    /// A read of the second bank by the processor. Nothing may be running.
    pub(crate) fn load(&mut self, at: usize, size: usize) -> Result<u64, Trouble> {
        for row in (at as u32 / ROW)..=(at + size - 1) as u32 / ROW {
            if self.stale.contains(&row) {
                return Err(Trouble::Misuse("erased memory is read from the data cache"));
            }
            if self.caches {
                self.cached.insert(row);
            }
        }
        let bytes = self.memory.get(at..at + size).unwrap_or_default();
        Ok(bytes.iter().rev().fold(0, |value, &byte| value << 8 | u64::from(byte)))
    }

    /// A write to the second bank by the processor. Nothing may be running.
    pub(crate) fn store(&mut self, at: usize, size: usize, value: u32, now: u64) {
        let code = (16..28).find(|&code| {
            sector(code).is_some_and(|(start, bytes)| (start..start + bytes).contains(&at))
        });
        let error = if self.guard != Guard::Open || self.control & PROGRAM == 0 {
            SEQUENCE
        } else if size != 1 << (self.control >> 8 & 3) {
            PARALLELISM
        } else if at % ROW as usize + size > ROW as usize {
            ALIGNMENT
        } else if code.is_none_or(|code| self.protected >> code & 1 == 1) {
            PROTECTED
        } else {
            self.begin(Operation::Program { at, size, value }, now, PROGRAM_NS);
            return;
        };
        self.status |= error;
    }
}

#[cfg(test)]
#[path = "flash_tests.rs"]
mod tests;
