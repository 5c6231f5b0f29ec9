//! Defects that can be put into a chip or its seat.
//!
//! A defect is written as a phrase. `N` and `M` are pin numbers of the package.
//!
//! | phrase | what is wrong |
//! |---|---|
//! | `pin N stuck low` | 20 Ω from the pin to the chip's ground, in place of its output stage |
//! | `pin N stuck high` | 20 Ω from the pin to the chip's supply, likewise |
//! | `pin N open` | the pin touches nothing in the socket |
//! | `pins N and M shorted` | both pins are one conductor |
//! | `supply shorted` | 2 Ω between the chip's supply and ground |
//! | `supply open` | no supply pin touches anything in the socket |
//! | `pin N weak`, `pin N weak R ohm` | an output has R more resistance, 20000 where not said |
//! | `pin N slow F` | an output's delay is F times the family's |
//! | `pin N leaky`, `pin N leaky R ohm` | R from the pin to the chip's ground, 1000 where not said |
//! | `pin N intermittent` | the contact opens now and then, by the seed |
//! | `part NUMBER` | another part is in the socket |
//! | `family WORD` | the same function in another family: `74 H L S LS … 4000B` |
//! | `turned round` | the chip sits with pin 1 where the opposite pin belongs |
//! | `shifted by S` | the chip sits S positions further down |
//! | `empty` | nothing is in the socket |
//!
//! In a memory `A` is an address, in decimal or like 0x1F, `B` a bit of its word, `V` is 0 or 1; lines
//! and bits count from 0 at the least significant. A row is the low part of an address (in a dynamic
//! part what the row strobe latches), a column the high part.
//!
//! | phrase | what is wrong |
//! |---|---|
//! | `cell A bit B stuck at V` | SAF: the cell always holds V |
//! | `cell A bit B cannot rise, ... fall` | TF: a write of 1 over 0, or of 0 over 1, fails |
//! | `cell A bit B stuck open` | SOF: no access; a read returns what the sense amplifier read before |
//! | `address A reaches no cell` | AF, kind A |
//! | `address A takes over cell A` | AF, kind B: the first reaches both cells, the second none |
//! | `address A reaches cell A instead` | AF, kind C |
//! | `address A reaches cell A too` | AF, kind D |
//! | `cell A bit B rising inverts cell A bit B` | CFin; also `falling` |
//! | `cell A bit B rising sets cell A bit B to V` | CFid; also `falling` |
//! | `cell A bit B at V forces cell A bit B to V` | CFst: it reads so while the first holds that |
//! | `cell A bit B <S/F/R>` | a fault primitive of one cell: `<0w0/1/->` |
//! | `cell A bit B to cell A bit B <Sa;Sv/F/R>` | a fault primitive, aggressor to victim: `<0w1;0/1/->` |
//! | `cell A bit B loses V after T ms` | data retention: T ms after the cell was written |
//! | `cell A bit B leaks in T ms` | a dynamic cell loses its charge T ms after its row's refresh |
//! | `cell A bit B slow F` | the cell is read rightly after F access times only |
//! | `access T ns` | the memory's access time |
//! | `column C bit B reads V` | a sense line gives V for every cell of the column |
//! | `columns C and C bit B coupled` | both columns are written together, and read together |
//! | `row R reads V` | the row reads as V |
//! | `address line L stuck at V` | inside, behind the pin |
//! | `address lines L and L shorted` | inside |
//! | `data line L stuck at V` | inside, in and out |
//! | `data lines L and L shorted` | inside, in and out |
//! | `half with address bit L at V dead` | that half takes nothing and reads as ones |
//!
//! Cells, lines or columns that meet read as low where one is low; `wired or` after the phrase makes
//! it high where one is high. The names SAF to CFst and the kinds of address fault are those of
//! A. J. van de Goor, "Testing Semiconductor Memories", Wiley, 1991.

use crate::memories::{Fault, phrase};
use dipsift_language::Family;
use std::{fmt, str::FromStr};

