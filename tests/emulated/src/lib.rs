//! The board's image on an emulated controller.
//!
//! A [`Machine`] runs the ELF that would be flashed. Its registers are modelled one by one, and
//! whatever is not modelled is an error. Its socket is the simulator's, updated at every write to
//! a port. [`Line`] is its serial line as the host's transport.
//!
//! GPL-2.0, because `unicorn-engine` is: for tests only, and nothing links it.

mod board;
mod clocks;
mod converter;
mod core_registers;
mod exceptions;
mod fixture;
mod flash;
mod image;
mod line;
mod lines;
mod machine;
mod pins;
mod ports;
mod serial;
mod thumb;
mod trouble;
mod watchdog;

pub use board::{Board, Reset};
pub use clocks::Sources;
pub use fixture::{Fixture, PowerOn};
pub use image::Image;
pub use line::Line;
pub use machine::{Counts, Fault, Machine};
pub use pins::PinEvent;
pub use serial::Received;
pub use trouble::Trouble;
