//! Programs that a station holds itself.

use crate::{MAX_NAME, MAX_NOTE, MAX_PAGE};
use heapless::{String, Vec};
use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// A page of stored programs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Page {
    /// How many the station holds altogether.
    pub count: u16,
    /// Those from the one asked for on, in the order of their names; none beyond the last.
    pub parts: Vec<StoredPart, MAX_PAGE>,
}

/// A stored program.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct StoredPart {
    /// The part's name as people write it, `74LS00`.
    pub name: String<MAX_NAME>,
    /// The number of its [`Kind`](crate::Kind). It may be one that this version does not know.
    pub kind: u8,
    /// How many pins the package has.
    pub pins: u8,
    /// How many positions pin 1 lies beyond position 1.
    pub shift: u8,
    /// Whether it can be armed and run.
    pub runnable: bool,
    /// What it assumes, in a few words.
    pub note: String<MAX_NOTE>,
}

/// What is armed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Armed {
    /// The name under which it was armed.
    pub name: String<MAX_NAME>,
    /// Whether the image still holds a program of that name that a press can run.
    pub held: bool,
}