/// One thing that is wrong with a chip or with how it sits.
#[derive(Clone, Debug, PartialEq)]
pub enum Defect {
    /// The pin is tied to ground or supply inside.
    Stuck {
        /// The pin's number.
        pin: u8,
        /// Whether to the supply.
        high: bool,
    },
    /// The pin touches nothing.
    Open {
        /// The pin's number.
        pin: u8,
    },
    /// Two pins are one conductor.
    Shorted {
        /// One pin's number.
        pin: u8,
        /// The other's.
        other: u8,
    },
    /// Supply and ground are joined inside.
    SupplyShorted,
    /// No supply pin touches anything.
    SupplyOpen,
    /// An output with added resistance.
    Weak {
        /// The pin's number.
        pin: u8,
        /// The added resistance in ohms.
        ohms: u32,
    },
    /// An output with a longer delay.
    Slow {
        /// The pin's number.
        pin: u8,
        /// How many times the family's delay.
        factor: u32,
    },
    /// A resistance from a pin to ground.
    Leaky {
        /// The pin's number.
        pin: u8,
        /// The resistance in ohms.
        ohms: u32,
    },
    /// A contact that opens now and then.
    Intermittent {
        /// The pin's number.
        pin: u8,
    },
    /// Another part than the marking says.
    Part(String),
    /// The same function in another family.
    Family(Family),
    /// Pin 1 where the opposite pin belongs.
    TurnedRound,
    /// Further down than it should sit.
    Shifted {
        /// By how many positions.
        by: u8,
    },
    /// No chip at all.
    Empty,
    /// A fault of a memory array.
    Memory(Fault),
}

/// The resistance of a stuck pin to its rail in ohms.
pub const STUCK_OHMS: f64 = 20.0;
/// The resistance of a dead supply short in ohms.
pub const SUPPLY_SHORT_OHMS: f64 = 2.0;
/// The added resistance of a weak output where the phrase names none: with it neither keeper
/// leaves a level that can be trusted.
pub const WEAK_OHMS: u32 = 20_000;
/// The resistance of a leaky pin where the phrase names none.
pub const LEAKY_OHMS: u32 = 1_000;

impl Defect {
    /// Every phrase with what it does, for help texts.
    pub const PHRASES: &'static [(&'static str, &'static str)] = &[
        ("pin 3 stuck low", "20 ohm from the pin to the chip's ground"),
        ("pin 3 stuck high", "20 ohm from the pin to the chip's supply"),
        ("pin 3 open", "the pin touches nothing in the socket"),
        ("pins 3 and 4 shorted", "both pins are one conductor"),
        ("supply shorted", "2 ohm between the chip's supply and ground"),
        ("supply open", "no supply pin touches anything in the socket"),
        ("pin 3 weak", "an output with 20000 ohm more resistance, or: pin 3 weak 5000 ohm"),
        ("pin 3 slow 100", "an output's delay is 100 times the family's"),
        ("pin 3 leaky", "1000 ohm from the pin to ground, or: pin 3 leaky 500 ohm"),
        ("pin 3 intermittent", "the contact opens now and then, by the seed"),
        ("part 7402", "another part is in the socket"),
        ("family HC", "the same function in another family"),
        ("turned round", "the chip sits with pin 1 where the opposite pin belongs"),
        ("shifted by 1", "the chip sits one position further down"),
        ("empty", "nothing is in the socket"),
        ("cell 5 bit 2 stuck at 0", "a memory cell always holds 0 (SAF)"),
        ("cell 5 bit 2 cannot rise", "a write of 1 over 0 fails (TF), or: cannot fall"),
        ("cell 5 bit 2 stuck open", "no access; a read returns what was read before (SOF)"),
        ("address 5 reaches no cell", "reads as ones, or: ... wired or (AF, kind A)"),
        ("address 6 takes over cell 5", "6 reaches both, 5 none, or: ... wired or (AF, kind B)"),
        ("address 5 reaches cell 6 instead", "and not its own (AF, kind C)"),
        ("address 5 reaches cell 6 too", "both read wired and, or: ... wired or (AF, kind D)"),
        ("cell 5 bit 2 rising inverts cell 7 bit 2", "or: falling (CFin)"),
        ("cell 5 bit 2 rising sets cell 7 bit 2 to 0", "or: falling, to 1 (CFid)"),
        ("cell 5 bit 2 at 1 forces cell 7 bit 2 to 0", "it reads so, whatever it holds (CFst)"),
        ("cell 5 bit 2 <0w0/1/->", "a fault primitive of one cell, <S/F/R>"),
        ("cell 5 bit 2 to cell 7 bit 2 <0w1;0/1/->", "aggressor to victim, <Sa;Sv/F/R>"),
        ("cell 5 bit 2 loses 1 after 50 ms", "50 ms after it was written (data retention)"),
        ("cell 5 bit 2 leaks in 3 ms", "a dynamic cell, 3 ms after its row's refresh"),
        ("cell 5 bit 2 slow 3", "the cell reads right after 3 access times only"),
        ("access 300 ns", "the memory's access time is 300 ns"),
        ("column 3 bit 2 reads 0", "a sense line fails"),
        ("columns 3 and 4 bit 2 coupled", "one sense line for both, or: ... wired or"),
        ("row 3 reads 0", "a row line fails"),
        ("address line 3 stuck at 0", "inside, behind the pin"),
        ("address lines 3 and 5 shorted", "inside, low wins, or: ... wired or"),
        ("data line 2 stuck at 0", "inside, in and out"),
        ("data lines 2 and 3 shorted", "inside, low wins, or: ... wired or"),
        ("half with address bit 9 at 1 dead", "that half takes nothing and reads as ones"),
    ];

    /// The pins that it names.
    pub fn pins(&self) -> impl Iterator<Item = u8> {
        let (first, second) = match *self {
            Self::Stuck { pin, .. }
            | Self::Open { pin }
            | Self::Weak { pin, .. }
            | Self::Slow { pin, .. }
            | Self::Leaky { pin, .. }
            | Self::Intermittent { pin } => (Some(pin), None),
            Self::Shorted { pin, other } => (Some(pin), Some(other)),
            _ => (None, None),
        };
        first.into_iter().chain(second)
    }
}

