//! Classical and primitive faults of cells as what they are made of: a cell's own misbehaviour,
//! and what an operation on one cell does to another.

use super::cells::get;
use super::fault::{Cell, Fault};
use super::primitive::{Primitive, Sensitiser};

/// A cell that misbehaves when it is used, maybe only while another holds a value.
#[derive(Clone, Debug)]
pub(super) struct Own {
    pub(super) cell: Cell,
    while_other: Option<(Cell, bool)>,
    on: Sensitiser,
    /// What it then holds.
    pub(super) faulty: bool,
    /// What a read returns.
    pub(super) returned: bool,
}

impl Own {
    fn awake(&self, words: &[u32]) -> bool {
        self.while_other.is_none_or(|(other, value)| get(words, other) == value)
    }

    /// Whether a read of the cell, which holds `held`, is faulty.
    pub(super) fn on_read(&self, held: bool, words: &[u32]) -> bool {
        let sensitised = match self.on {
            Sensitiser::Read(value) | Sensitiser::State(value) => value == held,
            Sensitiser::Write { .. } => false,
        };
        sensitised && self.awake(words)
    }

    /// Whether a write of `written` over `held` is faulty.
    pub(super) fn on_write(&self, held: bool, written: bool, words: &[u32]) -> bool {
        self.on == Sensitiser::Write { from: held, to: written } && self.awake(words)
    }
}

/// What an operation on one cell does to another.
#[derive(Clone, Debug)]
pub(super) struct Disturb {
    pub(super) aggressor: Cell,
    by: Sensitiser,
    victim: Cell,
    /// Only where the victim holds this.
    from: Option<bool>,
    /// What it then holds; `None` is the other value.
    to: Option<bool>,
}

impl Disturb {
    pub(super) fn by_read(&self, held: bool) -> bool {
        self.by == Sensitiser::Read(held)
    }

    /// `after` is what the cell really holds after the write: a transition that failed does not
    /// disturb.
    pub(super) fn by_write(&self, held: bool, written: bool, after: bool) -> bool {
        self.by == Sensitiser::Write { from: held, to: written }
            && (held == written || after == written)
    }

    /// What becomes of the victim.
    pub(super) fn effect(&self, words: &[u32]) -> Option<(Cell, bool)> {
        let held = get(words, self.victim);
        let concerned = self.from.is_none_or(|from| from == held);
        concerned.then(|| (self.victim, self.to.unwrap_or(!held)))
    }
}

const fn transition(rise: bool) -> Sensitiser {
    Sensitiser::Write { from: !rise, to: rise }
}

/// The misbehaviours of cells that a fault consists of.
pub(super) fn own_of(fault: &Fault) -> Option<Own> {
    Some(match *fault {
        Fault::Transition { cell, rise } => {
            Own { cell, while_other: None, on: transition(rise), faulty: !rise, returned: !rise }
        }
        // It takes effect when the victim is read: what it holds comes back with the aggressor's
        // other value.
        Fault::State { aggressor, at, victim, high } => Own {
            cell: victim,
            while_other: Some((aggressor, at)),
            on: Sensitiser::State(!high),
            faulty: !high,
            returned: high,
        },
        Fault::Primitive { primitive, aggressor, victim } => {
            return of_primitive(primitive, aggressor, victim);
        }
        _ => return None,
    })
}

fn of_primitive(primitive: Primitive, aggressor: Option<Cell>, victim: Cell) -> Option<Own> {
    let while_other = match (aggressor, primitive.aggressor) {
        (Some(other), Some(Sensitiser::State(value))) => Some((other, value)),
        (None, None) => None,
        _ => return None,
    };
    let is_state = !primitive.victim.is_operation();
    Some(Own {
        cell: victim,
        while_other,
        on: primitive.victim,
        // A state fault shows when the cell is read, as a coupled state does.
        faulty: if is_state { primitive.victim.before() } else { primitive.faulty },
        returned: primitive.returned.unwrap_or(primitive.faulty),
    })
}

/// The disturbances that a fault consists of.
pub(super) fn disturbs_of(fault: &Fault) -> Option<Disturb> {
    let (aggressor, by, victim, from, to) = match *fault {
        Fault::Inversion { aggressor, rise, victim } => {
            (aggressor, transition(rise), victim, None, None)
        }
        Fault::Idempotent { aggressor, rise, victim, high } => {
            (aggressor, transition(rise), victim, None, Some(high))
        }
        Fault::Primitive { primitive, aggressor: Some(aggressor), victim } => {
            let by = primitive.aggressor.filter(|by| by.is_operation())?;
            (aggressor, by, victim, Some(primitive.victim.before()), Some(primitive.faulty))
        }
        _ => return None,
    };
    Some(Disturb { aggressor, by, victim, from, to })
}
