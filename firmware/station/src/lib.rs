#![no_std]
//! A station: bytes in, checked request, engine, reply bytes out.
//!
//! A board calls [`Station::receive`] with what its line has brought and [`Station::poll`] at
//! least every half millisecond ([`STALL_NS`](dipsift_engine::STALL_NS)); the rest is here. Every way out of a program ends in the safe
//! state: its last window, a supply trip, a refusal, a malformed message, another request, and
//! silence of more than [`SILENCE_MS`](dipsift_wire::SILENCE_MS) milliseconds.
//!
//! A station may hold programs itself: [`Station::press`] runs the armed one without a host. While
//! it runs, nothing of the line is read: requests wait in the board's buffer.
//!
//! A frame with any damage is counted and dropped, and neither answers, nor ends, nor prolongs a
//! program.

mod fmt;
mod session;
mod station;
mod stored;

pub use station::{Identity, Station};
pub use stored::{Press, Stored};
