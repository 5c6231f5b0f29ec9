//! Requests and replies.

use crate::{
    Armed, Header, Health, Hello, MAX_CODE, MAX_NAME, MarchFlaw, MarchSetup, Marched, Page, Ran,
    VersionRange, Words,
};
use heapless::{String, Vec};
use postcard_schema::Schema;
use serde::{Deserialize, Serialize};

/// A request with its sequence number. The host counts up from any start; a request that is sent
/// again keeps its number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Request {
    /// The sequence number.
    pub sequence: u16,
    /// What is asked.
    pub ask: Ask,
}

/// What a host asks. The order is the wire format: append only.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
#[allow(clippy::large_enum_variant)] // one request exists at a time, and nothing allocates
pub enum Ask {
    /// Which versions the host speaks. Ends any program.
    Hello(VersionRange),
    /// A program's header. Ends any program before.
    Begin(Header),
    /// The next steps of the open program.
    Window(Window),
    /// End any program, release and unpower.
    Off,
    /// Counters.
    Status,
    /// Which programs the station holds itself: a page of them.
    Stored {
        /// The first one wanted, counted from 0.
        from: u16,
    },
    /// Arm the stored program with this name, or none. Ends any program.
    Arm(Option<String<MAX_NAME>>),
    /// Which stored program is armed.
    Armed,
    /// How the station itself is.
    Health,
    /// The open march program's memory and march.
    March(MarchSetup),
    /// Run the open march for a while.
    Proceed,
    /// Read words of a march's memory without expecting any, from an address on, in ascending
    /// order. The first read-out powers the chip, the one that reads the last word ends the
    /// program. A memory is read out or marched, never both in one program.
    ReadOut {
        /// The first address.
        first: u32,
        /// How many words, 1 to [`MAX_WORDS`](crate::MAX_WORDS).
        count: u16,
    },
}

/// Steps of a program.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Window {
    /// Counts from 0 within the program.
    pub index: u32,
    /// Whether the program ends with this window.
    pub last: bool,
    /// [`Step`](crate::Step)s, back to back in postcard form.
    pub code: Vec<u8, MAX_CODE>,
}

/// A reply with the sequence number of its request.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Reply {
    /// The request's sequence number.
    pub sequence: u16,
    /// What is answered.
    pub answer: Answer,
}

/// What a station answers. The order is the wire format: append only.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
#[allow(clippy::large_enum_variant)] // one reply exists at a time, on a static buffer
pub enum Answer {
    /// Who the station is.
    Hello(Hello),
    /// The program is open; nothing is powered yet.
    Began,
    /// A window ran.
    Ran(Ran),
    /// The socket is released and unpowered.
    Off,
    /// Counters.
    Status(Status),
    /// The request was not carried out; the socket is released and unpowered.
    Refused(Refusal),
    /// Programs that the station holds.
    Stored(Page),
    /// Which of them is armed; `None` where none is.
    Armed(Option<Armed>),
    /// How the station itself is.
    Health(Health),
    /// A piece of a march ran.
    Marched(Marched),
    /// Words were read.
    Words(Words),
}

/// Why a request was not carried out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub enum Refusal {
    /// The station speaks other versions.
    Version(VersionRange),
    /// The station does not run this kind of program.
    Kind,
    /// The package does not fit the socket there.
    Package,
    /// A pin would be fed or grounded at a position that cannot, or that the package lacks; or
    /// nothing would be fed or grounded; or the station lacks the voltage.
    Unconnectable,
    /// A pin would be fed and grounded, or supplied and driven.
    Conflict,
    /// The current limit is outside the station's range.
    Limit,
    /// The settling times, waits and pulse trains would outlast
    /// [`SILENCE_MS`](crate::SILENCE_MS) in one window.
    TooLong,
    /// A step is malformed, names a pin that the package lacks, pulses a pin that is not driven,
    /// or proves the release of one that is driven or supplied.
    Step {
        /// The step's number within the window.
        index: u16,
    },
    /// The window holds more steps, or more captured records, than the station has memory for.
    TooLarge,
    /// No program is open, or another window was due.
    OutOfOrder,
    /// The station holds no program of this name, or none that it can run.
    UnknownStored,
    /// The stored programs of the station's image are damaged: none is listed or armed.
    DamagedStored,
    /// The memory of what is armed has failed; what was armed before still is.
    Memory,
    /// The socket is still powered, so nothing is written.
    Powered,
    /// The march set-up is not possible.
    March(MarchFlaw),
}

/// A station's counters since it started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Schema)]
pub struct Status {
    /// Frames whose CRC, form or length was wrong.
    pub bad_frames: u32,
    /// Programs that were switched off by powered silence.
    pub silences: u32,
    /// Supply trips.
    pub trips: u32,
    /// Whether the socket is powered.
    pub powered: bool,
}