impl fmt::Display for Defect {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stuck { pin, high } => {
                write!(f, "pin {pin} stuck {}", if *high { "high" } else { "low" })
            }
            Self::Open { pin } => write!(f, "pin {pin} open"),
            Self::Shorted { pin, other } => write!(f, "pins {pin} and {other} shorted"),
            Self::SupplyShorted => f.write_str("supply shorted"),
            Self::SupplyOpen => f.write_str("supply open"),
            Self::Weak { pin, ohms: WEAK_OHMS } => write!(f, "pin {pin} weak"),
            Self::Weak { pin, ohms } => write!(f, "pin {pin} weak {ohms} ohm"),
            Self::Slow { pin, factor } => write!(f, "pin {pin} slow {factor}"),
            Self::Leaky { pin, ohms: LEAKY_OHMS } => write!(f, "pin {pin} leaky"),
            Self::Leaky { pin, ohms } => write!(f, "pin {pin} leaky {ohms} ohm"),
            Self::Intermittent { pin } => write!(f, "pin {pin} intermittent"),
            Self::Part(number) => write!(f, "part {number}"),
            Self::Family(family) => write!(f, "family {}", family.word()),
            Self::TurnedRound => f.write_str("turned round"),
            Self::Shifted { by } => write!(f, "shifted by {by}"),
            Self::Empty => f.write_str("empty"),
            Self::Memory(fault) => write!(f, "{fault}"),
        }
    }
}

/// Why a phrase is not a defect.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PhraseError {
    /// No phrase looks like this.
    #[error("no such defect: \"{0}\"; the phrases are {list}", list = phrase_list())]
    Unknown(String),
    /// A number is missing or out of range.
    #[error("\"{phrase}\": {word} should be {wanted}")]
    Number {
        /// The phrase.
        phrase: String,
        /// The word that is wrong, quoted, or what is missing.
        word: String,
        /// What it should be.
        wanted: &'static str,
    },
    /// No family has this word.
    #[error("\"{phrase}\": no family \"{word}\"; they are {list}", list = family_list())]
    Family {
        /// The phrase.
        phrase: String,
        /// The word.
        word: String,
    },
}

fn phrase_list() -> String {
    Defect::PHRASES.iter().map(|(phrase, _)| format!("\"{phrase}\"")).collect::<Vec<_>>().join(", ")
}

fn family_list() -> String {
    Family::ALL.map(Family::word).join(" ")
}

impl FromStr for Defect {
    type Err = PhraseError;

