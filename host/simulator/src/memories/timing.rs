//! A memory's times.

use dipsift_language::{Memory, Moment};

/// Times of one chip in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Timing {
    /// From the address, or from the row strobe, to valid data.
    pub(crate) access: u64,
    /// From the selection to valid data.
    pub(crate) select: u64,
    /// From the output enable to valid data.
    pub(crate) enable: u64,
    /// From the column strobe to valid data.
    pub(crate) column: u64,
    /// From the read condition to outputs that drive.
    pub(crate) turn_on: u64,
    /// From the end of the read condition to outputs that are off.
    pub(crate) turn_off: u64,
    /// The shortest write.
    pub(crate) write: u64,
    /// How long data stand before the end of a write, or before the beginning in a dynamic part.
    pub(crate) setup: u64,
    /// The shortest row strobe.
    pub(crate) row: u64,
    /// The shortest time between two row strobes.
    pub(crate) precharge: u64,
    /// The longest row strobe.
    pub(crate) row_most: u64,
    /// From power to the first row cycle that counts.
    pub(crate) pause: u64,
    /// How many row cycles a dynamic part wants before it works.
    pub(crate) cycles: u32,
}

impl Timing {
    /// The times of a chip with this access time, else of the fastest grade: a chip of any grade
    /// that is sold may be as fast.
    ///
    /// What the description does not say is a share of the access time as data sheets of the
    /// 2114, the 6264 and the 4164 have it, from memory: outputs are off after a third, a write
    /// takes half, data follow a column strobe after half; outputs drive after an eighth. A row
    /// strobe lasts 10 us at most, and a dynamic part wants a pause of 100 us and 8 row cycles:
    /// common practice.
    pub(crate) fn new(memory: &Memory, access: Option<u32>) -> Self {
        let fastest = memory.grades.iter().map(|&(_, access)| access).min();
        let access_ns = access.or(fastest).unwrap_or(450).max(1);
        let access = u64::from(access_ns);
        let of = |moment, otherwise| memory.time_ns(moment, access_ns).map_or(otherwise, u64::from);
        let startup = memory.startup;
        Self {
            access,
            select: of(Moment::Select, access),
            enable: of(Moment::Enable, access),
            column: of(Moment::Column, access.div_ceil(2)),
            turn_on: access / 8,
            turn_off: of(Moment::Release, access / 3),
            write: of(Moment::Write, access.div_ceil(2)),
            setup: of(Moment::Setup, 0),
            row: of(Moment::Row, 0),
            precharge: of(Moment::Precharge, 0),
            row_most: 10_000,
            pause: startup.map_or(100_000, |startup| u64::from(startup.pause_us) * 1_000),
            cycles: startup.map_or(8, |startup| startup.cycles),
        }
    }
}
