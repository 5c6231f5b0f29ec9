//! Which program has run, for the records: two checks with the same hash did the same.

use dipsift_wire::Header;
use serde::{Serialize, Serializer};
use sha2::{Digest, Sha256};
use std::fmt;

/// The SHA-256 (FIPS 180-4) of a program as it goes to the station: its header, then its vectors or
/// its march. What is run again after a failure, to explain it, is not in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ProgramHash(pub [u8; 32]);

impl ProgramHash {
    /// The hash of a header and what follows it. `None` where that cannot be encoded, and so
    /// cannot run either.
    pub(crate) fn of(header: &Header, body: &impl Serialize) -> Option<Self> {
        let bytes = postcard::to_allocvec(&(header, body)).ok()?;
        Some(Self(Sha256::digest(bytes).into()))
    }
}

impl fmt::Display for ProgramHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl Serialize for ProgramHash {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
