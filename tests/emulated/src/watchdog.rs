//! The independent watchdog.

use crate::Trouble;

/// Its own clock (ST DS9405, typical).
const HERTZ: u64 = 32_000;
/// How long a new value takes to arrive: five of its cycles (ST RM0090, IWDG_SR).
const UPDATE_NS: u64 = 5 * 1_000_000_000 / HERTZ;

#[derive(Debug)]
pub(crate) struct Watchdog {
    on: bool,
    unlocked: bool,
    prescaler: u32,
    reload: u32,
    updated_at: u64,
    /// When it resets the controller, in nanoseconds.
    due: u64,
    /// How often it was fed: once a round of the image's loop.
    pub(crate) fed: u64,
}

impl Watchdog {
    pub(crate) fn new() -> Self {
        Self {
            on: false,
            unlocked: false,
            prescaler: 0,
            reload: 0xfff,
            updated_at: 0,
            due: u64::MAX,
            fed: 0,
        }
    }

    /// When it resets the controller, in nanoseconds; never while it is off.
    pub(crate) fn due(&self) -> u64 {
        self.due
    }

    fn period_ns(&self) -> u64 {
        u64::from(self.reload + 1) * (4 << self.prescaler) * 1_000_000_000 / HERTZ
    }

    pub(crate) fn read(&self, offset: u32, now: u64) -> Result<u32, Trouble> {
        match offset {
            0x0c => Ok(if now < self.updated_at { 3 } else { 0 }),
            _ => Err(Trouble::unmodelled("IWDG", offset)),
        }
    }

    pub(crate) fn write(&mut self, offset: u32, value: u32, now: u64) -> Result<(), Trouble> {
        match (offset, value) {
            (0x00, 0xcccc) => {
                self.on = true;
                self.due = now + self.period_ns();
            }
            (0x00, 0xaaaa) => {
                self.unlocked = false;
                self.fed += 1;
                if self.on {
                    self.due = now + self.period_ns();
                }
            }
            (0x00, 0x5555) => self.unlocked = true,
            (0x04, 0..=6) if self.unlocked => {
                self.prescaler = value;
                self.updated_at = now + UPDATE_NS;
            }
            (0x08, 0..=0xfff) if self.unlocked => {
                self.reload = value;
                self.updated_at = now + UPDATE_NS;
            }
            (0x04 | 0x08, _) => {
                return Err(Trouble::Misuse("IWDG is locked or the value too large"));
            }
            _ => return Err(Trouble::unmodelled("IWDG", offset)),
        }
        Ok(())
    }
}
