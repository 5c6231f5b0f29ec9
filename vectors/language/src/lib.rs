//! The part language: what a chip's description says, as a model that everything else is fed
//! from: pinout pictures, vectors, the simulated chip, placement and wiring advice.
//!
//! The language is described in `REFERENCE.md` beside this crate.

mod family;
mod machine;
mod model;
mod network;

pub use family::{Class, Family};
pub use machine::{Machine, Settled, Word};
pub use model::{
    Memory, Output, Package, PackageKind, Part, Pin, PinId, Role, Steady,
};
pub use network::{Driver, Edge, Network, Node, NodeId, Register, Rule, StateId};
