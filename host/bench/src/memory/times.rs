//! The times of a memory at one grade, with what the description leaves out filled in.

use dipsift_language::{Memory, Moment};

/// The access time that is taken where a description has no grade.
const UNGRADED_NS: u32 = 1_000;

/// Times in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Times {
    /// From the address, or from the row strobe, to valid data.
    pub access: u32,
    /// From the select to valid data.
    pub select: u32,
    /// From the output enable to valid data.
    pub enable: u32,
    /// From the column strobe to valid data.
    pub column: u32,
    /// From the end of a read until the outputs are off.
    pub release: u32,
    /// From one read or write to the next.
    pub cycle: u32,
    /// The write pulse.
    pub write: u32,
    /// Data before the end of a write, of a dynamic part before its start.
    pub setup: u32,
    /// Data after the end of a write, of a dynamic part after its start.
    pub hold: u32,
    /// The address after a strobe or latch has taken it.
    pub address: u32,
    /// The row strobe.
    pub row: u32,
    /// The row strobe, or a latching select, at rest between two cycles.
    pub precharge: u32,
}

impl Times {
    /// The times of the grade with an access time; of the slowest grade, which every chip keeps,
    /// where none is said. A time that the description leaves out is taken as long as the access
    /// time, which no static or dynamic memory of the library exceeds.
    pub fn of(memory: &Memory, access_ns: Option<u32>) -> Self {
        let access = access_ns.or_else(|| slowest(memory)).unwrap_or(UNGRADED_NS);
        let of =
            |moment: Moment, otherwise: u32| memory.time_ns(moment, access).unwrap_or(otherwise);
        Self {
            access,
            select: of(Moment::Select, access),
            enable: of(Moment::Enable, 0),
            column: of(Moment::Column, access),
            release: of(Moment::Release, access),
            cycle: of(Moment::Cycle, access),
            write: of(Moment::Write, access),
            setup: of(Moment::Setup, access),
            hold: of(Moment::Hold, 0),
            address: of(Moment::Address, access / 2),
            row: of(Moment::Row, access),
            precharge: of(Moment::Precharge, 0),
        }
    }

    /// How long before the last event of a read the address, or the row strobe, must come for both
    /// to be valid at once: the last event is the select or the column strobe.
    pub fn lead(&self, dynamic: bool) -> u32 {
        self.access.saturating_sub(self.after_last(dynamic))
    }

    /// From the last event of a read to valid data.
    pub fn after_last(&self, dynamic: bool) -> u32 {
        if dynamic { self.column.max(self.enable) } else { self.select.max(self.enable) }
    }
}

/// The access time of the slowest grade in nanoseconds.
pub(crate) fn slowest(memory: &Memory) -> Option<u32> {
    memory.grades.iter().map(|(_, ns)| *ns).max()
}
