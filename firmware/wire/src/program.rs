//! Programs: a header, then windows of steps.

use crate::Pins;
use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// What a program is made of. All kinds are reserved from the start; a station refuses those
/// that its capabilities do not name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Kind {
    /// Steps, streamed in windows.
    Vector,
    /// A march test that the station addresses itself.
    March,
    /// Steps that the station chooses from what it sees.
    Probe,
    /// A program that the station already holds.
    Stored,
}

/// A supply voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Voltage {
    /// 3.3 V.
    V3_3,
    /// 5 V.
    V5,
}

/// How the package is powered while the program runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Power {
    /// Pins to feed.
    pub feed: Pins,
    /// Pins to ground.
    pub ground: Pins,
    /// The supply voltage.
    pub voltage: Voltage,
    /// The current at which the supply trips, in microamperes.
    pub limit_ua: u32,
}

/// What the station must know before the first step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Header {
    /// The kind of program.
    pub kind: Kind,
    /// How many pins the dual in-line package has: even, 4 to 40.
    pub pins: u8,
    /// How many positions pin 1 lies beyond position 1.
    pub shift: u8,
    /// The supply; `None` for a program on an unpowered chip.
    pub power: Option<Power>,
    /// How long the station waits after each change before it samples, in nanoseconds.
    pub settle_ns: u32,
    /// How long the station waits after a keeper rail changes, in nanoseconds.
    pub keeper_ns: u32,
    /// Whether every sample's levels come back.
    pub capture: bool,
}

/// A keeper strength.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Strength {
    /// 22 kΩ on the reference fixture.
    Light,
    /// 2.2 kΩ on the reference fixture.
    Firm,
}

/// What a keeper rail is tied to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Rail {
    /// Disconnected.
    Off,
    /// Ground.
    Low,
    /// The drivers' high level.
    High,
}

/// One step. Steps stand back to back in a window, each in postcard form, none split.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Step {
    /// Drive `pins` from now on, those in `high` high and the rest low. Pins change in any
    /// order. Waits the settling time.
    Drive {
        /// The pins that this step drives.
        pins: Pins,
        /// Those of them to drive high.
        high: Pins,
    },
    /// Stop driving `pins`. Waits the settling time.
    Release {
        /// The pins to release.
        pins: Pins,
    },
    /// Set the keeper rails. Waits the keepers' settling time.
    Keep {
        /// The light rail.
        light: Rail,
        /// The firm rail.
        firm: Rail,
    },
    /// Sample once and compare `pins` with `high`. Driven pins may be compared too: one that
    /// does not follow its driver is a fault.
    Expect {
        /// The pins to compare.
        pins: Pins,
        /// Those of them that should be high.
        high: Pins,
    },
    /// Prove `pins`, none of them driven, to be high impedance: with the keeper high each reads
    /// high, with the keeper low each reads low. The other rail is off meanwhile; both are put
    /// back afterwards. Each half is a comparison of its own. Waits the keepers' settling time
    /// three times.
    ExpectReleased {
        /// The pins to prove.
        pins: Pins,
        /// The keeper to prove them with.
        keeper: Strength,
    },
    /// Take a driven pin to its other level and back, `times` times, with half the settling
    /// time, and no less than [`PULSE_LEVEL_NS`](crate::PULSE_LEVEL_NS), in each level. Waits the
    /// settling time after the last.
    Pulse {
        /// The pin's number.
        pin: u8,
        /// How many pulses.
        times: u32,
    },
    /// Wait.
    Wait {
        /// At least this long, in nanoseconds.
        ns: u32,
    },
    /// Sample once; the levels come back as a [`Seen::Levels`](crate::Seen::Levels) record
    /// whether or not the program captures.
    Sample,
    /// Measure the voltage at a pin whose position has a feed switch.
    Voltage {
        /// The pin's number.
        pin: u8,
    },
    /// Measure the supply current.
    Current,
}
