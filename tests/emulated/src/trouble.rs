//! What ends an emulation.

use thiserror::Error;

/// The image has done what is not modelled, or what no image may do.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Trouble {
    /// A register that is not modelled, or a value in it.
    #[error("{part} register {offset:#x} is not modelled, or not with this value")]
    Unmodelled {
        /// The peripheral.
        part: &'static str,
        /// The register's offset, or its address in the processor.
        offset: u32,
    },
    /// An access to an address where nothing is modelled.
    #[error("nothing is modelled at {0:#x}")]
    Nothing(u32),
    /// An access of this many bytes to a register that is not that wide.
    #[error("access of {1} bytes at {0:#x}")]
    Width(u32, usize),
    /// A peripheral whose clock is off.
    #[error("the clock of {0} is off")]
    NoClock(&'static str),
    /// Against the maker's manual.
    #[error("{0}")]
    Misuse(&'static str),
    /// Something on the fixture that must never be.
    #[error("fixture: {0}")]
    Hazard(&'static str),
    /// A fault within the fault handler.
    #[error("locked up at {0:#x}")]
    Lockup(u32),
    /// The emulator itself.
    #[error("emulator: {0}")]
    Emulator(String),
}

impl Trouble {
    pub(crate) const fn unmodelled(part: &'static str, offset: u32) -> Self {
        Self::Unmodelled { part, offset }
    }
}
