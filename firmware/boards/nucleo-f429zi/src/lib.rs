#![no_std]
#![forbid(unsafe_code)]
//! A station on the NUCLEO-F429ZI board: all of it that is data or arithmetic.
//!
//! The pin map, the reference fixture, the words of the ports and the limits of the pins are here
//! and are tested on the host. The registers are in the binary `nucleo-f429zi`, which builds with
//! the feature `image` for the controller only. `firmware/build` builds it.
//!
//! Nothing here has run on a board yet.

#[cfg(test)]
extern crate std;

pub mod button;
pub mod clocking;
pub mod connectors;
pub mod fixture;
pub mod lamps;
pub mod map;
pub mod nets;
pub mod reset;
pub mod ring;
pub mod stored;
pub mod tolerance;
pub mod words;
