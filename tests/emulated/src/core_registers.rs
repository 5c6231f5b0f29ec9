//! The processor's own registers: cycle counter, interrupt controller, system control, memory
//! protection.

use crate::Trouble;
use crate::board::{CONVERTERS, DETECTOR, LIMITER};

/// What a write asks of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wanted {
    Nothing,
    Reset,
    /// Memory without access from now on, as address and size.
    Close(u32, u32),
}

#[derive(Debug, Default)]
pub(crate) struct CoreRegisters {
    trace: u32,
    dwt: u32,
    /// Cycles at which the counter was zero.
    zero: u64,
    enabled: [u32; 3],
    coprocessors: u32,
    base: u32,
    attributes: u32,
}

/// Addresses of ARM DDI 0403.
const DWT_CTRL: u32 = 0xe000_1000;
const DWT_CYCCNT: u32 = 0xe000_1004;
const ISER: u32 = 0xe000_e100;
const CPACR: u32 = 0xe000_ed88;
const AIRCR: u32 = 0xe000_ed0c;
const MPU_CTRL: u32 = 0xe000_ed94;
const MPU_RBAR: u32 = 0xe000_ed9c;
const MPU_RASR: u32 = 0xe000_eda0;
const DEMCR: u32 = 0xe000_edfc;
const DBGMCU_IDCODE: u32 = 0xe004_2000;

/// The key of AIRCR, and its bit that requests a reset.
const KEY: u32 = 0x05fa << 16;
const RESET: u32 = 1 << 2;

impl CoreRegisters {
    /// The interrupts that are modelled, by words.
    const MODELLED: [u32; 3] = [1 << DETECTOR | 1 << CONVERTERS, 1 << (LIMITER - 32), 0];

    pub(crate) fn is_enabled(&self, interrupt: u32) -> bool {
        self.enabled[interrupt as usize / 32] >> (interrupt % 32) & 1 == 1
    }

    fn counts(&self) -> bool {
        self.trace & 1 << 24 != 0 && self.dwt & 1 != 0
    }

    pub(crate) fn read(&self, address: u32, cycles: u64) -> Result<u32, Trouble> {
        Ok(match address {
            DWT_CTRL => self.dwt,
            DWT_CYCCNT if self.counts() => cycles.wrapping_sub(self.zero) as u32,
            DWT_CYCCNT => 0,
            ISER..=0xe000_e108 => self.enabled[(address - ISER) as usize / 4],
            CPACR => self.coprocessors,
            // The grouping of priorities; only written back.
            AIRCR => 0xfa05 << 16,
            MPU_CTRL => 0,
            MPU_RBAR => self.base,
            MPU_RASR => self.attributes,
            DEMCR => self.trace,
            // No number of the maker's: the image calls itself emulated.
            DBGMCU_IDCODE => 0,
            _ => return Err(Trouble::unmodelled("core", address)),
        })
    }

    pub(crate) fn write(
        &mut self,
        address: u32,
        value: u32,
        cycles: u64,
    ) -> Result<Wanted, Trouble> {
        match address {
            DWT_CTRL => {
                if self.dwt & 1 == 0 {
                    self.zero = cycles;
                }
                self.dwt = value;
            }
            ISER..=0xe000_e108 => {
                let word = (address - ISER) as usize / 4;
                if value & !Self::MODELLED[word] != 0 {
                    return Err(Trouble::unmodelled("NVIC", address));
                }
                self.enabled[word] |= value;
            }
            CPACR => self.coprocessors = value,
            AIRCR if value & 0xffff_0000 == KEY && value & RESET != 0 => return Ok(Wanted::Reset),
            MPU_RBAR if value & 0x1f == 0x10 => self.base = value & !0x1f,
            // A region without access, on (ARM DDI 0403, MPU_RASR).
            MPU_RASR if value & 0x0700_0001 == 1 => self.attributes = value,
            // On, with the rest of the memory as it was, and off in fault handlers.
            MPU_CTRL if value == 5 => {
                let size = 2 << (self.attributes >> 1 & 0x1f);
                return Ok(Wanted::Close(self.base, size));
            }
            DEMCR => self.trace = value,
            _ => return Err(Trouble::unmodelled("core", address)),
        }
        Ok(Wanted::Nothing)
    }
}
