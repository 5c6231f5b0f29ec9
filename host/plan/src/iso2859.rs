//! Single sampling plans of ISO 2859-1, whose central tables are those of MIL-STD-105E and of
//! ANSI/ASQ Z1.4.
//!
//! A row of the master table is a code letter, a column an acceptance quality limit (AQL), and
//! each plan stands on a diagonal: one letter further allows one step of the AQL less for the
//! same acceptance number. So one list per severity holds the table; where it has an arrow, the
//! plan above or below holds.

use crate::PlanError;

/// How closely a lot is looked at; level II unless there is a reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Special level S-1, the smallest samples.
    S1,
    /// Special level S-2.
    S2,
    /// Special level S-3.
    S3,
    /// Special level S-4.
    S4,
    /// General level I.
    I,
    /// General level II.
    II,
    /// General level III, the largest samples.
    III,
}

/// Normal inspection, or what past lots of the same source have led to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// As one begins.
    Normal,
    /// After rejected lots.
    Tightened,
    /// After a row of accepted lots.
    Reduced,
}

/// An acceptance quality limit in per cent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the names are the values, in hundredths of a per cent")]
pub enum Aql {
    Hundredths25,
    Hundredths40,
    Hundredths65,
    Hundredths100,
    Hundredths150,
    Hundredths250,
    Hundredths400,
    Hundredths650,
    Hundredths1000,
}

impl Aql {
    /// All that are kept here, from the strictest.
    pub const ALL: [Self; 9] = [
        Self::Hundredths25,
        Self::Hundredths40,
        Self::Hundredths65,
        Self::Hundredths100,
        Self::Hundredths150,
        Self::Hundredths250,
        Self::Hundredths400,
        Self::Hundredths650,
        Self::Hundredths1000,
    ];

    /// The limit in per cent.
    pub const fn percent(self) -> f64 {
        [0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0][self as usize]
    }

    /// The limit with this many per cent, if the table has it.
    pub fn of_percent(percent: f64) -> Option<Self> {
        Self::ALL.into_iter().find(|aql| (aql.percent() - percent).abs() < 1e-9)
    }
}

/// A single sampling plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plan {
    /// The code letter that the lot's size gave.
    pub letter: char,
    /// How many chips to test; where the lot has no more than these, all.
    pub sample: u64,
    /// The lot is accepted up to so many bad ones.
    pub accept: u64,
    /// It is rejected from so many on. Under reduced inspection there may be counts between; they
    /// accept the lot and end the reduction.
    pub reject: u64,
}

/// Upper ends of the lot sizes, and the code letters of the levels S-1 to S-4, I to III.
const LETTERS: [(u64, [u8; 7]); 14] = [
    (8, *b"AAAAAAB"),
    (15, *b"AAAAABC"),
    (25, *b"AABBBCD"),
    (50, *b"ABBCCDE"),
    (90, *b"BBCCCEF"),
    (150, *b"BBCDDFG"),
    (280, *b"BCDEEGH"),
    (500, *b"BCDEFHJ"),
    (1_200, *b"CCEFGJK"),
    (3_200, *b"CDEGHKL"),
    (10_000, *b"CDFGJLM"),
    (35_000, *b"CDFHKMN"),
    (150_000, *b"DEGJLNP"),
    (500_000, *b"DEGJMPQ"),
];

const ROWS: [u8; 13] = *b"ABCDEFGHJKLMN";
const FULL: [u64; 13] = [2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500];
const SHORT: [u64; 13] = [2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200];

enum Entry {
    Counts(u64, u64),
    /// The plan of the next smaller sample holds.
    Up,
    /// The plan of the next larger sample holds.
    Down,
}

/// The table's entry by the sum of row and column.
fn entry(severity: Severity, row: usize, column: usize) -> Entry {
    use Entry::{Counts, Down, Up};
    let diagonal = row + column;
    let accept_one_less = |accept: u64| Counts(accept, accept + 1);
    match (severity, diagonal) {
        (Severity::Normal, 7) | (Severity::Reduced, 7) => accept_one_less(0),
        // There is nothing above the first row.
        (Severity::Normal | Severity::Reduced, 8) if row > 0 => Up,
        (Severity::Normal, 10..=17) => accept_one_less([1, 2, 3, 5, 7, 10, 14, 21][diagonal - 10]),
        (Severity::Reduced, 10..=17) => {
            let (accept, reject) =
                [(0, 2), (1, 3), (1, 4), (2, 5), (3, 6), (5, 8), (7, 10), (10, 13)][diagonal - 10];
            Counts(accept, reject)
        }
        (Severity::Tightened, 8) if row > 0 => accept_one_less(0),
        (Severity::Tightened, 11..=17) => accept_one_less([1, 2, 3, 5, 8, 12, 18][diagonal - 11]),
        (_, 18..) => Up,
        _ => Down,
    }
}

/// The code letter of a lot.
pub fn letter(lot: u64, level: Level) -> Result<char, PlanError> {
    if lot < 2 {
        return Err(PlanError::Lot(lot));
    }
    let row = LETTERS.iter().find(|(upper, _)| lot <= *upper).ok_or(PlanError::Lot(lot))?;
    Ok(char::from(row.1[level as usize]))
}

/// The plan for a lot.
pub fn plan(lot: u64, level: Level, aql: Aql, severity: Severity) -> Result<Plan, PlanError> {
    let letter = letter(lot, level)?;
    let mut row =
        ROWS.iter().position(|&row| char::from(row) == letter).ok_or(PlanError::Lot(lot))?;
    let sizes = if severity == Severity::Reduced { &SHORT } else { &FULL };
    loop {
        match entry(severity, row, aql as usize) {
            Entry::Counts(accept, reject) => {
                return Ok(Plan { letter, sample: sizes[row].min(lot), accept, reject });
            }
            Entry::Up => row -= 1,
            // The last row of each column that is reached by arrows down holds counts.
            Entry::Down => row += 1,
        }
    }
}
