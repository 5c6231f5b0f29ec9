//! Time, from the core's cycle counter.

use core::arch::asm;
use cortex_m::Peripherals;
use cortex_m::peripheral::DWT;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_pins::Nanoseconds;

/// The counter's register (ARM DDI 0403, DWT_CYCCNT).
const DWT_COUNTER: *const u32 = (DWT::PTR as *const u32).wrapping_add(1);

/// The cycle counter, carried beyond its 32 bits.
pub(crate) struct Time {
    clocking: Clocking,
    seen: u32,
    cycles: u64,
}

impl Time {
    /// Starts the counter.
    pub(crate) fn start(clocking: Clocking) -> Self {
        // SAFETY: only this module uses the counter and its enable bits.
        let mut core = unsafe { Peripherals::steal() };
        core.DCB.enable_trace();
        core.DWT.enable_cycle_counter();
        Self { clocking, seen: DWT::cycle_count(), cycles: 0 }
    }

    /// Since the start. To be called at least once in the 25 s that the counter takes around.
    pub(crate) fn now(&mut self) -> Nanoseconds {
        let count = DWT::cycle_count();
        self.cycles += u64::from(count.wrapping_sub(self.seen));
        self.seen = count;
        Nanoseconds(self.clocking.nanoseconds(self.cycles))
    }

    /// Waits at least this long.
    #[inline]
    pub(crate) fn wait(&self, ns: u32) {
        let start = ticks();
        let cycles = self.clocking.cycles(ns);
        while ticks().wrapping_sub(start) < cycles {}
    }

    /// How many cycles last at least this long.
    pub(crate) fn cycles(&self, ns: u32) -> u32 {
        self.clocking.cycles(ns)
    }
}

/// The counter's 32 bits now.
#[inline(always)]
pub(crate) fn ticks() -> u32 {
    DWT::cycle_count()
}

/// Waits at least this many cycles, less than half of what the counter holds, and ends within a
/// round of its loop, seven cycles. Written out, since the compiler would unroll the loop.
#[inline(always)]
pub(crate) fn wait(cycles: u32) {
    // SAFETY: it reads the counter, which has no effect, and changes registers and flags only.
    unsafe {
        asm!(
            "ldr {end}, [{counter}]",
            "add {end}, {end}, {cycles}",
            "2:",
            "ldr {left}, [{counter}]",
            "subs {left}, {left}, {end}",
            "bmi 2b",
            counter = in(reg) DWT_COUNTER,
            cycles = in(reg) cycles,
            end = out(reg) _,
            left = out(reg) _,
            options(nostack),
        );
    }
}

/// Waits as many cycles, and ends within one cycle of it, whatever the loop's rounds: what is left
/// after the last one is spent in moves of one cycle each.
#[inline(always)]
pub(crate) fn wait_closely(cycles: u32) {
    // The loop ends at least 20 cycles before the end: five follow the last look (subtraction,
    // branch, saturation, and the jump with its refill), fifteen are the moves. What the look
    // came late is left out of them, up to all: then the time is over already.
    const BEFORE: u32 = 20;
    // SAFETY: it reads the counter, which has no effect, and changes registers and flags only. The
    // jump is to one of the moves or behind the last: its offset counts from 4 bytes behind it, is
    // even but for the lowest bit, which is not used, and 31 at most.
    unsafe {
        asm!(
            "ldr {end}, [{counter}]",
            "add {end}, {end}, {cycles}",
            "sub {end}, {end}, #{before}",
            "2:",
            "ldr {late}, [{counter}]",
            "subs {late}, {late}, {end}",
            "bmi 2b",
            "usat {late}, #5, {late}, lsl #1",
            "add pc, {late}",
            ".rept 16",
            "mov r8, r8",
            ".endr",
            counter = in(reg) DWT_COUNTER,
            cycles = in(reg) cycles,
            before = const BEFORE,
            end = out(reg) _,
            late = out(reg) _,
            options(nostack),
        );
    }
}
