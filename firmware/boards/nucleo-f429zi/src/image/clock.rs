//! The clock, with bounded waits: 168 MHz from the debug probe's 8 MHz, else from the internal
//! oscillator, else the internal oscillator as it is.

use dipsift_nucleo_f429zi::clocking::Clocking;
use stm32f4::stm32f429::{self as pac, rcc::RegisterBlock};

/// Polls of a flag, some cycles each at 16 MHz: tens of milliseconds, many times what the maker
/// gives for any of the flags here (ST DS9405, wake-up and start-up times).
const PATIENCE: u32 = 100_000;

/// Whether a flag comes in time.
pub(crate) fn wait_for(mut flag: impl FnMut() -> bool) -> bool {
    (0..PATIENCE).any(|_| flag())
}

/// Starts the fastest clock that there is.
pub(crate) fn start() -> Clocking {
    // SAFETY: start-up owns the clock controller.
    let rcc = unsafe { &*pac::RCC::PTR };
    rcc.apb1enr().modify(|_, w| w.pwren().set_bit());
    rcc.apb2enr().modify(|_, w| w.syscfgen().set_bit());
    // The probe's clock comes as a square wave.
    rcc.cr().modify(|_, w| w.hsebyp().set_bit().hseon().set_bit());
    if wait_for(|| rcc.cr().read().hserdy().bit_is_set()) && multiply(rcc, true) {
        // Should the probe's clock end later, NMI.
        rcc.cr().modify(|_, w| w.csson().set_bit());
        return Clocking::External;
    }
    rcc.cr().modify(|_, w| w.hseon().clear_bit());
    if multiply(rcc, false) { Clocking::Internal } else { Clocking::Slow }
}

/// Runs the core from the multiplier at 168 MHz; `false`, at 16 MHz, where it does not come up.
fn multiply(rcc: &RegisterBlock, external: bool) -> bool {
    // SAFETY: start-up owns the flash interface.
    let flash = unsafe { &*pac::FLASH::PTR };
    rcc.cr().modify(|_, w| w.pllon().clear_bit());
    if !wait_for(|| rcc.cr().read().pllrdy().bit_is_clear()) {
        return false;
    }
    // 1 MHz in, 336 MHz inside, half of it for the core, a seventh for USB, which is not used
    // (ST RM0090, RCC_PLLCFGR).
    let (source, divided) = if external { (1 << 22, 8) } else { (0, 16) };
    // SAFETY: the values are within the ranges of the manual.
    rcc.pllcfgr().write(|w| unsafe { w.bits(7 << 24 | source | 336 << 6 | divided) });
    rcc.cr().modify(|_, w| w.pllon().set_bit());
    if !wait_for(|| rcc.cr().read().pllrdy().bit_is_set()) {
        return false;
    }
    // Five wait states at 168 MHz and 3.3 V (ST RM0090, wait states), prefetch and both caches.
    const WAIT_STATES: u32 = 5;
    // SAFETY: every bit is described in the manual.
    flash.acr().write(|w| unsafe { w.bits(0x700 | WAIT_STATES) });
    if !wait_for(|| flash.acr().read().bits() & 0xf == WAIT_STATES) {
        return false;
    }
    // Core undivided, first bus a quarter, second bus half; clock from the multiplier.
    const DIVIDERS: u32 = 5 << 10 | 4 << 13;
    // SAFETY: the values are described in the manual.
    rcc.cfgr().write(|w| unsafe { w.bits(DIVIDERS | 2) });
    if wait_for(|| rcc.cfgr().read().bits() >> 2 & 3 == 2) {
        return true;
    }
    // SAFETY: the reset value: the internal oscillator, nothing divided.
    rcc.cfgr().write(|w| unsafe { w.bits(0) });
    false
}
