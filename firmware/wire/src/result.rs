//! What a program found.

use crate::{MAX_CAPTURE, MAX_FIRST, Pins};
use heapless::Vec;
use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// How a program ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Ended {
    /// Every step ran.
    Complete,
    /// The supply tripped when it was connected, before the first step.
    TrippedAtPowerUp,
    /// The supply tripped at a step.
    Tripped {
        /// The step's number, counted from 0 over the whole program.
        step: u32,
    },
    /// A march had as many failures as it was to end at.
    Failures,
}

/// Where in a program something failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Place {
    /// A vector program's step, counted from 0 over the whole program.
    Step(u32),
    /// A march program's operation.
    March {
        /// The march element, from 0.
        element: u8,
        /// The operation within it, from 0.
        operation: u8,
        /// The data background, from 0.
        background: u8,
        /// The address.
        address: u32,
    },
}

/// One failing comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Failure {
    /// Where it failed.
    pub place: Place,
    /// The pins that differ.
    pub pins: Pins,
    /// The levels that were expected, of the compared pins.
    pub expected: Pins,
    /// The levels of all pins that were seen.
    pub seen: Pins,
}

/// How often one pin failed, by the level it showed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct PinCount {
    /// The pin's number.
    pub pin: u8,
    /// How often it was low and should have been high; saturates.
    pub low: u16,
    /// How often it was high and should have been low; saturates.
    pub high: u16,
    /// How often it followed no keeper and should have been high impedance; saturates.
    pub held: u16,
}

/// What is known at a program's end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Summary {
    /// How it ended.
    pub ended: Ended,
    /// How many steps ran.
    pub steps: u32,
    /// How many comparisons failed; saturates.
    pub failures: u32,
    /// The pins that failed, ascending.
    pub pins: Vec<PinCount, 40>,
    /// The first failures, in order.
    pub first: Vec<Failure, MAX_FIRST>,
    /// The smallest supply current measured, in microamperes; 0 for an unpowered program. It is
    /// measured at power-up, at each [`Step::Current`](crate::Step::Current) and at the end of
    /// each window.
    pub current_min_ua: u32,
    /// The largest supply current measured, in microamperes; 0 for an unpowered program.
    pub current_max_ua: u32,
}

/// One captured record, in the order of the steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Seen {
    /// The levels of all pins of the package.
    Levels(Pins),
    /// A voltage in millivolts; `None` where the position has no feed switch.
    Voltage(Option<u16>),
    /// A supply current in microamperes.
    Current(u32),
}

/// The reply to a window.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Ran {
    /// The window's number.
    pub index: u32,
    /// The captured [`Seen`] records, back to back in postcard form.
    pub seen: Vec<u8, MAX_CAPTURE>,
    /// What was found, once the program has ended. A trip ends it before its last window.
    pub summary: Option<Summary>,
}
