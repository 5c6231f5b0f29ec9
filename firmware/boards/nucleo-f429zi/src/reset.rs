//! Why the controller started.

use dipsift_wire::ResetCause;

/// What the firmware leaves in memory before it resets the controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark {
    /// One of the codes here.
    pub code: u32,
    /// The code's complement: memory that powers up at random is not taken for a mark.
    pub complement: u32,
}

/// A panic or fault.
pub const FAULT: u32 = 0x6661_756c;
/// The controller's supply sagged below the watched level.
pub const SAGGED: u32 = 0x7361_6767;

impl Mark {
    /// A mark with this code.
    pub const fn new(code: u32) -> Self {
        Self { code, complement: !code }
    }

    const fn is(self, code: u32) -> bool {
        self.code == code && self.complement == !code
    }
}

/// Flags of the clock controller's status register (ST RM0090, RCC_CSR).
const BROWN_OUT: u32 = 1 << 25;
const PIN: u32 = 1 << 26;
const POWER_ON: u32 = 1 << 27;
const SOFTWARE: u32 = 1 << 28;
const WATCHDOGS: u32 = 1 << 29 | 1 << 30;

/// The cause, from the flags and the mark. The flags add up until they are cleared, and the pin's
/// is set by every cause, since every cause pulls the pin (ST RM0090, reset circuit).
pub const fn cause(flags: u32, mark: Mark) -> ResetCause {
    if flags & POWER_ON != 0 {
        // It sets the brown-out flag too.
        ResetCause::PowerOn
    } else if flags & WATCHDOGS != 0 {
        ResetCause::Watchdog
    } else if flags & SOFTWARE != 0 {
        if mark.is(FAULT) {
            ResetCause::Fault
        } else if mark.is(SAGGED) {
            ResetCause::BrownOut
        } else {
            ResetCause::Software
        }
    } else if flags & BROWN_OUT != 0 {
        ResetCause::BrownOut
    } else if flags & PIN != 0 {
        ResetCause::Pin
    } else {
        ResetCause::Unknown
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Mark = Mark { code: 0, complement: 0 };

    /// Reset values and combinations as ST RM0090 describes them for RCC_CSR: 0x0e00_0000 after
    /// power-on.
    #[test]
    fn causes() {
        let pin = 1 << 26;
        assert_eq!(cause(0x0e00_0000, NONE), ResetCause::PowerOn);
        assert_eq!(cause(pin, NONE), ResetCause::Pin);
        assert_eq!(cause(pin | 1 << 25, NONE), ResetCause::BrownOut);
        assert_eq!(cause(pin | 1 << 29, NONE), ResetCause::Watchdog);
        assert_eq!(cause(pin | 1 << 30, NONE), ResetCause::Watchdog);
        assert_eq!(cause(pin | 1 << 28, NONE), ResetCause::Software);
        assert_eq!(cause(pin | 1 << 28, Mark::new(FAULT)), ResetCause::Fault);
        assert_eq!(cause(pin | 1 << 28, Mark::new(SAGGED)), ResetCause::BrownOut);
        assert_eq!(cause(0, Mark::new(FAULT)), ResetCause::Unknown);
    }

    #[test]
    fn a_random_mark_is_none() {
        let mark = Mark { code: FAULT, complement: 0 };
        assert_eq!(cause(1 << 28, mark), ResetCause::Software);
        // A mark outlives the power only by chance: the flags decide.
        assert_eq!(cause(0x0e00_0000, Mark::new(FAULT)), ResetCause::PowerOn);
    }
}
