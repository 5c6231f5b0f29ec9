//! Cells by themselves.

use crate::cause::CellFault;
use crate::coupling::{Coupled, couplings};
use crate::evidence::{Evidence, Kind};
use crate::play::{Event, events, lone_agrees, open_agrees};
use dipsift_wire::{Element, Operation};
use std::collections::BTreeSet;

/// What can be wrong with a cell: all that fail the very reads that failed.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Verdict {
    /// By itself, simplest first.
    pub(crate) faults: Vec<CellFault>,
    /// By another cell.
    pub(crate) couplings: Vec<Coupled>,
}

/// What the failures of a cell look like; by value that is lost or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Signs {
    /// It always reads as this value.
    pub(crate) stuck: [bool; 2],
    /// A dynamic cell holds this value for a moment only.
    pub(crate) loses: [bool; 2],
    /// It loses this value in a pause.
    pub(crate) in_pause: [bool; 2],
}

impl Signs {
    pub(crate) const ALL: Self = Self { stuck: [true; 2], loses: [true; 2], in_pause: [true; 2] };

    pub(crate) fn and(self, other: Self) -> Self {
        let both = |a: [bool; 2], b: [bool; 2]| [a[0] && b[0], a[1] && b[1]];
        Self {
            stuck: both(self.stuck, other.stuck),
            loses: both(self.loses, other.loses),
            in_pause: both(self.in_pause, other.in_pause),
        }
    }
}

pub(crate) fn signs(evidence: &Evidence<'_>, kind: &Kind, bit: u8) -> Signs {
    let alone = events(evidence, 1);
    let agrees = |fault| lone_agrees(evidence, &alone, fault, kind, bit);
    let of = |test: &dyn Fn(bool) -> bool| [test(false), test(true)];
    Signs {
        stuck: of(&|value| agrees(CellFault::StuckAt(value))),
        loses: of(&|value| leaks(evidence, kind, bit, value)),
        in_pause: of(&|value| losses(evidence, &alone, kind, bit, value).is_some()),
    }
}

/// What is wrong with one cell.
pub(crate) fn judge(evidence: &Evidence<'_>, address: u32, bit: u8) -> Verdict {
    let kind = evidence.kind(address);
    let alone = events(evidence, 1);
    let agrees = |fault: &CellFault| lone_agrees(evidence, &alone, *fault, kind, bit);
    let both = [false, true];
    let mut faults: Vec<CellFault> = both.map(CellFault::StuckAt).to_vec();
    faults.extend([CellFault::CannotRise, CellFault::CannotFall]);
    faults.retain(agrees);
    faults.extend(both.iter().filter_map(|&value| losses(evidence, &alone, kind, bit, value)));
    let leaking = both.iter().filter(|&&value| leaks(evidence, kind, bit, value));
    faults.extend(leaking.map(|&value| CellFault::Leaks { value }));
    if open_agrees(evidence, address, kind, bit) {
        faults.push(CellFault::Open);
    }
    let of_read = [CellFault::ReadFlips, CellFault::ReadsWrong, CellFault::ReadUpsets];
    let mut rarer: Vec<CellFault> = of_read.iter().flat_map(|fault| both.map(fault)).collect();
    rarer.extend(both.map(CellFault::WriteFlips));
    rarer.retain(agrees);
    faults.extend(rarer);
    Verdict { faults, couplings: couplings(evidence, address, bit) }
}

/// Whether a cell fails as one that loses a value in a pause: with the longest limit that agrees.
fn losses(
    evidence: &Evidence<'_>,
    alone: &[Event],
    kind: &Kind,
    bit: u8,
    value: bool,
) -> Option<CellFault> {
    let pauses: BTreeSet<u32> = evidence
        .observation
        .elements
        .iter()
        .filter_map(|element| match element {
            Element::Pause { ms, .. } => Some(*ms),
            Element::Each { .. } => None,
        })
        .collect();
    let limits = pauses.into_iter().rev();
    limits
        .map(|within_ms| CellFault::Loses { value, within_ms })
        .find(|&fault| lone_agrees(evidence, alone, fault, kind, bit))
}

/// Whether a dynamic cell fails as one that loses a value early: every failing read expects it,
/// and none of them comes at once after the write.
fn leaks(evidence: &Evidence<'_>, kind: &Kind, bit: u8, value: bool) -> bool {
    evidence.shape.refresh_rows.is_some()
        && kind.wrong.iter().filter(|(_, wrong)| wrong >> bit & 1 == 1).all(|&(read, _)| {
            let read = evidence.reads[usize::from(read)];
            let element = &evidence.observation.elements[usize::from(read.element)];
            let Element::Each { operations, .. } = element else { return false };
            let before = &operations[..usize::from(read.operation)];
            (read.expected >> bit & 1 == 1) == value
                && !before.iter().any(|operation: &Operation| operation.writes())
        })
}
