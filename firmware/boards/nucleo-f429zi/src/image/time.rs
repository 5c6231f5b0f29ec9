//! Time, from the core's cycle counter.

use cortex_m::Peripherals;
use cortex_m::peripheral::DWT;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_pins::Nanoseconds;

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

/// Waits at least this many cycles.
#[inline(always)]
pub(crate) fn wait(cycles: u32) {
    let start = ticks();
    while ticks().wrapping_sub(start) < cycles {}
}
