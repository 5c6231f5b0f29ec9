//! The classes of faults, by their names in the literature.

use std::fmt;

/// Where a class of faults comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Group {
    /// The reduced functional faults of van de Goor, *Testing Semiconductor Memories*, and data
    /// retention.
    Classical,
    /// The static simple faults of Hamdioui, van de Goor and Rodgers, MTDT 2002, as far as they
    /// are not among the classical ones already.
    StaticSimple,
    /// Two faults on one cell, of which one may hide the other.
    Linked,
}

/// A class of faults.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Class {
    /// SAF: a cell always holds the same value.
    StuckAt,
    /// TF: a cell does not follow one of the two transitions.
    Transition,
    /// SOF: a cell cannot be reached; the sense amplifier gives what it read last.
    StuckOpen,
    /// AF: an address reaches no cell, another or several; all four kinds, and both ways in which
    /// a bit line can join several cells.
    Address,
    /// CFin: a transition of one cell inverts another.
    CouplingInversion,
    /// CFid: a transition of one cell forces another to a value.
    CouplingIdempotent,
    /// CFst: while one cell holds a value, another reads as a certain value.
    CouplingState,
    /// DRF: a cell loses a value while nothing is accessed.
    Retention,
    /// SF: a cell cannot hold a value.
    State,
    /// WDF: writing the value that a cell already holds flips it.
    WriteDestructive,
    /// RDF: reading a cell flips it and gives the wrong value.
    ReadDestructive,
    /// DRDF: reading a cell gives the right value and flips it.
    DeceptiveRead,
    /// IRF: reading a cell gives the wrong value and leaves it.
    IncorrectRead,
    /// CFds, read: reading one cell flips another.
    DisturbRead,
    /// CFds, transition write: a transition of one cell flips another.
    DisturbTransition,
    /// CFds, non-transition write: writing what one cell already holds flips another.
    DisturbNonTransition,
    /// CFtr: a transition fails while another cell holds a value.
    CoupledTransition,
    /// CFwd: a non-transition write flips the cell while another holds a value.
    CoupledWriteDestructive,
    /// CFrd: RDF while another cell holds a value.
    CoupledReadDestructive,
    /// CFdrd: DRDF while another cell holds a value.
    CoupledDeceptiveRead,
    /// CFir: IRF while another cell holds a value.
    CoupledIncorrectRead,
    /// Two CFid of opposite effect on one cell, by one aggressor or two.
    LinkedIdempotent,
    /// A TF and a CFid that brings about the transition that failed.
    LinkedTransition,
    /// A TF and a CFin that brings about the transition that failed.
    LinkedTransitionInversion,
}

impl Class {
    /// All classes, in the order of the table.
    pub const ALL: [Self; 24] = [
        Self::StuckAt,
        Self::Transition,
        Self::StuckOpen,
        Self::Address,
        Self::CouplingInversion,
        Self::CouplingIdempotent,
        Self::CouplingState,
        Self::Retention,
        Self::State,
        Self::WriteDestructive,
        Self::ReadDestructive,
        Self::DeceptiveRead,
        Self::IncorrectRead,
        Self::DisturbRead,
        Self::DisturbTransition,
        Self::DisturbNonTransition,
        Self::CoupledTransition,
        Self::CoupledWriteDestructive,
        Self::CoupledReadDestructive,
        Self::CoupledDeceptiveRead,
        Self::CoupledIncorrectRead,
        Self::LinkedIdempotent,
        Self::LinkedTransition,
        Self::LinkedTransitionInversion,
    ];

    /// Which group it belongs to.
    pub fn group(self) -> Group {
        match self {
            class if class <= Self::Retention => Group::Classical,
            class if class >= Self::LinkedIdempotent => Group::Linked,
            _ => Group::StaticSimple,
        }
    }

    /// Its short name in the literature.
    pub fn abbreviation(self) -> &'static str {
        self.words().0
    }

    /// What it is, in a few words.
    pub fn title(self) -> &'static str {
        self.words().1
    }

    fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::StuckAt => ("SAF", "cell stuck at 0 or 1"),
            Self::Transition => ("TF", "cell fails to go up or down"),
            Self::StuckOpen => ("SOF", "cell cut off, the last read is repeated"),
            Self::Address => ("AF", "address reaches no, another or several cells"),
            Self::CouplingInversion => ("CFin", "transition inverts another cell"),
            Self::CouplingIdempotent => ("CFid", "transition forces another cell"),
            Self::CouplingState => ("CFst", "state makes another cell read as forced"),
            Self::Retention => ("DRF", "cell loses its value in a pause"),
            Self::State => ("SF", "cell cannot hold a value"),
            Self::WriteDestructive => ("WDF", "write of the value held flips the cell"),
            Self::ReadDestructive => ("RDF", "read flips the cell, wrong value"),
            Self::DeceptiveRead => ("DRDF", "read flips the cell, right value"),
            Self::IncorrectRead => ("IRF", "read gives the wrong value"),
            Self::DisturbRead => ("CFds rx", "read flips another cell"),
            Self::DisturbTransition => ("CFds xw!x", "transition write flips another cell"),
            Self::DisturbNonTransition => ("CFds xwx", "write of the value held flips another"),
            Self::CoupledTransition => ("CFtr", "TF by another cell's state"),
            Self::CoupledWriteDestructive => ("CFwd", "WDF by another cell's state"),
            Self::CoupledReadDestructive => ("CFrd", "RDF by another cell's state"),
            Self::CoupledDeceptiveRead => ("CFdrd", "DRDF by another cell's state"),
            Self::CoupledIncorrectRead => ("CFir", "IRF by another cell's state"),
            Self::LinkedIdempotent => ("CFid+CFid", "two CFid of opposite effect on one cell"),
            Self::LinkedTransition => ("TF+CFid", "TF hidden by a CFid on the same cell"),
            Self::LinkedTransitionInversion => ("TF+CFin", "TF hidden by a CFin on the same cell"),
        }
    }
}

impl fmt::Display for Class {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.abbreviation())
    }
}
