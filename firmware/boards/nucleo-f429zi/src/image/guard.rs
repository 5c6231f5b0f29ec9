//! The stack's end.
//!
//! The stack lies below everything else in memory, so that it can never grow into data: it would
//! leave the memory, which faults. The last kilobyte is closed too, so that the fault comes while
//! there is still room for its handler, which runs with the protection off.

use cortex_m::peripheral::MPU;
use cortex_m::register::msp;

unsafe extern "C" {
    /// The lowest address of the stack, from `memory.x`.
    static _stack_end: u32;
}

/// Region 0, valid bit set; 2^(9 + 1) bytes, no access, never executed (ARM DDI 0403, MPU_RBAR
/// and MPU_RASR).
const VALID: u32 = 1 << 4;
const CLOSED_KILOBYTE: u32 = 1 << 28 | 9 << 1 | 1;
/// The rest of the memory as without protection; off in fault handlers.
const ON: u32 = 1 << 2 | 1;

/// What unused stack is filled with.
const UNUSED: u32 = 0x7573_6564;
/// How far below the stack pointer the filling ends: what the filling itself may need.
const OWN_BYTES: u32 = 256;

/// The lowest address of the stack that is open.
fn lowest() -> u32 {
    core::ptr::addr_of!(_stack_end) as u32 + 1024
}

/// Marks the stack that is not used yet.
fn fill() {
    let mut address = lowest();
    while address < msp::read() - OWN_BYTES {
        // SAFETY: it lies below everything on the stack, and above its end.
        unsafe { (address as *mut u32).write_volatile(UNUSED) };
        address += 4;
    }
}

/// The bytes of stack that were never used since the start.
pub(crate) fn unused() -> u32 {
    let mut address = lowest();
    // SAFETY: it lies in the stack, and any bits are a word.
    while address < msp::read() && unsafe { (address as *const u32).read_volatile() } == UNUSED {
        address += 4;
    }
    address - lowest()
}

/// Closes the end of the stack.
pub(crate) fn start() {
    fill();
    let base = core::ptr::addr_of!(_stack_end) as u32;
    // SAFETY: start-up owns the protection unit; the region covers memory that nothing may use.
    unsafe {
        let mpu = &*MPU::PTR;
        mpu.rbar.write(base | VALID);
        mpu.rasr.write(CLOSED_KILOBYTE);
        mpu.ctrl.write(ON);
    }
    cortex_m::asm::dsb();
    cortex_m::asm::isb();
}
