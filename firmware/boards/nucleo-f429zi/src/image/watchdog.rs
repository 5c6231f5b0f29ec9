//! The independent watchdog: fed by the loop alone, so that a loop that hangs ends in a reset,
//! which releases all pins; external resistors then hold the fixture off.

use super::clock::wait_for;
use stm32f4::stm32f429 as pac;

/// The prescaler's code for 32 and the reload value: 1 s at the nominal 32 kHz, 0.7 s at 47 kHz,
/// the fastest (ST DS9405, internal low-speed oscillator, from memory). A window waits 200 ms at
/// most, a reply takes 20 ms.
const PRESCALER: u16 = 3;
const RELOAD: u16 = 999;

fn registers() -> &'static pac::iwdg::RegisterBlock {
    // SAFETY: only this module uses it.
    unsafe { &*pac::IWDG::PTR }
}

fn key(value: u16) {
    // SAFETY: the keys are those of ST RM0090, IWDG_KR.
    registers().kr().write(|w| unsafe { w.bits(value) });
}

/// Starts it; nothing can stop it.
pub(crate) fn start() {
    #[cfg(feature = "log")]
    {
        // A halted core in a debugging session would be reset otherwise.
        // SAFETY: nothing else uses it.
        let debug = unsafe { &*pac::DBGMCU::PTR };
        debug.apb1_fz().modify(|_, w| w.dbg_iwdg_stop().set_bit());
    }
    key(0xcccc);
    key(0x5555);
    // SAFETY: within the ranges of ST RM0090, IWDG_PR and IWDG_RLR.
    registers().pr().write(|w| unsafe { w.bits(PRESCALER) });
    // SAFETY: as above.
    registers().rlr().write(|w| unsafe { w.bits(RELOAD) });
    // Where the values do not arrive, the reset values stand: half a second.
    wait_for(|| registers().sr().read().bits() == 0);
    feed();
}

/// Tells it that the loop still runs.
pub(crate) fn feed() {
    key(0xaaaa);
}
