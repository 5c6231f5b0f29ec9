//! The controller's own supply, watched.
//!
//! The voltage detector interrupts below 2.9 V, while the controller still works, and the safe
//! state is entered; the brown-out reset, whose level the option bytes hold, comes after it. The
//! firmware does not write option bytes: README tells how to set level 3 when flashing.

use super::{clock::wait_for, faults, fmt};
use cortex_m::peripheral::NVIC;
use stm32f4::stm32f429::{self as pac, Interrupt, interrupt};

/// The detector's line at the interrupt controller (ST RM0090, EXTI lines).
const LINE: u32 = 1 << 16;
/// The detector at its highest level, 2.9 V, and on (ST RM0090, PWR_CR).
const DETECTOR: u32 = 7 << 5 | 1 << 4;

/// Watches the supply.
pub(crate) fn start() {
    // SAFETY: start-up owns these registers, and the bits are described in the manual.
    unsafe {
        let (pwr, exti) = (&*pac::PWR::PTR, &*pac::EXTI::PTR);
        pwr.cr().modify(|r, w| w.bits(r.bits() | DETECTOR));
        exti.rtsr().modify(|r, w| w.bits(r.bits() | LINE));
        exti.imr().modify(|r, w| w.bits(r.bits() | LINE));
        NVIC::unmask(Interrupt::PVD);
    }
    wait_for(|| !sagging());
    if brown_out_level() != 3 {
        fmt::warning!("brown-out level {} of 3", brown_out_level());
    }
}

/// Whether the controller's supply is too low now.
pub(crate) fn sagging() -> bool {
    // SAFETY: reading has no effect.
    unsafe { &*pac::PWR::PTR }.csr().read().pvdo().bit_is_set()
}

/// The brown-out level in the option bytes, 0 (off) to 3 (2.7 V); the register counts down.
pub(crate) fn brown_out_level() -> u32 {
    // SAFETY: reading has no effect.
    3 - (unsafe { &*pac::FLASH::PTR }.optcr().read().bits() >> 2 & 3)
}

#[interrupt]
fn PVD() {
    faults::sagged()
}
