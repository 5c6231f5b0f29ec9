//! Where a march is.

use super::refresh::Refreshing;
use dipsift_pins::Nanoseconds;

/// What comes next.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Phase {
    /// The chip is not powered yet.
    Fresh,
    /// Words are read out; nothing is marched.
    Reading,
    /// An element is about to begin.
    Element,
    /// Addresses of an element.
    Addresses {
        /// The next one.
        next: u32,
        /// How many are left.
        left: u32,
        /// Whether they descend.
        down: bool,
    },
    /// A pause.
    Pause {
        /// When it ends.
        until: Nanoseconds,
    },
}

/// The march between two pieces.
pub(crate) struct Progress {
    pub(crate) phase: Phase,
    pub(crate) background: u8,
    pub(crate) element: u8,
    pub(crate) refresh: Refreshing,
}

impl Progress {
    pub(crate) fn new() -> Self {
        Self { phase: Phase::Fresh, background: 0, element: 0, refresh: Refreshing::default() }
    }

    pub(crate) fn is_fresh(&self) -> bool {
        self.phase == Phase::Fresh
    }
}
