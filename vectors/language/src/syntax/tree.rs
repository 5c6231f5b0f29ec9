//! The statements of a part as they were written, names already filled in by `for`.

use crate::diagnostic::Span;
use crate::{Edge, Family, Moment, PackageKind};

/// A word of the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Word {
    pub text: String,
    pub span: Span,
}

/// An operator between operands of one width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Gate {
    And,
    Or,
    Xor,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Comparison {
    Equal,
    Unequal,
    Less,
    AtMost,
    Greater,
    AtLeast,
}

#[derive(Clone, Debug)]
pub(crate) enum Expr {
    Name(Word),
    /// Bits `high` down to `low` of a group.
    Pick {
        name: Word,
        high: u32,
        low: u32,
    },
    /// A number; one without a width takes the width that it meets.
    Number {
        value: u64,
        width: Option<u32>,
        span: Span,
    },
    Unknown(Span),
    Not(Box<Expr>, Span),
    Reduce(Gate, Box<Expr>, Span),
    /// Terms to add, or to subtract where the flag is set.
    Sum(Vec<(bool, Expr)>),
    Compare(Comparison, Box<Expr>, Box<Expr>),
    Combine(Gate, Vec<Expr>),
    /// Pairs of condition and value, then the value where none holds.
    Choose(Vec<(Expr, Expr)>, Box<Expr>),
    /// First is most significant.
    Join(Vec<Expr>, Span),
}

impl Expr {
    pub fn span(&self) -> Span {
        match self {
            Self::Name(word) | Self::Pick { name: word, .. } => word.span,
            Self::Number { span, .. }
            | Self::Unknown(span)
            | Self::Not(_, span)
            | Self::Reduce(_, _, span)
            | Self::Join(_, span) => *span,
            Self::Sum(terms) => ends(terms.iter().map(|(_, term)| term)),
            Self::Combine(_, parts) => ends(parts),
            Self::Compare(_, left, right) => left.span().to(right.span()),
            Self::Choose(arms, otherwise) => match arms.first() {
                Some((condition, _)) => condition.span().to(otherwise.span()),
                None => otherwise.span(),
            },
        }
    }
}

/// From the first to the last of a list that is never empty.
fn ends<'a>(parts: impl IntoIterator<Item = &'a Expr>) -> Span {
    let mut parts = parts.into_iter();
    let nowhere = Span { source: 0, start: 0, end: 0 };
    let first = parts.next().map_or(nowhere, Expr::span);
    parts.last().map_or(first, |last| first.to(last.span()))
}

/// `TARGET … := VALUE …`.
#[derive(Clone, Debug)]
pub(crate) struct Assignment {
    /// Names, picks and joins; first is most significant.
    pub targets: Vec<Expr>,
    pub values: Vec<Expr>,
    pub span: Span,
}

/// A cell of a function table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Cell {
    High,
    Low,
    Either,
    Edge(Edge),
    HighImpedance,
    Unknown,
    Same,
    Flip,
    /// A signal's level, inverted where the flag is set.
    Level(bool, Word),
}

#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub inputs: Vec<Cell>,
    pub outputs: Vec<Cell>,
    pub span: Span,
    /// Where each cell stands.
    pub spans: Vec<Span>,
}

#[derive(Clone, Debug)]
pub(crate) struct Table {
    pub inputs: Vec<Word>,
    pub outputs: Vec<Word>,
    pub rows: Vec<Row>,
}

/// Statements that are a list of names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Listed {
    Open,
    Totem,
    Schmitt,
    Fed,
    Ground,
    Leave,
    State,
}

#[derive(Clone, Debug, Default)]
pub(crate) struct MemoryText {
    pub words: u32,
    pub bits: u32,
    pub address: Vec<Word>,
    pub data_in: Vec<Word>,
    pub data_out: Vec<Word>,
    /// Whether one set of pins serves both ways.
    pub shared: bool,
    pub read: Option<Expr>,
    pub write: Option<Expr>,
    pub strobes: Vec<Word>,
    /// The address pins that count at the column strobe, where not all do.
    pub column: Vec<Word>,
    /// The address pin that chooses the good half, and whether at the column strobe.
    pub half: Option<(Word, bool)>,
    /// While this holds the address is held.
    pub latch: Option<Expr>,
    /// Which address pins choose the row and which the column of the array.
    pub array: Option<(Vec<Word>, Vec<Word>)>,
}

#[derive(Clone, Debug)]
pub(crate) enum Kind {
    Title(String),
    Source(String),
    Note(String),
    Untested(String),
    Made(Vec<(Family, Span)>),
    Package {
        kind: PackageKind,
        families: Vec<(Family, Span)>,
        pins: Vec<Word>,
    },
    Listed(Listed, Vec<Word>),
    /// Names with their load in tenths.
    Load(Vec<(Word, u16)>),
    /// Milliamperes.
    Limit(u32),
    Group(Word, Vec<Word>),
    Wire(Word, Expr),
    When(Expr, Vec<Assignment>),
    On {
        edge: Edge,
        clock: Expr,
        condition: Option<Expr>,
        assignments: Vec<Assignment>,
    },
    Drive(Assignment, Option<Expr>),
    Table(Table),
    Steady(Vec<Word>, Expr),
    Avoid(Expr),
    Memory(Box<MemoryText>),
    /// Marks and nanoseconds.
    Grade(Vec<(String, u32)>),
    /// A maker's prefix, and its marks and nanoseconds.
    MakerGrade(String, Vec<(String, u32)>),
    /// Times of operation, one of each for every grade or for all.
    Timing(Vec<(Moment, Vec<u32>, Span)>),
    /// Microseconds and cycles after power-up.
    Startup(u32, u32),
    /// Supply pins and their millivolts.
    Supply(Vec<(Word, i32)>),
    /// Rows and microseconds.
    Refresh(u32, u32),
    /// A statement with an error, and the words in it.
    Broken(Vec<String>),
}

#[derive(Clone, Debug)]
pub(crate) struct Statement {
    pub kind: Kind,
    pub span: Span,
}

/// A part as it was written.
#[derive(Clone, Debug)]
pub(crate) struct RawPart {
    pub number: Word,
    pub like: Option<Word>,
    pub statements: Vec<Statement>,
    /// Whether the text had errors, so that what is missing may be missing for that reason.
    pub broken: bool,
}
