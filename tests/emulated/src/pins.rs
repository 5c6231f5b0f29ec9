//! What happens at the socket's pins, in its order.

/// A change or a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PinEvent {
    /// The ports drive other positions or levels.
    Driven {
        /// When, in nanoseconds.
        at: u64,
        /// The driven positions, position 1 in bit 0.
        driven: u64,
        /// Those of them that are high.
        high: u64,
    },
    /// The inputs of one of the socket's ports are read.
    Read {
        /// When, in nanoseconds.
        at: u64,
        /// The port, of A to G.
        port: usize,
    },
}

impl PinEvent {
    /// When it happened, in nanoseconds.
    pub const fn at(&self) -> u64 {
        match *self {
            Self::Driven { at, .. } | Self::Read { at, .. } => at,
        }
    }
}
