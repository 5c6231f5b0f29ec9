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
        let start = DWT::cycle_count();
        let cycles = self.clocking.cycles(ns);
        while DWT::cycle_count().wrapping_sub(start) < cycles {}
    }
}
