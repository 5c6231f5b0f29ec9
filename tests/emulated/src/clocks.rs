//! The clock controller, the flash's wait states, and time.

use crate::Trouble;

/// The internal and the debug probe's clock.
const INTERNAL_HERTZ: u64 = 16_000_000;
const EXTERNAL_HERTZ: u64 = 8_000_000;
/// How long a clock takes to become ready.
const READY_NS: u64 = 100_000;

/// Bits of ST RM0090, RCC_CR.
const HSI: u32 = 1;
const HSE: u32 = 1 << 16;
const BYPASS: u32 = 1 << 18;
const SECURITY: u32 = 1 << 19;
const PLL: u32 = 1 << 24;

/// What clocks there are, so that their absence can be tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sources {
    /// The debug probe's 8 MHz arrive.
    pub external: bool,
    /// The multiplier comes up.
    pub multiplier: bool,
}

impl Default for Sources {
    fn default() -> Self {
        Self { external: true, multiplier: true }
    }
}

/// Clock controller, flash interface and time.
#[derive(Debug)]
pub(crate) struct Clocks {
    pub(crate) sources: Sources,
    cr: u32,
    pllcfgr: u32,
    cfgr: u32,
    ahb1: u32,
    apb1: u32,
    apb2: u32,
    csr: u32,
    acr: u32,
    optcr: u32,
    external_at: u64,
    multiplier_at: u64,
    hertz: u64,
    /// Cycles and nanoseconds when the present clock began.
    since: (u64, u64),
}

impl Clocks {
    /// After a reset with these flags of RCC_CSR.
    pub(crate) fn new(sources: Sources, flags: u32, brown_out_level: u32) -> Self {
        Self {
            sources,
            cr: HSI,
            pllcfgr: 0x2400_3010,
            cfgr: 0,
            ahb1: 0,
            apb1: 0,
            apb2: 0,
            csr: flags,
            acr: 0,
            optcr: 0x0fff_aae1 | (3 - brown_out_level) << 2,
            external_at: 0,
            multiplier_at: 0,
            hertz: INTERNAL_HERTZ,
            since: (0, 0),
        }
    }

    /// Time goes on from before a reset.
    pub(crate) fn resume(&mut self, cycles: u64, nanoseconds: u64) {
        self.since = (cycles, nanoseconds);
    }

    /// All clocks are whole megahertz.
    pub(crate) fn nanoseconds(&self, cycles: u64) -> u64 {
        let (from, base) = self.since;
        base + (cycles - from) * 1_000 / (self.hertz / 1_000_000)
    }

    /// How many cycles a time takes at the present clock.
    pub(crate) fn cycles(&self, nanoseconds: u64) -> u64 {
        nanoseconds.saturating_mul(self.hertz / 1_000_000) / 1_000
    }

    pub(crate) fn hertz(&self) -> u64 {
        self.hertz
    }

    /// The clock of the first peripheral bus.
    pub(crate) fn first_bus_hertz(&self) -> u64 {
        let code = self.cfgr >> 10 & 7;
        if code < 4 { self.hertz } else { self.hertz >> (code - 3) }
    }

    /// The clock of the second peripheral bus.
    pub(crate) fn second_bus_hertz(&self) -> u64 {
        let code = self.cfgr >> 13 & 7;
        if code < 4 { self.hertz } else { self.hertz >> (code - 3) }
    }

    pub(crate) fn has_ahb1(&self, bit: u32) -> bool {
        self.ahb1 >> bit & 1 == 1
    }

    pub(crate) fn has_apb1(&self, bit: u32) -> bool {
        self.apb1 >> bit & 1 == 1
    }

    pub(crate) fn has_apb2(&self, bit: u32) -> bool {
        self.apb2 >> bit & 1 == 1
    }

    pub(crate) fn security_on(&self) -> bool {
        self.cr & SECURITY != 0
    }

    fn external_ready(&self, cycles: u64) -> bool {
        self.cr & HSE != 0 && self.sources.external && cycles >= self.external_at
    }

    fn multiplier_ready(&self, cycles: u64) -> bool {
        let source = self.pllcfgr & 1 << 22 == 0 || self.external_ready(cycles);
        self.cr & PLL != 0 && self.sources.multiplier && source && cycles >= self.multiplier_at
    }

