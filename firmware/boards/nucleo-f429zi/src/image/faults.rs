//! Every abnormal way out: safe state, a mark for the next start, reset.

use super::{fmt, safe};
use core::mem::MaybeUninit;
use core::ptr::{addr_of, addr_of_mut};
use cortex_m::peripheral::SCB;
use cortex_m_rt::exception;
use dipsift_nucleo_f429zi::reset::{FAULT, Mark, SAGGED, cause};
use dipsift_wire::ResetCause;
use stm32f4::stm32f429 as pac;

/// Outlives a reset: start-up leaves this section alone.
#[unsafe(link_section = ".uninit.MARK")]
static mut MARK: MaybeUninit<Mark> = MaybeUninit::uninit();

fn leave(mark: Mark) {
    // SAFETY: the mark is only accessed here and in `take_cause`, volatile and as a whole; where an
    // exception comes between, a reset follows.
    unsafe { addr_of_mut!(MARK).cast::<Mark>().write_volatile(mark) };
}

/// Why the controller started; clears what tells, so that it tells of one start only.
pub(crate) fn take_cause() -> ResetCause {
    // SAFETY: any bits are a mark, and this runs before anything else accesses it.
    let mark = unsafe { addr_of!(MARK).cast::<Mark>().read_volatile() };
    leave(Mark { code: 0, complement: 0 });
    // SAFETY: start-up owns the clock controller.
    let csr = unsafe { &*pac::RCC::PTR }.csr();
    let flags = csr.read().bits();
    csr.modify(|_, w| w.rmvf().set_bit());
    cause(flags, mark)
}

/// Safe state and reset.
pub(crate) fn reset(code: u32) -> ! {
    cortex_m::interrupt::disable();
    safe::everything_off();
    leave(Mark::new(code));
    SCB::sys_reset()
}

/// The supply sags: the same, with its own cause.
pub(crate) fn sagged() -> ! {
    reset(SAGGED)
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    safe::everything_off();
    fmt::warning!("panic");
    reset(FAULT)
}

/// Without the trampoline, so that as little as possible needs the stack: it may be what failed.
#[exception(trampoline = false)]
unsafe fn HardFault() -> ! {
    reset(FAULT)
}

/// The external clock has failed, or another interrupt that cannot be masked.
#[exception]
unsafe fn NonMaskableInt() {
    reset(FAULT)
}

/// Whatever nothing is enabled for.
#[exception]
unsafe fn DefaultHandler(_: i16) {
    reset(FAULT)
}

#[cfg(feature = "log")]
#[defmt::panic_handler]
fn defmt_panic() -> ! {
    reset(FAULT)
}
