#![no_std]
//! What host and station say to each other.
//!
//! | request | reply | what happens |
//! |---|---|---|
//! | [`Ask::Hello`] | [`Answer::Hello`] | versions and capabilities; ends any program |
//! | [`Ask::Begin`] | [`Answer::Began`] | the program's header is checked; nothing is powered yet |
//! | [`Ask::Window`] | [`Answer::Ran`] | the window's steps are checked as a whole, then run |
//! | [`Ask::Off`] | [`Answer::Off`] | the socket is released and unpowered |
//! | [`Ask::Status`] | [`Answer::Status`] | counters; changes nothing |
//!
//! Any request may be answered by [`Answer::Refused`], after which the socket is released and
//! unpowered and no program is open. A repeated request (same sequence number and same bytes) is
//! answered again from memory and not run again.
//!
//! Messages are postcard 1.x, followed by their CRC-32/ISO-HDLC, in COBS frames ended by a zero
//! byte. Variants are appended, never moved: postcard encodes their index.

mod hello;
mod message;
mod pins;
mod program;
mod result;

pub use hello::{Capabilities, Hello, Nature, ResetCause, VersionRange};
pub use message::{Answer, Ask, Refusal, Reply, Request, Status, Window};
pub use pins::Pins;
pub use program::{Header, Kind, Power, Rail, Step, Strength, Voltage};
pub use result::{Ended, Failure, PinCount, Place, Ran, Seen, Summary};

/// The protocol versions that this build speaks.
pub const VERSIONS: VersionRange = VersionRange { min: 1, max: 1 };

/// The longest powered silence, in milliseconds: beyond it the station switches off.
pub const SILENCE_MS: u32 = 200;

/// The most bytes of step code in a window.
pub const MAX_CODE: usize = 1024;
/// The most bytes of captured records in a reply.
pub const MAX_CAPTURE: usize = 1024;
/// The most first failures that a summary keeps.
pub const MAX_FIRST: usize = 8;
/// The most bytes of an encoded message with its CRC.
pub const MAX_MESSAGE: usize = 1536;
