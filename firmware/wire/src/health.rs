//! How a station itself is.

use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// What a station's time comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Clock {
    /// The clock that the board is meant to run on.
    Regular,
    /// A fallback of the same speed: an internal oscillator, less exact.
    Internal,
    /// A slow fallback: programs take longer than announced.
    Slow,
    /// None: the time is simulated.
    Virtual,
}

/// How a station itself is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Health {
    /// What its time comes from.
    pub clock: Clock,
    /// The level of the brown-out reset, 0 (off) to 3 (the highest); `None` where there is none.
    pub brown_out: Option<u8>,
    /// The bytes of stack that were never used since the start; `None` where it is not known.
    pub stack_free: Option<u32>,
}
