//! What can go wrong between host and station.

use dipsift_wire::{MarchFlaw, Refusal, VersionRange};
use std::io;
use thiserror::Error;

/// Why a request has no result.
#[derive(Debug, Error)]
pub enum LinkError {
    /// The port cannot be opened.
    #[error("cannot open {port}")]
    Open {
        /// The port.
        port: String,
        /// Why.
        source: io::Error,
    },
    /// Nothing came back.
    #[error("no answer from the tester")]
    NoAnswer,
    /// Something came back, but no undamaged answer.
    #[error("only damaged frames from the tester")]
    Garbled,
    /// The port has vanished, or its other end has.
    #[error("the tester is gone")]
    Gone(#[source] io::Error),
    /// Host and station have no protocol version in common.
    #[error(
        "the tester speaks protocol versions {} to {}, this program {} to {}",
        station.min, station.max, host.min, host.max
    )]
    Version {
        /// What the station speaks.
        station: VersionRange,
        /// What this host speaks.
        host: VersionRange,
    },
    /// The station is of an older version than a request needs.
    #[error(
        "the tester speaks protocol version {station} at most, and this needs {needed}: \
         its firmware is older"
    )]
    TooOld {
        /// The newest version that the station speaks.
        station: u8,
        /// The version that the request came with.
        needed: u8,
    },
    /// The station does not do it; its programs have nothing to do with it.
    #[error("{}", declined(.0))]
    Declined(Refusal),
    /// The station had ended the program when its next window came: the line or the host was too
    /// slow, or somebody else talked to it.
    #[error("the tester has ended the program, after too long a silence or another request")]
    Interrupted,
    /// An undamaged answer that does not belong to the request.
    #[error("unexpected answer from the tester: {0}")]
    Unexpected(&'static str),
    /// The station does not carry out the program.
    #[error("the tester refuses the program: {}", refusal(.0))]
    Refused(Refusal),
    /// The caller has stopped it; the station is off.
    #[error("stopped")]
    Stopped,
    /// The station does not carry out the program, because of one step: it is malformed, names a
    /// pin that the package lacks, pulses a pin that is not driven, or proves the release of one
    /// that is driven or supplied.
    #[error("the tester refuses the program: step {step} is not possible")]
    RefusedStep {
        /// The step's number, as the caller counts.
        step: u32,
    },
}

impl LinkError {
    /// Whether it tells of the program and not of the tester or the line.
    pub const fn is_refusal(&self) -> bool {
        matches!(self, Self::Refused(_) | Self::RefusedStep { .. })
    }
}

fn declined(refusal: &Refusal) -> &'static str {
    match refusal {
        Refusal::UnknownStored => "the tester holds no program of this name that it can run",
        Refusal::DamagedStored => {
            "the stored programs in the tester's image are damaged: flash the image again"
        }
        Refusal::Memory => "the tester's memory did not take it; what was armed before still is",
        Refusal::Powered => "the tester's socket is still powered, so nothing was written",
        _ => "the tester refuses it",
    }
}

fn refusal(refusal: &Refusal) -> String {
    match refusal {
        Refusal::Version(_) => "it speaks other protocol versions".into(),
        Refusal::Kind => "it does not run this kind of program".into(),
        Refusal::Package => "the package does not fit the socket there".into(),
        Refusal::Unconnectable => {
            "a pin would be fed or grounded where the fixture cannot, or at a voltage that it lacks"
                .into()
        }
        Refusal::Conflict => "a pin would be fed and grounded, or supplied and driven".into(),
        Refusal::Limit => "the current limit is outside its range".into(),
        Refusal::TooLong => "a settling time or step is longer than it may stay silent".into(),
        Refusal::Step { index } => format!("step {index} of a window is not possible"),
        Refusal::TooLarge => "a step needs more memory than it has".into(),
        Refusal::OutOfOrder => "another request was due".into(),
        Refusal::UnknownStored | Refusal::DamagedStored | Refusal::Memory | Refusal::Powered => {
            declined(refusal).into()
        }
        Refusal::March(flaw) => march(flaw),
    }
}

fn march(flaw: &MarchFlaw) -> String {
    match flaw {
        MarchFlaw::Pins => "a pin of the memory is missing, or has two roles".into(),
        MarchFlaw::Words => "the address does not reach as many words".into(),
        MarchFlaw::Backgrounds => "a data background has more bits than a word".into(),
        MarchFlaw::Elements => "a march element is empty or writes what is only read".into(),
        MarchFlaw::Cycle { cycle, index } => {
            let cycle = ["read", "write", "refresh"].get(usize::from(*cycle)).unwrap_or(&"other");
            format!("move {index} of the {cycle} cycle is not possible")
        }
        MarchFlaw::Refresh => "the rows cannot be refreshed that often".into(),
        MarchFlaw::Failures => "the march would end before its first failure".into(),
    }
}
