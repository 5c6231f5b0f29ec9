//! A memory array and its times.

use crate::{NodeId, PinId};

/// What a time of a memory tells. Those that say "at most" are how long the chip may take, those
/// that say "at least" how long the chip must be given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Moment {
    /// From the select to valid data, at most.
    Select,
    /// From the output enable to valid data, at most.
    Enable,
    /// From the column strobe to valid data, at most.
    Column,
    /// From the end of the read condition until the outputs no longer drive, at most.
    Release,
    /// From one read or write to the next, at least.
    Cycle,
    /// The write pulse, at least.
    Write,
    /// Data before the end of the write (of a dynamic part: before its start), at least.
    Setup,
    /// Data after the end of the write (of a dynamic part: after its start), at least.
    Hold,
    /// The address after a strobe or latch has taken it, at least.
    Address,
    /// The row strobe active, at least.
    Row,
    /// The row strobe (or the latching select) inactive between two cycles, at least.
    Precharge,
}

impl Moment {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::Select,
        Self::Enable,
        Self::Column,
        Self::Release,
        Self::Cycle,
        Self::Write,
        Self::Setup,
        Self::Hold,
        Self::Address,
        Self::Row,
        Self::Precharge,
    ];

    /// The word that stands for it in a description.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Select => "select",
            Self::Enable => "enable",
            Self::Column => "column",
            Self::Release => "release",
            Self::Cycle => "cycle",
            Self::Write => "write",
            Self::Setup => "setup",
            Self::Hold => "hold",
            Self::Address => "address",
            Self::Row => "row",
            Self::Precharge => "precharge",
        }
    }

    /// The moment that a word stands for.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|moment| moment.word() == word)
    }
}

/// A time of a memory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Time {
    /// What it tells.
    pub moment: Moment,
    /// Nanoseconds, one for each of the part's grades in their order.
    pub ns: Vec<u32>,
}

/// How one maker, known by the letters in front of the number, reads marks after the dash.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MakerGrade {
    /// The letters in front of the number: `HM`.
    pub prefix: String,
    /// Marks and nanoseconds. Each time is that of one of the part's grades.
    pub grades: Vec<(String, u32)>,
}

/// What a memory needs after power-up, before it is used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Startup {
    /// A pause in microseconds.
    pub pause_us: u32,
    /// Cycles after the pause.
    pub cycles: u32,
}

/// Which address pin chooses the good half of a half-good part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Half {
    /// The pin; which level is the good one is told by the marking.
    pub pin: PinId,
    /// Whether at the column strobe, else at the row strobe.
    pub column: bool,
}

/// The physical order of the cells, where it is published. Each bit of a word has its own block
/// of columns.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Array {
    /// The address pins that choose the row, most significant first.
    pub row: Vec<PinId>,
    /// The address pins that choose the column, most significant first.
    pub column: Vec<PinId>,
}

/// A memory array.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Memory {
    /// How many words.
    pub words: u32,
    /// How many bits a word has.
    pub bits: u32,
    /// Address pins, most significant first; those of a part with strobes are the row's.
    pub address: Vec<PinId>,
    /// Address pins that count at the column strobe, most significant first; empty without strobes.
    pub column: Vec<PinId>,
    /// Data-in pins, most significant first; none for a memory that is only read.
    pub data_in: Vec<PinId>,
    /// Data-out pins, most significant first; the same as `data_in` where they are shared. One
    /// whose name has a slash shows the complement of what was written.
    pub data_out: Vec<PinId>,
    /// Row and column strobes of a dynamic part, in order.
    pub strobes: Vec<PinId>,
    /// A node of the network: the data pins show the addressed word while it is high.
    pub read: Option<NodeId>,
    /// A node of the network: the addressed word takes the data pins' levels while it is high.
    /// `None` for a memory that is only read.
    pub write: Option<NodeId>,
    /// A node of the network: while it is high, the address is held as it was when it rose.
    pub latch: Option<NodeId>,
    /// Speed grades: the mark after the dash (empty for none) and the access time in nanoseconds,
    /// from the address, or from the row strobe where there is one.
    pub grades: Vec<(String, u32)>,
    /// What marks mean with makers who have their own.
    pub maker_grades: Vec<MakerGrade>,
    /// Further times.
    pub times: Vec<Time>,
    /// Refresh: rows and the interval in microseconds.
    pub refresh: Option<(u32, u32)>,
    /// What it needs after power-up.
    pub startup: Option<Startup>,
    /// For a part of half the capacity that its address pins reach.
    pub half: Option<Half>,
    /// The physical order, where it is published.
    pub array: Option<Array>,
}

impl Memory {
    /// What a mark means: who reads it so, with nothing for the usual reading, and nanoseconds.
    pub fn readings(&self, mark: &str) -> Vec<(Option<&str>, u32)> {
        let of = |grades: &[(String, u32)]| {
            grades.iter().find(|(known, _)| known == mark).map(|(_, ns)| *ns)
        };
        let makers = self.maker_grades.iter();
        let makers = makers.map(|maker| (Some(maker.prefix.as_str()), of(&maker.grades)));
        let all = std::iter::once((None, of(&self.grades))).chain(makers);
        all.filter_map(|(prefix, ns)| Some((prefix, ns?))).collect()
    }

    /// The access time of a mark in nanoseconds. `prefix` is the maker's letters in front of the
    /// number, where they are known: a maker's own reading counts for its chips and no others.
    /// Without them a mark that is read in different ways has no time.
    pub fn access_ns(&self, prefix: Option<&str>, mark: &str) -> Option<u32> {
        let readings = self.readings(mark);
        let own = readings.iter().find(|(maker, _)| maker.is_some() && *maker == prefix);
        let usual = readings.iter().find(|(maker, _)| maker.is_none());
        if prefix.is_some() {
            return own.or(usual).map(|(_, ns)| *ns);
        }
        let (_, first) = readings.first()?;
        readings.iter().all(|(_, ns)| ns == first).then_some(*first)
    }

    /// A time in nanoseconds of the grade with an access time, which is the part's grade of that
    /// time or, where there is none, the next slower one.
    pub fn time_ns(&self, moment: Moment, access_ns: u32) -> Option<u32> {
        let time = self.times.iter().find(|time| time.moment == moment)?;
        let grades = self.grades.iter().zip(&time.ns);
        grades
            .filter(|((_, access), _)| *access >= access_ns)
            .min_by_key(|((_, access), _)| *access)
            .map(|(_, ns)| *ns)
    }

    /// Whether a mark stands in a grade of the part or of any maker.
    pub fn knows_mark(&self, mark: &str) -> bool {
        let makers = self.maker_grades.iter().flat_map(|maker| &maker.grades);
        self.grades.iter().chain(makers).any(|(known, _)| known == mark)
    }

    /// All marks that are known, each once.
    pub fn marks(&self) -> Vec<&str> {
        let makers = self.maker_grades.iter().flat_map(|maker| &maker.grades);
        let mut marks: Vec<&str> = Vec::new();
        for (mark, _) in self.grades.iter().chain(makers) {
            if !mark.is_empty() && !marks.contains(&mark.as_str()) {
                marks.push(mark);
            }
        }
        marks
    }
}
