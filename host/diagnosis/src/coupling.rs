//! Cells that disturb others.

use crate::cause::{Aggressors, Cell, CellFault, Condition, Effect, Joined, Place};
use crate::evidence::{Evidence, Kind};
use crate::play::{Event, Lone, events};
use crate::shape::Shape;
use std::collections::BTreeMap;

/// The most aggressors that are named.
const MOST_NAMED: usize = 8;

/// A coupling that fails the very reads that failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Coupled {
    pub(crate) effect: Effect,
    pub(crate) place: Place,
    /// The bits that the aggressor can be of.
    pub(crate) bits: u16,
}

/// All couplings that agree with the failures of a cell, simplest first.
pub(crate) fn couplings(evidence: &Evidence<'_>, address: u32, victim: u8) -> Vec<Coupled> {
    // All bits that see the same data do the same.
    let mut alike: BTreeMap<Vec<bool>, u16> = BTreeMap::new();
    for bit in 0..evidence.shape.bits() {
        let seen = evidence.observation.backgrounds.iter().map(|word| word >> bit & 1 == 1);
        *alike.entry(seen.collect()).or_default() |= 1 << bit;
    }
    let places = [
        (Place::Below, address > 0, 2),
        (Place::Above, address + 1 < evidence.shape.words, 2),
        (Place::SameWord, evidence.shape.bits() > 1, 1),
    ];
    let kind = evidence.kind(address);
    let mut found = Vec::new();
    for (place, exists, slots) in places {
        let events = events(evidence, slots);
        for effect in effects().filter(|_| exists) {
            let mut bits = 0;
            for &group in alike.values() {
                let group = if place == Place::SameWord { group & !(1 << victim) } else { group };
                let pair = Pair { evidence, kind, place, effect, victim, group };
                if group != 0 && pair.is_possible() && pair.agrees(&events) {
                    bits |= pair.bits();
                }
            }
            if bits != 0 {
                found.push(Coupled { effect, place, bits });
            }
        }
    }
    found.sort_by_key(|coupled| rank(coupled.effect));
    found
}

/// Which address a cell's aggressor has. The march is repeated once for each address line with the
/// line held at its level for the victim, so that half of the words are left out: the aggressor
/// has the victim's level on the lines with which the victim still fails, the opposite on others.
///
/// `still_fails` is by address line, the least significant first.
pub fn aggressor_by_halves(victim: u32, still_fails: &[bool]) -> u32 {
    let differs = still_fails.iter().enumerate().filter(|(_, fails)| !**fails);
    differs.fold(victim, |address, (line, _)| address ^ 1 << line)
}

/// The aggressors, the nearest of them by name if wanted.
pub(crate) fn aggressors(
    shape: &Shape,
    victim: Cell,
    coupled: &Coupled,
    named: bool,
) -> Aggressors {
    let range = match coupled.place {
        Place::Below => 0..victim.address,
        Place::Above => victim.address + 1..shape.words,
        Place::SameWord => victim.address..victim.address + 1,
    };
    let count = range.len() as u32 * coupled.bits.count_ones();
    let arrangement = shape.arrangement();
    let distance = |cell: &Cell| {
        let words = if arrangement.is_known() {
            let row = arrangement.row_of(cell.address).abs_diff(arrangement.row_of(victim.address));
            let column = arrangement.column_of(cell.address);
            row + column.abs_diff(arrangement.column_of(victim.address))
        } else {
            cell.address.abs_diff(victim.address)
        };
        (words + u32::from(cell.bit.abs_diff(victim.bit)), *cell)
    };
    let mut nearest: Vec<Cell> = Vec::new();
    for address in range.filter(|_| named) {
        for bit in (0..shape.bits()).filter(|bit| coupled.bits >> bit & 1 == 1) {
            let cell = Cell { address, bit };
            let at = nearest.partition_point(|near| distance(near) < distance(&cell));
            if at < MOST_NAMED {
                nearest.insert(at, cell);
                nearest.truncate(MOST_NAMED);
            }
        }
    }
    Aggressors { place: coupled.place, bits: coupled.bits, count, nearest }
}

fn effects() -> impl Iterator<Item = Effect> {
    let both = [false, true];
    let changes = [Condition::Rises, Condition::Falls];
    let keeps = both.into_iter().flat_map(|v| [Condition::Rewritten(v), Condition::Read(v)]);
    let sets = changes.into_iter().chain(keeps);
    let sets = sets.flat_map(move |when| both.map(|value| Effect::Sets(when, value)));
    let faults = both.into_iter().flat_map(|value| {
        [
            CellFault::StuckAt(value),
            if value { CellFault::CannotRise } else { CellFault::CannotFall },
            CellFault::ReadFlips(value),
            CellFault::ReadsWrong(value),
            CellFault::ReadUpsets(value),
            CellFault::WriteFlips(value),
        ]
    });
    let conditional = faults.flat_map(move |fault| both.map(|held| Effect::While(held, fault)));
    let joined = [Joined::LowWins, Joined::HighWins].map(Effect::ReachesToo);
    let decoder = joined.into_iter().chain([Effect::TakesWrites]);
    sets.chain(changes.map(Effect::Inverts)).chain(conditional).chain(decoder)
}

