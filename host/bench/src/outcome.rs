//! What a check can end with. A verdict is never invented: everything that is neither go nor
//! no-go has its own outcome and exit status.

use serde::Serialize;

/// How a check ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Every comparison agreed.
    Go,
    /// The chip does not do what its description says.
    NoGo,
    /// Neither could be said; the reason says what to do next.
    NotDecided,
    /// This socket must not or cannot power the part, or no check exists for it.
    Refused,
    /// The tester or its link failed; nothing is said about the chip.
    Trouble,
}

impl Outcome {
    /// The exit status of a command that ends with this outcome.
    pub const fn exit_status(self) -> u8 {
        match self {
            Self::Go => 0,
            Self::NoGo => 1,
            Self::Trouble => 3,
            Self::Refused => 4,
            Self::NotDecided => 5,
        }
    }

    /// The outcome in words, as printed.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Go => "go",
            Self::NoGo => "no-go",
            Self::NotDecided => "not decided",
            Self::Refused => "refused",
            Self::Trouble => "tester trouble",
        }
    }
}

/// Why a check ended so, for programs; the sentences are for people.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// Every comparison agreed.
    Functional,
    /// A comparison failed.
    Functions,
    /// Cells of a memory failed.
    Cells,
    /// A memory does not keep its data.
    Retention,
    /// A memory does not keep its dash number.
    Slow,
    /// A part that is only read did not read alike twice.
    Contents,
    /// No pin shows a diode: nothing is in the socket.
    EmptySocket,
    /// Some pins show no diode.
    OpenContact,
    /// The supply is shorted, or the chip is turned round.
    ShortOrTurned,
    /// The chip's ground is not where it should be: it is turned round, shifted, or another.
    Misplaced,
    /// The supply tripped while vectors ran.
    TrippedInVectors,
    /// Only a low level that this fixture cannot bring low enough explains the failure.
    WeakLow,
    /// It works slower or less loaded than asked, at a supply its maker does not specify.
    WeakAtLowSupply,
    /// Checks of the same chip disagree.
    Intermittent,
    /// A voltage remains on the socket at rest.
    NotAtRest,
    /// The part cannot be checked here.
    Unsupported,
    /// The marking does not say which part it is.
    Marking,
    /// The tester or its link failed.
    Link,
}