    fn multiplied(&self) -> u64 {
        let source = if self.pllcfgr & 1 << 22 == 0 { INTERNAL_HERTZ } else { EXTERNAL_HERTZ };
        let (divide, multiply) = (u64::from(self.pllcfgr & 0x3f), self.pllcfgr >> 6 & 0x1ff);
        let post = u64::from(2 * (self.pllcfgr >> 16 & 3) + 2);
        source / divide.max(1) * u64::from(multiply) / post
    }

    pub(crate) fn read(&self, offset: u32, cycles: u64) -> Result<u32, Trouble> {
        Ok(match offset {
            0x00 => {
                let ready = |on: bool, bit: u32| u32::from(on) << bit;
                self.cr
                    | ready(self.cr & HSI != 0, 1)
                    | ready(self.external_ready(cycles), 17)
                    | ready(self.multiplier_ready(cycles), 25)
            }
            0x04 => self.pllcfgr,
            0x08 => self.cfgr,
            0x30 => self.ahb1,
            0x40 => self.apb1,
            0x44 => self.apb2,
            0x74 => self.csr,
            _ => return Err(Trouble::unmodelled("RCC", offset)),
        })
    }

    pub(crate) fn write(&mut self, offset: u32, value: u32, cycles: u64) -> Result<(), Trouble> {
        match offset {
            0x00 => {
                let begun = value & !self.cr;
                if begun & HSE != 0 {
                    self.external_at = cycles + self.cycles(READY_NS);
                }
                if begun & PLL != 0 {
                    self.multiplier_at = cycles + self.cycles(READY_NS);
                }
                self.cr = self.cr & !(HSI | HSE | BYPASS | SECURITY | PLL)
                    | value & (HSI | HSE | BYPASS | SECURITY | PLL);
            }
            0x04 if self.cr & PLL == 0 => self.pllcfgr = value,
            0x04 => return Err(Trouble::Misuse("RCC_PLLCFGR changed while the multiplier runs")),
            0x08 => self.switch(value, cycles)?,
            0x30 => self.ahb1 = value,
            0x40 => self.apb1 = value,
            0x44 => self.apb2 = value,
            0x74 if value & 1 << 24 != 0 => self.csr = 0,
            _ => return Err(Trouble::unmodelled("RCC", offset)),
        }
        Ok(())
    }

    /// Chooses the clock; at a higher one without its wait states the real flash would deliver
    /// wrong code.
    fn switch(&mut self, value: u32, cycles: u64) -> Result<(), Trouble> {
        let (hertz, ready) = match value & 3 {
            0 => (INTERNAL_HERTZ, true),
            1 => (EXTERNAL_HERTZ, self.external_ready(cycles)),
            2 => (self.multiplied(), self.multiplier_ready(cycles)),
            _ => return Err(Trouble::Misuse("RCC_CFGR selects a clock that does not exist")),
        };
        let selected = if ready { value & 3 } else { self.cfgr >> 2 & 3 };
        self.cfgr = value & !0xc | selected << 2;
        if ready {
            // 30 MHz per wait state (ST RM0090, wait states, 2.7 V to 3.6 V); 168 MHz at most
            // without the over-drive, 42 MHz and 84 MHz on the buses (ST DS9405).
            if hertz > 30_000_000 * u64::from(1 + (self.acr & 0xf)) {
                return Err(Trouble::Misuse("too few wait states of the flash for the clock"));
            }
            self.since = (cycles, self.nanoseconds(cycles));
            self.hertz = hertz;
            let buses =
                self.first_bus_hertz() <= 42_000_000 && self.second_bus_hertz() <= 84_000_000;
            if hertz > 168_000_000 || hertz % 1_000_000 != 0 || !buses {
                return Err(Trouble::Misuse("a clock is above its limit, or no whole megahertz"));
            }
        }
        Ok(())
    }

    pub(crate) fn read_flash(&self, offset: u32) -> Result<u32, Trouble> {
        match offset {
            0x00 => Ok(self.acr),
            0x14 => Ok(self.optcr),
            _ => Err(Trouble::unmodelled("FLASH", offset)),
        }
    }

    pub(crate) fn write_flash(&mut self, offset: u32, value: u32) -> Result<(), Trouble> {
        match offset {
            // Wait states, prefetch, caches and their resets.
            0x00 if value & !0x1f0f == 0 => self.acr = value,
            _ => return Err(Trouble::unmodelled("FLASH", offset)),
        }
        Ok(())
    }
}
