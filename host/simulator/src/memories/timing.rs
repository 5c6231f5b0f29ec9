//! A memory's times.

use dipsift_language::Memory;

/// Times of one chip in nanoseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Timing {
    /// From the last change of address or condition to valid data; with a row strobe, from that.
    pub(crate) access: u64,
    /// From the column strobe to valid data.
    pub(crate) column_access: u64,
    /// From the read condition to outputs that drive.
    pub(crate) enable: u64,
    /// From the end of the read condition to outputs that are off.
    pub(crate) disable: u64,
    /// The shortest write.
    pub(crate) write: u64,
    /// The longest row strobe.
    pub(crate) row_low: u64,
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
    /// 2114, the 6264 and the 4164 have it, from memory: outputs drive after an eighth and are
    /// off after a third, a write takes half, data follow a column strobe after half. A row strobe
    /// lasts 10 µs at most, and a dynamic part wants a pause of 100 µs and 8 row cycles: common
    /// practice.
    pub(crate) fn new(memory: &Memory, access: Option<u32>) -> Self {
        let fastest = memory.grades.iter().map(|&(_, access)| access).min();
        let access = u64::from(access.or(fastest).unwrap_or(450)).max(1);
        Self {
            access,
            column_access: access.div_ceil(2),
            enable: access / 8,
            disable: access / 3,
            write: access.div_ceil(2),
            row_low: 10_000,
            pause: 100_000,
            cycles: 8,
        }
    }
}
