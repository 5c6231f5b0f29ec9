//! Ids that ledgers can merge on.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use uuid::Uuid;

/// A record's id: a UUID of version 7 (RFC 9562), so ids sort by time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Id(Uuid);

impl Id {
    pub(crate) const fn bytes(&self) -> &[u8; 16] {
        self.0.as_bytes()
    }

    pub(crate) const fn from_bytes(bytes: [u8; 16]) -> Self {
        Self(Uuid::from_bytes(bytes))
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl FromStr for Id {
    type Err = uuid::Error;

    fn from_str(text: &str) -> Result<Self, uuid::Error> {
        text.parse().map(Self)
    }
}

/// Makes ids. The same seed and the same ledger give the same ids; the same seed in two ledgers
/// does not.
#[derive(Debug)]
pub(crate) struct IdSource {
    seed: u64,
    drawn: u64,
}

impl IdSource {
    /// A source that can be repeated, for tests and demonstrations, or one that cannot.
    pub(crate) fn new(seed: Option<u64>) -> Self {
        let seed = seed.unwrap_or_else(|| Uuid::new_v4().as_u64_pair().1);
        Self { seed, drawn: 0 }
    }

    /// The next id of a ledger; no ledger while its own id is made.
    pub(crate) fn next(&mut self, ledger: Option<Id>, at: jiff::Timestamp) -> Id {
        let (high, low) = ledger.map_or((0, 0), |ledger| ledger.0.as_u64_pair());
        self.drawn += 1;
        let seed = mix(mix(self.seed, high), low);
        let random = [mix(seed, 2 * self.drawn), mix(seed, 2 * self.drawn + 1)];
        let mut bytes = [0; 10];
        bytes[..8].copy_from_slice(&random[0].to_be_bytes());
        bytes[8..].copy_from_slice(&random[1].to_be_bytes()[..2]);
        let millis = at.as_millisecond().max(0).cast_unsigned();
        Id(uuid::Builder::from_unix_timestamp_millis(millis, &bytes).into_uuid())
    }
}

/// The finaliser of the SplitMix64 generator (Steele, Lea and Flood, "Fast splittable pseudorandom
/// number generators", OOPSLA 2014).
const fn mix(seed: u64, value: u64) -> u64 {
    let mut z = seed ^ value.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn ids_repeat_with_their_seed_and_ledger_only() {
        let at: jiff::Timestamp = "2026-11-25T19:00:00Z".parse().unwrap();
        let one = IdSource::new(Some(7)).next(None, at);
        let other = IdSource::new(Some(8)).next(None, at);
        let mut seen = HashSet::new();
        for ledger in [one, other] {
            let draw = || {
                let mut source = IdSource::new(Some(7));
                (0..1000).map(|_| source.next(Some(ledger), at)).collect::<Vec<_>>()
            };
            assert_eq!(draw(), draw());
            seen.extend(draw());
        }
        assert_eq!(seen.len(), 2000);
        assert!(seen.iter().all(|id| id.0.get_version_num() == 7));
    }

    #[test]
    fn a_later_id_sorts_later() {
        let mut source = IdSource::new(Some(1));
        let early = source.next(None, "2026-11-25T19:00:00Z".parse().unwrap());
        let late = source.next(None, "2026-11-25T19:00:01Z".parse().unwrap());
        assert!(early < late);
        assert_eq!(late.to_string().parse::<Id>().unwrap(), late);
    }
}
