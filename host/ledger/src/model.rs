//! What a ledger holds.

use crate::{Hex, Id};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A word list with one spelling for people, files and the database.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($(#[$doc:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name { $($(#[$doc])* #[serde(rename = $word)] $variant,)+ }

        impl $name {
            /// Its word in files.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(self.word())
            }
        }

        impl FromStr for $name {
            type Err = UnknownWord;

            fn from_str(word: &str) -> Result<Self, UnknownWord> {
                match word {
                    $($word => Ok(Self::$variant),)+
                    _ => Err(UnknownWord(word.into())),
                }
            }
        }
    };
}

/// A word that is in none of the lists.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("unknown word {0:?}")]
pub struct UnknownWord(pub String);

words! {
    /// How an insertion ended; the bench's outcomes.
    Verdict {
        /// Every comparison agreed.
        Go = "go",
        /// The chip does not do what its description says.
        NoGo = "no-go",
        /// Neither could be said.
        NotDecided = "not-decided",
        /// The chip was not powered.
        Refused = "refused",
        /// The tester or its link failed.
        Trouble = "trouble",
    }
}

words! {
    /// What a tester is made of.
    Nature {
        /// A board with a socket.
        Real = "real",
        /// The board's program on an emulated core.
        Emulated = "emulated",
        /// A program with a modelled socket.
        Simulated = "simulated",
    }
}

words! {
    /// What a remark is.
    RemarkKind {
        /// Text.
        Note = "note",
        /// The path of a picture.
        Photo = "photo",
    }
}

/// A tester as it was at the time.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Tester {
    /// Its name: a port, a serial number, or what people call it.
    #[serde(rename = "tester")]
    pub name: String,
    /// What it is made of.
    pub nature: Nature,
    /// The version of its program.
    pub firmware: String,
}

/// What a chip was checked as.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Type {
    /// The name as people write it, `74LS00`.
    pub name: String,
    /// The part's number, `7400`; empty where the shelf has no such part.
    #[serde(default)]
    pub part: String,
    /// The family's word, `LS`; may be empty.
    #[serde(default)]
    pub family: String,
    /// The package, `DIP14`; empty where unknown.
    #[serde(default)]
    pub package: String,
}

/// A pin that failed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FailingPin {
    /// Its number on the package.
    pub pin: u8,
    /// Its name in the pin list.
    pub name: String,
    /// How often it was low and should have been high.
    pub low: u32,
    /// How often it was high and should have been low.
    pub high: u32,
    /// How often it should have been released and was not.
    pub held: u32,
    /// Whether it had no contact.
    pub open: bool,
}

/// A measured current.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Current {
    /// Which: `largest`, `idle`.
    pub what: String,
    /// Its value.
    pub microamperes: i32,
}

/// The week a chip was made in, as its marking says; written `1984-W23`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct DateCode {
    year: u16,
    week: u8,
}

impl DateCode {
    /// Week 1 to 53 of a year up to 9999.
    pub const fn new(year: u16, week: u8) -> Option<Self> {
        if year > 9999 || week == 0 || week > 53 { None } else { Some(Self { year, week }) }
    }

    /// The year.
    pub const fn year(self) -> u16 {
        self.year
    }

    /// The week, 1 to 53.
    pub const fn week(self) -> u8 {
        self.week
    }
}

impl fmt::Display for DateCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{:04}-W{:02}", self.year, self.week))
    }
}

impl FromStr for DateCode {
    type Err = UnknownWord;

    fn from_str(text: &str) -> Result<Self, UnknownWord> {
        let read = || {
            let (year, week) = text.split_once("-W")?;
            let code = Self::new(year.parse().ok()?, week.parse().ok()?)?;
            (code.to_string() == text).then_some(code)
        };
        read().ok_or_else(|| UnknownWord(text.into()))
    }
}

impl TryFrom<String> for DateCode {
    type Error = UnknownWord;

    fn try_from(text: String) -> Result<Self, UnknownWord> {
        text.parse()
    }
}

impl From<DateCode> for String {
    fn from(code: DateCode) -> Self {
        code.to_string()
    }
}

