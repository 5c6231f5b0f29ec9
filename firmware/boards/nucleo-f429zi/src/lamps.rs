//! What the three lamps say. A verdict is steady; what goes on blinks.

use dipsift_pins::Nanoseconds;

/// What there is to show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shown {
    /// Nothing since the start or since a host's last program.
    #[default]
    Rest,
    /// A check runs, or the socket is powered.
    Busy,
    /// The last check's verdict: go.
    Go,
    /// The last check's verdict: no-go.
    NoGo,
    /// The last check's verdict: not decided.
    NotDecided,
    /// The button was pressed and there was nothing to run.
    Nothing,
}

/// Which lamps are lit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct Lamps {
    pub go: bool,
    pub no_go: bool,
    pub not_decided: bool,
}

/// Half of the blinking's period. From here on the blinking lamp is lit for the first time.
pub const BLINK: Nanoseconds = Nanoseconds::from_millis(128);

impl Shown {
    /// The lamps at a time.
    pub const fn lamps(self, now: Nanoseconds) -> Lamps {
        let none = Lamps { go: false, no_go: false, not_decided: false };
        match self {
            Self::Rest => none,
            Self::Busy => Lamps { not_decided: now.0 / BLINK.0 % 2 == 1, ..none },
            Self::Go => Lamps { go: true, ..none },
            Self::NoGo => Lamps { no_go: true, ..none },
            Self::NotDecided => Lamps { not_decided: true, ..none },
            Self::Nothing => Lamps { go: true, no_go: true, not_decided: true },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shown_can_be_told_apart() {
        let over_a_second = |shown: Shown| -> std::vec::Vec<Lamps> {
            (0..1_000).map(|ms| shown.lamps(Nanoseconds::from_millis(ms))).collect()
        };
        let all =
            [Shown::Rest, Shown::Busy, Shown::Go, Shown::NoGo, Shown::NotDecided, Shown::Nothing];
        for (index, shown) in all.iter().enumerate() {
            let lamps = over_a_second(*shown);
            let changes = lamps.windows(2).filter(|pair| pair[0] != pair[1]).count();
            assert_eq!(changes > 0, *shown == Shown::Busy, "{shown:?}");
            for other in &all[..index] {
                assert_ne!(over_a_second(*other), lamps, "{shown:?} and {other:?}");
            }
        }
    }
}
