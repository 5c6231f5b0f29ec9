//! The socket's three ports from one base address, for the loops that must be fast.
//!
//! The ports lie within reach of each other, so that one register holds the address of all; left
//! to itself the compiler makes an address for each, again and again.

use core::arch::asm;
use stm32f4::stm32f429 as pac;

/// What the ports lie beyond the first of them, and their registers beyond each (ST RM0090, memory
/// map: 0x4002 0c00, 0x4002 1000, 0x4002 1400; GPIO registers), in bytes.
pub(crate) const D: usize = 0;
pub(crate) const E: usize = 0x400;
pub(crate) const F: usize = 0x800;
pub(crate) const MODES: usize = 0x00;
pub(crate) const INPUTS: usize = 0x10;
pub(crate) const LEVELS: usize = 0x18;

/// The base address, in a form that the compiler cannot take apart.
#[inline(always)]
pub(crate) fn socket_ports() -> *mut u8 {
    let mut base = pac::GPIOD::PTR as *mut u8;
    // SAFETY: no instruction at all.
    unsafe { asm!("/* {0} */", inout(reg) base, options(pure, nomem, nostack, preserves_flags)) };
    base
}

/// Writes a register.
#[inline(always)]
pub(crate) fn write(base: *mut u8, offset: usize, word: u32) {
    // SAFETY: the offsets above are those of registers for which every value is valid; the mode
    // registers keep what they hold beside the socket, see `words`.
    unsafe { base.add(offset).cast::<u32>().write_volatile(word) };
}

/// Reads a register.
#[inline(always)]
pub(crate) fn read(base: *mut u8, offset: usize) -> u32 {
    // SAFETY: the offsets above are those of registers; reading them has no effect.
    unsafe { base.add(offset).cast::<u32>().read_volatile() }
}
