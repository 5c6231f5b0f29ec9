//! What a check of a memory tells beside its verdict.

use serde::Serialize;

/// The memory's part of a report. What was not asked for, or not reached, is left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct MemoryReport {
    /// How many words.
    pub words: u32,
    /// How many bits a word has.
    pub bits: u32,
    /// The march.
    pub march: Option<MarchReport>,
    /// What the failing cells have in common, in sentences.
    pub diagnosis: Vec<String>,
    /// The speed.
    pub grade: Option<GradeReport>,
    /// How long cells keep their data.
    pub retention: Option<RetentionReport>,
    /// What a part that is only read holds.
    pub contents: Option<ContentsReport>,
}

/// The march that ran and what it can find.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MarchReport {
    /// Its name.
    pub name: String,
    /// Its elements in the ASCII notation.
    pub notation: String,
    /// The data backgrounds.
    pub backgrounds: Vec<u16>,
    /// How many reads and writes ran.
    pub operations: u32,
    /// How many reads failed; the march ends early at a limit.
    pub failing_reads: u32,
    /// Whether it ran to its end.
    pub complete: bool,
    /// The times that it kept, by their access time in nanoseconds.
    pub access_ns: u32,
    /// Classes of faults that it finds wholly.
    pub finds: Vec<String>,
    /// Classes of which it finds a part, with the share.
    pub finds_some: Vec<String>,
    /// Classes that it does not find.
    pub misses: Vec<String>,
}

/// How a dash number stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kept {
    /// The chip reads right at the times of the grade.
    Keeps,
    /// It does not, beyond this bench's uncertainty.
    Slower,
    /// This bench cannot tell.
    NotDistinguishable,
}

/// A grade of the part beside what was measured.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GradeLine {
    /// The mark after the dash; empty for none.
    pub mark: String,
    /// The access time that it promises in nanoseconds.
    pub access_ns: u32,
    /// From the last event of a read to valid data, as it promises, in nanoseconds.
    pub promised_ns: u32,
    /// How the measured time compares with that.
    pub compares: Kept,
}

/// The speed of a memory on this bench, at room temperature and one supply voltage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GradeReport {
    /// The mark that the chip was said to have.
    pub mark: Option<String>,
    /// What the mark promises in nanoseconds.
    pub access_ns: Option<u32>,
    /// How the mark stands; `None` without one.
    pub kept: Option<Kept>,
    /// The last event of a read, from which times count: `select` or `column strobe`.
    pub event: &'static str,
    /// The earliest sample after it at which all cells read right, in nanoseconds; `None` where
    /// they never do.
    pub fastest_ns: Option<u32>,
    /// The chip may be this much slower than that.
    pub early_ns: u32,
    /// The chip may be this much faster than that.
    pub late_ns: u32,
    /// All grades of the part.
    pub grades: Vec<GradeLine>,
}

/// What a pause did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PauseReport {
    /// How long, in milliseconds.
    pub ms: u32,
    /// Whether the data sheet promises it.
    pub specified: bool,
    /// How many bits were lost, of either value.
    pub lost_bits: u32,
    /// The rows that lost some, of a dynamic memory.
    pub rows: Vec<u32>,
}

/// How long cells keep their data.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RetentionReport {
    /// How many rows are refreshed; 0 for a static memory.
    pub rows: u32,
    /// The pauses, shortest first.
    pub pauses: Vec<PauseReport>,
}

/// What a part that is only read holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ContentsReport {
    /// Whether every bit reads alike: nothing was programmed, as far as reading tells.
    pub blank: bool,
    /// The value of every bit where all are alike.
    pub all_bits: Option<bool>,
    /// The sum of all words, modulo 2^32.
    pub sum: u32,
    /// The CRC-32 of the words as bytes (ISO/IEC 8802-3, as in ZIP and PNG); words of fewer than
    /// eight bits fill a byte each.
    pub crc32: u32,
    /// How many words the two reads differ in.
    pub differing: u32,
    /// The two sample points, from the select to the sample, in nanoseconds.
    pub sampled_ns: [u32; 2],
}
