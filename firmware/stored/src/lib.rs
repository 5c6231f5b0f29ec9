#![no_std]
//! Programs that a station holds itself, for checks without a host.
//!
//! Two things, each safe against whatever the memory says:
//!
//! - [`Blob`]: the programs, written on a host (see [`layout`]) and part of the image. It is taken
//!   or refused as a whole by its CRC, and what it holds is checked again when it is read.
//! - [`armed`] and [`arm`]: which program the button starts, kept over resets and power cuts in
//!   two sectors of flash memory behind the trait [`Memory`].
//!
//! A stored program is a list of [`Phase`]s. Each is a program as a host would stream it, and what
//! its passing and its failing mean. The programs still go through the engine's check before they
//! run: a blob can ask for nothing that a host could not ask for.

#[cfg(test)]
extern crate std;

mod blob;
pub mod layout;
mod memory;
mod phase;
mod read;
mod record;

pub use blob::{Blob, BlobError, Entry};
pub use memory::{Memory, MemoryFault, NoMemory, Sector};
pub use phase::{Found, Next, Phase, Verdict};
pub use record::{RECORD_WORDS, arm, armed};

use crc::{CRC_32_ISO_HDLC, Crc};

/// The CRC of blobs and records, that of the wire's frames.
pub const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);
/// The same, in memory once.
pub(crate) static CHECK: Crc<u32> = CRC;
