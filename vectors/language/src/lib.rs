//! The part language: what a chip's description says, as a model that everything else is fed
//! from: pinout pictures, vectors, the simulated chip, placement and wiring advice.
//!
//! The language is described in `REFERENCE.md` beside this crate.

mod aliases;
mod build;
mod diagnostic;
mod family;
mod library;
mod machine;
mod memory;
mod model;
mod network;
mod part_name;
mod reading;
mod shared_numbers;
mod syntax;
mod table_file;
mod word;

pub use aliases::{Alias, Aliases};
pub use diagnostic::{Diagnostic, Severity};
pub use family::{Class, Family};
pub use library::Library;
pub use machine::{Machine, Settled};
pub use memory::{Array, Half, MakerGrade, Memory, Moment, Startup, Time};
pub use model::{Output, Package, PackageKind, Part, Pin, PinId, Role, Steady};
pub use network::{Driver, Edge, Network, Node, NodeId, Register, Rule, StateId};
pub use part_name::{PartName, PartNameError, marking};
pub use reading::{MOST_BYTES, Reading, read, read_with};
pub use shared_numbers::{Choice, SharedNumbers};
pub use table_file::TableError;
pub use word::Word;
