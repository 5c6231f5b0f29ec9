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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::preflight::{contact_steps, unpowered};
    use std::io::Write;
    use std::process::{Command, Stdio};

    /// What `sha256sum` (GNU coreutils) says of the bytes that a station gets.
    #[test]
    fn another_program_comes_to_the_same_hash() {
        let (header, steps) = (unpowered(40, 0), contact_steps());
        let mut bytes = postcard::to_allocvec(&header).expect("a header");
        bytes.extend(postcard::to_allocvec(&steps).expect("steps"));
        let mut child = Command::new("sha256sum")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("sha256sum starts");
        child.stdin.take().expect("piped").write_all(&bytes).expect("written");
        let output = child.wait_with_output().expect("it ends");
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        let hash = ProgramHash::of(&header, &steps).expect("a hash").to_string();
        assert_eq!(said.split_whitespace().next(), Some(hash.as_str()));
        assert_ne!(ProgramHash::of(&unpowered(40, 1), &steps).expect("a hash").to_string(), hash);
    }
}
