//! From statements to a part.

mod cover;
mod evaluate;
mod gates;
mod memory;
mod mentions;
mod packages;
mod part;
mod pins;
mod registers;
mod symbols;
mod tables;
mod targets;

pub(crate) use part::{Shelf, build};