/// A tube, a drawer, a donor's bag.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lot {
    /// When it was begun.
    pub at: Timestamp,
    /// Its name, as on its label: up to 100 characters, unique without regard to the case of
    /// ASCII letters. The same name in two ledgers is the same lot.
    pub name: String,
    /// Where it comes from.
    pub description: Option<String>,
}

/// One chip, once in the socket.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Insertion {
    /// When it ended.
    pub at: Timestamp,
    /// Its lot's name.
    pub lot: String,
    /// What the person read on it; may be empty.
    #[serde(default)]
    pub marking: String,
    /// What it was checked as.
    #[serde(flatten)]
    pub chip: Type,
    /// When the chip was made.
    pub date_code: Option<DateCode>,
    /// What checked it.
    #[serde(flatten)]
    pub tester: Tester,
    /// The hash of the program that ran, 4 to 64 bytes; none where none ran.
    pub program_hash: Option<Hex>,
    /// How it ended.
    pub verdict: Verdict,
    /// Why, in the bench's words: lower-case letters, digits and hyphens.
    pub reason: String,
    /// What the person was told.
    pub explanation: Option<String>,
    /// Pins that failed, by number.
    pub failing_pins: Vec<FailingPin>,
    /// The supply voltage in millivolts; none where nothing was powered.
    pub supply_mv: Option<u32>,
    /// Measured currents, by name.
    pub currents: Vec<Current>,
    /// How many vector steps ran.
    pub steps: u32,
    /// How many comparisons failed.
    pub failures: u32,
    /// The speed grade that it reached, `150 ns`.
    pub speed_grade: Option<String>,
    /// The failure map of a memory, the bytes of a [`MemoryMap`](crate::MemoryMap); up to a
    /// mebibyte.
    pub memory_map: Option<Hex>,
    /// The operator's note.
    pub note: Option<String>,
    /// The insertion that this one repeats with the same chip. The ledger keeps the chip's first.
    pub retest_of: Option<Id>,
}

/// An insertion does not count.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Undo {
    /// When that was said.
    pub at: Timestamp,
    /// Which.
    pub insertion: Id,
    /// Why.
    pub reason: Option<String>,
}

/// What a remark is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    /// The lot of this name.
    Lot(String),
    /// An insertion.
    Insertion(Id),
}

/// A later note, or a picture's path.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remark {
    /// When it was made.
    pub at: Timestamp,
    /// What it is about.
    #[serde(flatten)]
    pub about: Subject,
    /// Whether it is a text or a path.
    pub kind: RemarkKind,
    /// The text, or the path.
    pub text: String,
}

/// The tester's own check.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Selftest {
    /// When it ended.
    pub at: Timestamp,
    /// The tester.
    #[serde(flatten)]
    pub tester: Tester,
    /// Whether everything was as it should be.
    pub passed: bool,
    /// What was seen.
    pub lines: Vec<String>,
}

/// A record with what the ledger adds to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stored<T> {
    /// The same in every ledger that it is merged into.
    pub id: Id,
    /// The ledger it was first written to.
    pub ledger: Id,
    /// Grows within a ledger and over merges: of two records of a kind where the writer of the
    /// second had the first, the second has the larger number.
    pub sequence: u64,
    /// The record.
    #[serde(flatten)]
    pub entry: T,
}

/// Anything that a ledger holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "record", rename_all = "kebab-case")]
#[expect(missing_docs, reason = "each is named after what it holds")]
pub enum Record {
    Lot(Stored<Lot>),
    Insertion(Box<Stored<Insertion>>),
    Undo(Stored<Undo>),
    Remark(Stored<Remark>),
    Selftest(Stored<Selftest>),
}

impl Record {
    /// Its id.
    pub const fn id(&self) -> Id {
        match self {
            Self::Lot(stored) => stored.id,
            Self::Insertion(stored) => stored.id,
            Self::Undo(stored) => stored.id,
            Self::Remark(stored) => stored.id,
            Self::Selftest(stored) => stored.id,
        }
    }
}
