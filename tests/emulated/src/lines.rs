//! Supply detector, external interrupts and their routing: PWR, EXTI and SYSCFG.

use crate::Trouble;

/// The supply detector's line.
const DETECTOR: u32 = 1 << 16;

#[derive(Debug)]
pub(crate) struct Lines {
    pwr_cr: u32,
    mask: u32,
    rising: u32,
    falling: u32,
    pending: u32,
    route: u32,
    /// The lines' levels: 10 and 16.
    levels: u32,
    /// The controller's supply is below 2.9 V.
    sags: bool,
}

impl Lines {
    pub(crate) fn new(sags: bool) -> Self {
        Self {
            pwr_cr: 0xc000,
            mask: 0,
            rising: 0,
            falling: 0,
            pending: 0,
            route: 0,
            levels: 1 << 10,
            sags,
        }
    }

    fn detects(&self) -> bool {
        self.sags && self.pwr_cr & 1 << 4 != 0 && self.pwr_cr >> 5 & 7 == 7
    }

    fn set_level(&mut self, line: u32, high: bool) {
        let before = self.levels & line != 0;
        self.levels = self.levels & !line | if high { line } else { 0 };
        let edges = if high { self.rising } else { self.falling };
        if before != high {
            self.pending |= edges & line & self.mask;
        }
    }

    /// The supply of the controller sags, or does no longer.
    pub(crate) fn sag(&mut self, sags: bool) {
        self.sags = sags;
        self.set_level(DETECTOR, self.detects());
    }

    /// The level of pin 10 of port B, where it is routed here.
    pub(crate) fn set_limiter(&mut self, high: bool) {
        if self.route >> 8 & 0xf == 1 {
            self.set_level(1 << 10, high);
        }
    }

    pub(crate) fn interrupts_detector(&self) -> bool {
        self.pending & self.mask & DETECTOR != 0
    }

    pub(crate) fn interrupts_limiter(&self) -> bool {
        self.pending & self.mask & 0xfc00 != 0
    }

    pub(crate) fn read_power(&self, offset: u32) -> Result<u32, Trouble> {
        match offset {
            0x00 => Ok(self.pwr_cr),
            0x04 => Ok(u32::from(self.detects()) << 2),
            _ => Err(Trouble::unmodelled("PWR", offset)),
        }
    }

    pub(crate) fn write_power(&mut self, offset: u32, value: u32) -> Result<(), Trouble> {
        match offset {
            0x00 => self.pwr_cr = value,
            _ => return Err(Trouble::unmodelled("PWR", offset)),
        }
        self.set_level(DETECTOR, self.detects());
        Ok(())
    }

    pub(crate) fn read_external(&self, offset: u32) -> Result<u32, Trouble> {
        Ok(match offset {
            0x00 => self.mask,
            0x08 => self.rising,
            0x0c => self.falling,
            0x14 => self.pending,
            _ => return Err(Trouble::unmodelled("EXTI", offset)),
        })
    }

    pub(crate) fn write_external(&mut self, offset: u32, value: u32) -> Result<(), Trouble> {
        match offset {
            0x00 => self.mask = value,
            0x08 => self.rising = value,
            0x0c => self.falling = value,
            0x14 => self.pending &= !value,
            _ => return Err(Trouble::unmodelled("EXTI", offset)),
        }
        Ok(())
    }

    pub(crate) fn read_routing(&self, offset: u32) -> Result<u32, Trouble> {
        match offset {
            0x10 => Ok(self.route),
            _ => Err(Trouble::unmodelled("SYSCFG", offset)),
        }
    }

    pub(crate) fn write_routing(&mut self, offset: u32, value: u32) -> Result<(), Trouble> {
        match offset {
            0x10 => self.route = value,
            _ => return Err(Trouble::unmodelled("SYSCFG", offset)),
        }
        Ok(())
    }
}
