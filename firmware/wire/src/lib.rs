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
//! | [`Ask::Stored`] | [`Answer::Stored`] | a page of the programs that the station holds; changes nothing |
//! | [`Ask::Arm`] | [`Answer::Armed`] | ends any program; the button starts this stored program from now on |
//! | [`Ask::Armed`] | [`Answer::Armed`] | which one is armed; changes nothing |
//! | [`Ask::Health`] | [`Answer::Health`] | clock, brown-out level, stack; changes nothing |
//! | [`Ask::March`] | [`Answer::Began`] | the open program's march is checked; nothing is powered yet |
//! | [`Ask::Proceed`] | [`Answer::Marched`] | the march runs on for a while; the first powers the chip |
//! | [`Ask::ReadOut`] | [`Answer::Words`] | words of the march's memory are read, instead of a march; the first powers the chip |
//!
//! The four from stored to health are asked of a station only whose version range reaches 2, the
//! last three only where it reaches 3.
//!
//! Any request may be answered by [`Answer::Refused`], after which the socket is released and
//! unpowered and no program is open. A repeated request (same sequence number and same bytes) is
//! answered again from memory and not run again.
//!
//! A program is its header, then windows of steps. The first window powers the chip, its last or
//! a supply trip unpowers it. Between windows drivers, keepers and supply stay as they are, for at
//! most [`SILENCE_MS`] without a good request; then the socket is released and unpowered. A march
//! program has a set-up instead, and the host asks the station to proceed, or for words, until it
//! has ended; a dynamic memory is refreshed between requests too. The sequence numbers of a
//! program's requests follow each other without a gap.
//!
//! Messages are postcard 1.x, followed by their CRC-32/ISO-HDLC, in COBS frames ended by a zero
//! byte. A frame with any damage is dropped without an answer; a right CRC around something that
//! is no request ends the program, also without an answer. Variants are appended, never moved:
//! postcard encodes their index. `CHANGES.md` lists the versions.

#[cfg(test)]
extern crate std;

mod cobs;
mod frame;
mod health;
mod hello;
mod march;
mod message;
mod pins;
mod program;
mod result;
mod sizes;
mod steps;
mod stored;

pub use frame::{
    Accumulator, BufferTooSmall, FrameError, Malformed, decode_reply, decode_request, encode_reply,
    encode_request,
};
pub use health::{Clock, Health};
pub use hello::{Capabilities, Hello, Nature, ResetCause, VersionRange};
pub use march::{
    Cycle, Element, MAX_ADDRESS, MAX_BACKGROUNDS, MAX_ELEMENTS, MAX_MISSES, MAX_MOVES,
    MAX_OPERATIONS, MAX_WIDTH, MAX_WORDS, MarchFlaw, MarchSetup, Marched, Miss, Move, Operation,
    Order, Refresh, StartUp, Strobed, Words,
};
pub use message::{Answer, Ask, Refusal, Reply, Request, Status, Window};
pub use pins::Pins;
pub use program::{Header, Kind, Power, Rail, Step, Strength, Voltage};
pub use result::{Ended, Failure, PinCount, Place, Ran, Seen, Summary};
pub use sizes::MAX_FRAME;
pub use steps::{Full, Items, Records, Steps, push_seen, push_step};
pub use stored::{Armed, Page, StoredPart};

/// The protocol versions that this build speaks.
pub const VERSIONS: VersionRange = VersionRange { min: 1, max: 3 };

/// The longest powered silence, in milliseconds: beyond it the station switches off.
pub const SILENCE_MS: u32 = 200;

/// The least time of each level of a pulse, in nanoseconds, whatever the settling time.
pub const PULSE_LEVEL_NS: u32 = 500;

/// The bit rate of a serial line between host and station: 8 data bits, no parity, 1 stop bit.
pub const SERIAL_BAUD: u32 = 1_000_000;

/// The hash of the shape of all messages, for [`Hello::schema`].
pub const SCHEMA: [u8; 8] =
    postcard_schema::key::Key::for_path::<(Request, Reply)>("dipsift").to_bytes();

/// The most bytes of step code in a window.
pub const MAX_CODE: usize = 1024;
/// The most bytes of captured records in a reply.
pub const MAX_CAPTURE: usize = 1024;
/// The most first failures that a summary keeps.
pub const MAX_FIRST: usize = 8;
/// The most bytes of a stored program's name.
pub const MAX_NAME: usize = 16;
/// The most bytes of what is said of a stored program.
pub const MAX_NOTE: usize = 48;
/// The most stored programs in a reply.
pub const MAX_PAGE: usize = 16;
/// The most bytes of an encoded message with its CRC.
pub const MAX_MESSAGE: usize = 1792;
