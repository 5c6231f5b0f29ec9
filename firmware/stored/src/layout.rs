//! How a blob's bytes lie. Integers have their least significant byte first; offsets count from
//! the blob's first byte.
//!
//! | part | bytes |
//! |---|---|
//! | head | [`MAGIC`], format 2, count of entries 2, length of the whole blob 4 |
//! | directory | for each entry: name [`NAME_BYTES`], kind 1, pins 1, shift 1, zero 1, offset 4 and length 4 of its body |
//! | bodies | see below |
//! | pool | the code of windows; equal code stands once |
//! | end | CRC-32/ISO-HDLC of all before, 4 |
//!
//! The directory ascends by name. Names are padded with zeros. The kind is the number of the
//! wire's program kind; entries of a kind that a reader does not know are listed and not run, so
//! that other kinds can be added without a new format.
//!
//! The body of a vector entry, and of a march entry:
//!
//! | part | bytes |
//! |---|---|
//! | note | length 1, UTF-8 |
//! | phases | count 1, then each of them |
//! | – next | after passing, failing, a trip, a trip at power-up: 1 each, see [`Next`](crate::Next) |
//! | – sure | pins whose failing is a no-go at once, 8 |
//! | – voltages | count 1, then the least and the most millivolts of each measured voltage, 2 each |
//! | – header | length 1, the wire's header in postcard form |
//! | – windows | count 2, then offset 4 and length 2 of each window's code |
//!
//! A phase whose header is that of a march has one window, whose code is the message that sets the
//! march up (`Ask::March`), as a host would send it, without its CRC. Only a march entry has such
//! phases; its others are vector programs.

use dipsift_wire::Kind;

/// What a blob begins with.
pub const MAGIC: [u8; 4] = *b"dsst";
/// The format that this describes.
pub const FORMAT: u16 = 1;
/// The bytes of the head.
pub const HEAD_BYTES: usize = 12;
/// The bytes of an entry in the directory.
pub const LINE_BYTES: usize = 28;
/// The bytes of a name, padding included.
pub const NAME_BYTES: usize = 16;
/// The most bytes of a note.
pub const NOTE_BYTES: usize = 48;
/// The bytes of a voltage's limits.
pub const BOUND_BYTES: usize = 4;
/// The bytes of a reference to a window's code.
pub const WINDOW_BYTES: usize = 6;
/// The bytes of the CRC at the end.
pub const CRC_BYTES: usize = 4;
/// The kind of entries that are phases of vector programs.
pub const VECTOR: u8 = Kind::Vector as u8;
/// The kind of entries one of whose phases is a march.
pub const MARCH: u8 = Kind::March as u8;
