//! The hello: who the station is and what it can do.

use heapless::String;
use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// A closed range of protocol versions. It alone decides whether both ends can talk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct VersionRange {
    /// The oldest.
    pub min: u8,
    /// The newest.
    pub max: u8,
}

impl VersionRange {
    /// The newest version in both ranges.
    pub fn common(self, other: Self) -> Option<u8> {
        let newest = self.max.min(other.max);
        (newest >= self.min.max(other.min)).then_some(newest)
    }
}

/// What kind of station this is. A simulated verdict must never pass for a real one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Nature {
    /// A board with a socket.
    Real,
    /// A board's own image on an emulated core; its chips are simulated.
    Emulated,
    /// The engine on the host; its chips are simulated.
    Simulated,
}

/// Why the station started last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum ResetCause {
    /// Power was applied.
    PowerOn,
    /// The reset pin.
    Pin,
    /// The watchdog.
    Watchdog,
    /// The supply sagged.
    BrownOut,
    /// The firmware asked for it.
    Software,
    /// A panic or fault.
    Fault,
    /// Not known.
    Unknown,
}

/// What a station can do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Capabilities {
    /// Socket positions that can be fed, bit 0 is position 1.
    pub feed: u64,
    /// Socket positions that can be grounded by a switch.
    pub ground: u64,
    /// Whether 3.3 V can be selected.
    pub v3_3: bool,
    /// Whether 5 V can be selected.
    pub v5: bool,
    /// The light keepers' resistance in ohms.
    pub light_keeper_ohms: u32,
    /// The firm keepers' resistance in ohms.
    pub firm_keeper_ohms: u32,
    /// The resistance between a driver and its position in ohms.
    pub series_ohms: u32,
    /// The drivers' high level in millivolts.
    pub drive_mv: u16,
    /// The largest current limit in microamperes.
    pub current_max_ua: u32,
    /// The resolution of current measurements in microamperes.
    pub current_step_ua: u32,
    /// The most bytes of step code in a window.
    pub window_bytes: u16,
    /// The most steps in a window.
    pub window_steps: u16,
    /// The resolution of waits in nanoseconds.
    pub step_ns: u32,
    /// The uncertainty of the moment of a sample in nanoseconds.
    pub sample_ns: u32,
    /// Which program kinds it runs, bit n is the n-th [`Kind`](crate::Kind).
    pub kinds: u8,
}

/// A station's introduction. Its beginning, up to and with `versions`, never changes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Hello {
    /// The versions it speaks.
    pub versions: VersionRange,
    /// The hash of the message schema. It informs; `versions` decides.
    pub schema: [u8; 8],
    /// The commit that it was built from, abbreviated.
    pub commit: String<16>,
    /// Real, emulated or simulated.
    pub nature: Nature,
    /// Why it started last.
    pub reset: ResetCause,
    /// What it can do.
    pub capabilities: Capabilities,
}