    fn from_str(text: &str) -> Result<Self, PhraseError> {
        let phrase = || text.trim().to_owned();
        let number = |word: &str, from: u32, to: u32, wanted: &'static str| {
            word.parse().ok().filter(|value| (from..=to).contains(value)).ok_or_else(|| {
                PhraseError::Number { phrase: phrase(), word: format!("\"{word}\""), wanted }
            })
        };
        let pin = |word: &str| number(word, 1, 40, "a pin number from 1 to 40").map(|n| n as u8);
        let ohms = |word: &str| number(word, 1, 10_000_000, "1 to 10000000 ohm");
        let words: Vec<&str> = text.split_whitespace().collect();
        Ok(match words[..] {
            ["pin", n, "stuck", "low"] => Self::Stuck { pin: pin(n)?, high: false },
            ["pin", n, "stuck", "high"] => Self::Stuck { pin: pin(n)?, high: true },
            ["pin", n, "open"] => Self::Open { pin: pin(n)? },
            ["pins", n, "and", m, "shorted"] => {
                let (pin, other) = (pin(n)?, pin(m)?);
                if pin == other {
                    return Err(PhraseError::Number {
                        phrase: phrase(),
                        word: format!("\"{m}\""),
                        wanted: "another pin than the first",
                    });
                }
                Self::Shorted { pin, other }
            }
            ["supply", "shorted"] => Self::SupplyShorted,
            ["supply", "open"] => Self::SupplyOpen,
            ["pin", n, "weak"] => Self::Weak { pin: pin(n)?, ohms: WEAK_OHMS },
            ["pin", n, "weak", r, "ohm"] => Self::Weak { pin: pin(n)?, ohms: ohms(r)? },
            ["pin", n, "slow", factor] => Self::Slow {
                pin: pin(n)?,
                factor: number(factor, 2, 1_000_000, "a factor from 2 to 1000000")?,
            },
            ["pin", n, "leaky"] => Self::Leaky { pin: pin(n)?, ohms: LEAKY_OHMS },
            ["pin", n, "leaky", r, "ohm"] => Self::Leaky { pin: pin(n)?, ohms: ohms(r)? },
            ["pin", n, "intermittent"] => Self::Intermittent { pin: pin(n)? },
            ["part", part] => Self::Part(part.to_owned()),
            ["family", word] => match Family::from_word(word) {
                Some(family) => Self::Family(family),
                None => {
                    return Err(PhraseError::Family { phrase: phrase(), word: word.to_owned() });
                }
            },
            ["turned", "round"] => Self::TurnedRound,
            ["shifted", "by", n] => {
                Self::Shifted { by: number(n, 1, 19, "1 to 19 positions")? as u8 }
            }
            ["empty"] => Self::Empty,
            _ => match phrase::parse(text) {
                Some(fault) => Self::Memory(fault?),
                None => return Err(PhraseError::Unknown(phrase())),
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_listed_phrase_is_read_and_written_back() {
        for (phrase, _) in Defect::PHRASES {
            let defect: Defect = phrase.parse().expect("a listed phrase is a defect");
            assert_eq!(&defect.to_string(), phrase);
        }
        for phrase in ["pin 3 weak 5000 ohm", "pin 40 leaky 1 ohm", "pin 12 slow 2"] {
            assert_eq!(phrase.parse::<Defect>().unwrap().to_string(), phrase);
        }
    }

    #[test]
    fn what_is_wrong_with_a_phrase_is_said() {
        let message = |text: &str| text.parse::<Defect>().unwrap_err().to_string();
        assert_eq!(
            message("pin 41 open"),
            "\"pin 41 open\": \"41\" should be a pin number from 1 to 40"
        );
        assert_eq!(
            message("pins 3 and 3 shorted"),
            "\"pins 3 and 3 shorted\": \"3\" should be another pin than the first"
        );
        assert_eq!(
            message("pin 3 slow 1"),
            "\"pin 3 slow 1\": \"1\" should be a factor from 2 to 1000000"
        );
        assert!(message("family XY").starts_with("\"family XY\": no family \"XY\"; they are 74 H"));
        assert!(
            message("pin 3 broken").starts_with(
                "no such defect: \"pin 3 broken\"; the phrases are \"pin 3 stuck low\""
            )
        );
        assert!(message("").starts_with("no such defect: \"\""));
    }
}
