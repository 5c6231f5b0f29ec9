//! What the controller runs on, and time in its cycles.

use core::num::NonZeroU16;
use dipsift_wire::Clock;

/// The clock that start-up has arrived at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clocking {
    /// 168 MHz from the debug probe's 8 MHz.
    External,
    /// 168 MHz from the internal oscillator: the probe's clock has not come.
    Internal,
    /// The internal oscillator's 16 MHz as they are: the multiplier has not come up either.
    Slow,
}

impl Clocking {
    /// The core's clock.
    pub const fn core_hertz(self) -> u32 {
        match self {
            Self::External | Self::Internal => 168_000_000,
            Self::Slow => 16_000_000,
        }
    }

    /// The clock of the bus with the serial port.
    pub const fn serial_hertz(self) -> u32 {
        match self {
            Self::External | Self::Internal => self.core_hertz() / 4,
            Self::Slow => self.core_hertz(),
        }
    }

    /// What the station's health says.
    pub const fn clock(self) -> Clock {
        match self {
            Self::External => Clock::Regular,
            Self::Internal => Clock::Internal,
            Self::Slow => Clock::Slow,
        }
    }

    /// What the hello's commit gets appended, so that a fallback shows on a host of protocol
    /// version 1, too.
    pub const fn mark(self) -> &'static str {
        match self {
            Self::External => "",
            Self::Internal => "~hsi",
            Self::Slow => "~slow",
        }
    }

    /// A cycle in nanoseconds, rounded up.
    pub const fn cycle_ns(self) -> u32 {
        1_000_000_000_u32.div_ceil(self.core_hertz())
    }

    /// How many cycles last at least this long. No division, since it is on the way of every step.
    pub const fn cycles(self, ns: u32) -> u32 {
        // Cycles a nanosecond in units of 2^-32, rounded up: below 1, so the product fits.
        let rate = match self {
            Self::External | Self::Internal => 721_554_506,
            Self::Slow => 68_719_477,
        };
        ((ns as u64 * rate) >> 32) as u32 + 1
    }

    /// How long this many cycles take.
    pub const fn nanoseconds(self, cycles: u64) -> u64 {
        match self {
            // 1000 / 168 and 1000 / 16; the quotient first, so that nothing overflows.
            Self::External | Self::Internal => cycles / 21 * 125 + cycles % 21 * 125 / 21,
            Self::Slow => cycles / 2 * 125 + cycles % 2 * 125 / 2,
        }
    }

    /// What the serial port divides its clock by for a bit rate; 16 at least.
    pub const fn divisor(self, baud: u32) -> NonZeroU16 {
        let divisor = match self.serial_hertz().checked_div(baud) {
            // Rounded to the nearest.
            Some(_) => (self.serial_hertz() + baud / 2) / baud,
            None => u32::MAX,
        };
        let divisor = if divisor > 0xffff { 0xffff } else { divisor as u16 };
        match NonZeroU16::new(divisor) {
            Some(divisor) if divisor.get() >= 16 => divisor,
            _ => NonZeroU16::MIN.saturating_add(15),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dipsift_wire::SERIAL_BAUD;

    const ALL: [Clocking; 3] = [Clocking::External, Clocking::Internal, Clocking::Slow];

    #[test]
    fn a_wait_is_never_short_and_hardly_long() {
        for clocking in ALL {
            let hertz = u128::from(clocking.core_hertz());
            for ns in (0..2_000).chain((0..=u32::MAX).step_by(7_654_321)).chain([u32::MAX]) {
                let exact = (u128::from(ns) * hertz).div_ceil(1_000_000_000) as u32;
                let cycles = clocking.cycles(ns);
                assert!(cycles >= exact && cycles <= exact + 3, "{clocking:?} {ns} {cycles}");
            }
        }
    }

    #[test]
    fn cycles_become_nanoseconds_and_do_not_overflow() {
        for clocking in ALL {
            let hertz = u128::from(clocking.core_hertz());
            // Ten years at 168 MHz are below 2^56.
            for cycles in (0..3_000).chain((0..56).map(|bit| (1 << bit) - 1)) {
                let exact = (u128::from(cycles) * 1_000_000_000 / hertz) as u64;
                assert_eq!(clocking.nanoseconds(cycles), exact, "{clocking:?} {cycles}");
            }
        }
    }

    /// Both ends of an asynchronous line together may be off by less than half a bit in ten,
    /// 5 %; half of that for each end (common practice).
    #[test]
    fn the_serial_line_is_close_enough() {
        for clocking in ALL {
            for baud in [SERIAL_BAUD, 1_000_000] {
                let divisor = f64::from(clocking.divisor(baud).get());
                let rate = f64::from(clocking.serial_hertz()) / divisor;
                let error = (rate / f64::from(baud) - 1.0).abs();
                assert!(error < 0.025, "{clocking:?}: {baud} off by {error}");
            }
        }
        assert_eq!(Clocking::External.divisor(1_000_000).get(), 42);
        assert_eq!(Clocking::Slow.divisor(0).get(), 0xffff);
        assert_eq!(Clocking::Slow.divisor(u32::MAX / 2).get(), 16);
    }
}