fn rank(effect: Effect) -> u8 {
    match effect {
        Effect::Sets(Condition::Rises | Condition::Falls, _) => 0,
        Effect::Inverts(_) => 1,
        Effect::While(_, CellFault::StuckAt(_)) => 2,
        Effect::Sets(..) => 3,
        Effect::TakesWrites | Effect::ReachesToo(_) => 4,
        Effect::While(..) => 5,
    }
}

struct Pair<'a> {
    evidence: &'a Evidence<'a>,
    kind: &'a Kind,
    place: Place,
    effect: Effect,
    victim: u8,
    group: u16,
}

impl Pair<'_> {
    fn joins(&self) -> bool {
        matches!(self.effect, Effect::TakesWrites | Effect::ReachesToo(_))
    }

    fn bits(&self) -> u16 {
        if self.joins() { 1 << self.victim } else { self.group }
    }

    /// Two words that are joined are so bit by bit.
    fn is_possible(&self) -> bool {
        !self.joins() || (self.place != Place::SameWord && self.group >> self.victim & 1 == 1)
    }

    /// Whether the victim fails like this from some contents at power-up. A state that forces the
    /// victim may only show while it lasts, or change what the victim holds.
    fn agrees(&self, events: &[Event]) -> bool {
        let lasting = matches!(self.effect, Effect::While(_, CellFault::StuckAt(_)));
        (0..8).any(|start| {
            (start < 4 || lasting)
                && self.plays(events, [start & 1 == 1, start & 2 != 0], start < 4)
        })
    }

    fn plays(&self, events: &[Event], power_up: [bool; 2], shows: bool) -> bool {
        let bit = self.group.trailing_zeros();
        let [mut held, mut other] = power_up;
        let (own, others) = match self.place {
            Place::Below => (1, 0),
            Place::Above => (0, 1),
            Place::SameWord => (0, 0),
        };
        for event in events {
            match *event {
                Event::Pause { .. } => {}
                Event::Write { slot, word } => {
                    let before = other;
                    if slot == own {
                        held = self.lone(before).write(held, word >> self.victim & 1 == 1);
                        if matches!(self.effect, Effect::ReachesToo(_)) {
                            other = held;
                        }
                    }
                    if slot == others {
                        other = word >> bit & 1 == 1;
                        let did = match (before, other) {
                            (false, true) => Condition::Rises,
                            (true, false) => Condition::Falls,
                            (_, value) => Condition::Rewritten(value),
                        };
                        held = self.after(did, held);
                        if self.effect == Effect::TakesWrites {
                            held = other;
                        }
                    }
                    held = self.forced(other, held, shows);
                }
                Event::Read { slot, read } => {
                    if slot == own {
                        let (seen, after) = self.lone(other).read(held);
                        let seen = match self.effect {
                            Effect::While(at, CellFault::StuckAt(value)) if at == other => value,
                            Effect::ReachesToo(Joined::LowWins) => seen && other,
                            Effect::ReachesToo(Joined::HighWins) => seen || other,
                            _ => seen,
                        };
                        let expected = self.evidence.reads[usize::from(read)].expected;
                        let wrong = seen != (expected >> self.victim & 1 == 1);
                        if read < self.kind.known
                            && wrong != (self.kind.wrong_at(read) >> self.victim & 1 == 1)
                        {
                            return false;
                        }
                        held = after;
                    }
                    if slot == others {
                        held = self.after(Condition::Read(other), held);
                    }
                }
            }
        }
        true
    }

    /// The fault of its own that the victim has now; that of a forced state is apart.
    fn lone(&self, other: bool) -> Lone {
        match self.effect {
            Effect::While(_, CellFault::StuckAt(_)) => Lone(None),
            Effect::While(at, fault) if at == other => Lone(Some(fault)),
            _ => Lone(None),
        }
    }

    fn after(&self, did: Condition, held: bool) -> bool {
        match self.effect {
            Effect::Sets(when, value) if when == did => value,
            Effect::Inverts(when) if when == did => !held,
            _ => held,
        }
    }

    fn forced(&self, other: bool, held: bool, shows: bool) -> bool {
        match self.effect {
            Effect::While(at, CellFault::StuckAt(value)) if at == other && !shows => value,
            _ => held,
        }
    }
}
