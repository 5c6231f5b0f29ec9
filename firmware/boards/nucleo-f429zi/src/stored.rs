//! The programs that the image holds, and where it keeps which of them is armed.

/// The stored programs, as `dipsift stored compile` writes them.
pub const PROGRAMS: &[u8] = include_bytes!("../stored.bin");

/// The bytes of each of the two sectors that hold what is armed (ST RM0090, flash module
/// organization: sectors 12 and 13).
pub const SECTOR_BYTES: usize = 16 * 1024;
