//! What the marking on a package says: function, family, package, speed, date, processing, and
//! what else each of them could be.
//!
//! [`read`] takes what is legible, with `?` for a worn character; [`complete`] finishes what is
//! being typed. Pure computation: nothing is read, written or asked. No maker is claimed: letters
//! in front of a number are kept as they are marked.
//!
//! A reading says what a marking means, which is no leave to power the chip:
//! [`Reading::part_name`] names a part only where the library's own rules for markings do.

mod date;
mod decode;
mod ending;
mod logic;
mod memory;
mod military;
mod others;
mod prefix;
mod reading;
mod series;
mod shelf;
mod speed;
mod suffix;
mod table;
mod text;
mod worn;

pub use date::{DateCode, DateForm, Week};
pub use decode::{MOST_CHARACTERS, MOST_READINGS, read, read_as_of};
pub use reading::{Decoded, Military, Package, Reading, Speed, SpeedKind, Temperature, Trust};
pub use shelf::complete;
