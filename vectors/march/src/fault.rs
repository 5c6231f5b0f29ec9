//! The faults of each class, and where on the array each can sit.

use crate::class::Class;
use crate::march::Operation;
use crate::memory::CELLS;
use std::fmt;

/// A part that a cell plays in a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Role {
    /// The cell that goes wrong.
    Victim,
    /// The cell that makes it do so.
    Aggressor,
    /// The aggressor of the second of two linked faults.
    Second,
}

impl Role {
    fn letter(self) -> &'static str {
        match self {
            Self::Victim => "v",
            Self::Aggressor => "a",
            Self::Second => "b",
        }
    }
}

/// What several cells on one bit line read as. A line that no cell drives rests at the value that
/// loses: 1 where a 0 wins, 0 where a 1 wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Wired {
    And,
    Or,
}

impl Wired {
    /// What two cells read as.
    pub fn join(self, one: bool, other: bool) -> bool {
        match self {
            Self::And => one && other,
            Self::Or => one || other,
        }
    }

    /// What a line reads as that no cell drives.
    pub fn rest(self) -> bool {
        self == Self::And
    }
}

/// A condition on an aggressor: its role and the value that it must hold.
pub(crate) type While = Option<(Role, bool)>;

/// A fault primitive `<S/F/R>` or `<Sa;Sv/F/R>`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Primitive {
    /// The victim cannot hold this value.
    Holds(bool),
    /// Writing `to` over `from` leaves the opposite of `to`.
    Write { condition: While, from: bool, to: bool },
    /// Reading the victim that holds `held` returns `returns` and leaves `becomes`.
    Read { condition: While, held: bool, becomes: bool, returns: bool },
    /// An operation on an aggressor that holds `from` flips the victim, if it holds `victim` or
    /// whatever it holds.
    Disturb { aggressor: Role, from: bool, operation: Operation, victim: Option<bool> },
}

/// How a memory misbehaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Behaviour {
    /// The victim always holds this value.
    Stuck(bool),
    /// The victim is cut off; its address gives what was read last.
    Open,
    /// The victim's address reaches no cell, and its cell is reached by no address.
    NoCell(Wired),
    /// The victim's address reaches no cell, the aggressor's reaches both cells.
    Borrowed(Wired),
    /// The victim's address reaches the aggressor's cell, and its own is reached by no address.
    OtherCell,
    /// The aggressor's address reaches the victim's cell too.
    ExtraCell(Wired),
    /// The victim loses this value in a pause.
    Loses(bool),
    /// One fault primitive, or two.
    Primitives(Primitive, Option<Primitive>),
}

/// One fault of a class: how the memory misbehaves, and the order of the cells that take part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Fault {
    class: Class,
    behaviour: Behaviour,
    /// The roles from the lowest address to the highest.
    order: &'static [Role],
}

impl Fault {
    /// The class that it belongs to.
    pub fn class(&self) -> Class {
        self.class
    }

    /// Every place that it can have on an array of [`CELLS`] cells.
    pub fn placements(&self) -> Vec<Placed> {
        (0_u8..1 << CELLS)
            .filter(|chosen| chosen.count_ones() as usize == self.order.len())
            .map(|chosen| {
                let mut placed = Placed { behaviour: self.behaviour, cells: [0; 3] };
                let cells = (0..CELLS).filter(|cell| chosen >> cell & 1 == 1);
                for (role, cell) in self.order.iter().zip(cells) {
                    placed.cells[*role as usize] = cell;
                }
                placed
            })
            .collect()
    }
}

/// A fault at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Placed {
    pub(crate) behaviour: Behaviour,
    /// The cell of each role; those of roles that do not take part mean nothing.
    cells: [u8; 3],
}

impl Placed {
    /// The cell that plays a role.
    pub(crate) fn cell(&self, role: Role) -> u8 {
        self.cells[role as usize]
    }
}

const ALONE: [&[Role]; 1] = [&[Role::Victim]];
const PAIRS: [&[Role]; 2] = [&[Role::Aggressor, Role::Victim], &[Role::Victim, Role::Aggressor]];
const TRIPLES: [&[Role]; 6] = [
    &[Role::Aggressor, Role::Second, Role::Victim],
    &[Role::Second, Role::Aggressor, Role::Victim],
    &[Role::Aggressor, Role::Victim, Role::Second],
    &[Role::Second, Role::Victim, Role::Aggressor],
    &[Role::Victim, Role::Aggressor, Role::Second],
    &[Role::Victim, Role::Second, Role::Aggressor],
];
const VALUES: [bool; 2] = [false, true];
const WIRED: [Wired; 2] = [Wired::And, Wired::Or];

/// All faults of a class.
pub fn faults(class: Class) -> Vec<Fault> {
    let fault = |behaviour, order| Fault { class, behaviour, order };
    let each = |behaviours: Vec<Behaviour>, orders: &[&'static [Role]]| -> Vec<Fault> {
        behaviours
            .into_iter()
            .flat_map(|behaviour| orders.iter().map(move |&order| fault(behaviour, order)))
            .collect()
    };
    match class {
        Class::StuckAt => each(VALUES.map(Behaviour::Stuck).to_vec(), &ALONE),
        Class::StuckOpen => each(vec![Behaviour::Open], &ALONE),
        Class::Retention => each(VALUES.map(Behaviour::Loses).to_vec(), &ALONE),
        Class::Address => {
            let mut faults = each(WIRED.map(Behaviour::NoCell).to_vec(), &ALONE);
            faults.extend(each(WIRED.map(Behaviour::Borrowed).to_vec(), &PAIRS));
            faults.extend(each(vec![Behaviour::OtherCell], &PAIRS));
            faults.extend(each(WIRED.map(Behaviour::ExtraCell).to_vec(), &PAIRS));
            faults
        }
        Class::LinkedIdempotent => {
            let two = |second: Role| -> Vec<Behaviour> {
                pairs()
                    // One aggressor with one trigger cannot force both values.
                    .filter(|(one, other)| second == Role::Second || one != other)
                    .map(|(one, other)| {
                        Behaviour::Primitives(
                            transition(Role::Aggressor, one, Some(true)),
                            Some(transition(second, other, Some(false))),
                        )
                    })
                    .collect()
            };
            let mut faults = each(two(Role::Second), &TRIPLES);
            faults.extend(each(two(Role::Aggressor), &PAIRS));
            faults
        }
        Class::LinkedTransition | Class::LinkedTransitionInversion => {
            let behaviours = pairs().map(|(from, trigger)| {
                let victim = (class == Class::LinkedTransition).then_some(from);
                Behaviour::Primitives(
                    Primitive::Write { condition: None, from, to: !from },
                    Some(transition(Role::Aggressor, trigger, victim)),
                )
            });
            each(behaviours.collect(), &PAIRS)
        }
        _ => {
            let primitives = primitives(class);
            let orders: &[&[Role]] = if coupled(class) { &PAIRS } else { &ALONE };
            each(
                primitives.into_iter().map(|one| Behaviour::Primitives(one, None)).collect(),
                orders,
            )
        }
    }
}

/// All pairs of values.
fn pairs() -> impl Iterator<Item = (bool, bool)> {
    VALUES.into_iter().flat_map(|one| VALUES.map(|other| (one, other)))
}

/// The transition of an aggressor from `from` flips a victim that holds `victim`, or any victim.
fn transition(aggressor: Role, from: bool, victim: Option<bool>) -> Primitive {
    Primitive::Disturb { aggressor, from, operation: Operation::Write(!from), victim }
}

/// Whether the faults of a class need an aggressor.
fn coupled(class: Class) -> bool {
    !matches!(
        class,
        Class::Transition
            | Class::State
            | Class::WriteDestructive
            | Class::ReadDestructive
            | Class::DeceptiveRead
            | Class::IncorrectRead
    )
}

/// The primitives of a class of simple faults, as Hamdioui, van de Goor and Rodgers list them
/// (MTDT 2002; from memory).
fn primitives(class: Class) -> Vec<Primitive> {
    let conditions: Vec<While> = if coupled(class) {
        VALUES.map(|value| Some((Role::Aggressor, value))).to_vec()
    } else {
        vec![None]
    };
    let conditional = |primitive: &dyn Fn(While, bool) -> Primitive| -> Vec<Primitive> {
        conditions
            .iter()
            .flat_map(|&condition| VALUES.map(|held| primitive(condition, held)))
            .collect()
    };
    let read = |flips: bool, right: bool| {
        conditional(&|condition, held| Primitive::Read {
            condition,
            held,
            becomes: held ^ flips,
            returns: if right { held } else { !held },
        })
    };
    let disturb = |operation: &dyn Fn(bool) -> Operation| -> Vec<Primitive> {
        pairs()
            .map(|(from, victim)| Primitive::Disturb {
                aggressor: Role::Aggressor,
                from,
                operation: operation(from),
                victim: Some(victim),
            })
            .collect()
    };
    match class {
        Class::State => VALUES.map(Primitive::Holds).to_vec(),
        Class::Transition | Class::CoupledTransition => {
            conditional(&|condition, from| Primitive::Write { condition, from, to: !from })
        }
        Class::WriteDestructive | Class::CoupledWriteDestructive => {
            conditional(&|condition, from| Primitive::Write { condition, from, to: from })
        }
        Class::ReadDestructive | Class::CoupledReadDestructive => read(true, false),
        Class::DeceptiveRead | Class::CoupledDeceptiveRead => read(true, true),
        // A state coupling shows while the aggressor holds its value, and only then: the victim's
        // own value is there again afterwards.
        Class::IncorrectRead | Class::CoupledIncorrectRead | Class::CouplingState => {
            read(false, false)
        }
        Class::DisturbRead => disturb(&Operation::Read),
        Class::DisturbTransition | Class::CouplingIdempotent => {
            disturb(&|from| Operation::Write(!from))
        }
        Class::DisturbNonTransition => disturb(&Operation::Write),
        Class::CouplingInversion => {
            VALUES.map(|from| transition(Role::Aggressor, from, None)).to_vec()
        }
        Class::StuckAt
        | Class::StuckOpen
        | Class::Address
        | Class::Retention
        | Class::LinkedIdempotent
        | Class::LinkedTransition
        | Class::LinkedTransitionInversion => Vec::new(),
    }
}

impl fmt::Display for Primitive {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bit = u8::from;
        let state = |condition: &While| match condition {
            Some((_, value)) => format!("{};", bit(*value)),
            None => String::new(),
        };
        match self {
            Self::Holds(value) => write!(f, "<{}/{}/->", bit(*value), bit(!value)),
            Self::Write { condition, from, to } => {
                write!(f, "<{}{}w{}/{}/->", state(condition), bit(*from), bit(*to), bit(!to))
            }
            Self::Read { condition, held, becomes, returns } => write!(
                f,
                "<{}r{}/{}/{}>",
                state(condition),
                bit(*held),
                bit(*becomes),
                bit(*returns)
            ),
            Self::Disturb { from, operation, victim, .. } => {
                let trigger = match operation {
                    Operation::Read(_) => operation.to_string(),
                    Operation::Write(_) => format!("{}{operation}", bit(*from)),
                };
                match victim {
                    Some(value) => write!(f, "<{trigger};{}/{}/->", bit(*value), bit(!value)),
                    None => write!(f, "<{trigger};x/!x/->"),
                }
            }
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bit = u8::from;
        let wired = |wired: Wired| match wired {
            Wired::And => "0 wins",
            Wired::Or => "1 wins",
        };
        match self.behaviour {
            Behaviour::Stuck(value) => write!(f, "stuck at {}", bit(value))?,
            Behaviour::Open => f.write_str("cut off")?,
            Behaviour::NoCell(line) => {
                write!(f, "address v reaches no cell, reads {}", bit(line.rest()))?;
            }
            Behaviour::Borrowed(line) => {
                write!(f, "address v reaches no cell, a reaches both, {}", wired(line))?;
            }
            Behaviour::OtherCell => f.write_str("address v reaches cell a, no address cell v")?,
            Behaviour::ExtraCell(line) => {
                write!(f, "address a reaches cell v too, {}", wired(line))?;
            }
            Behaviour::Loses(value) => write!(f, "loses {}", bit(value))?,
            Behaviour::Primitives(one, None) => write!(f, "{one}")?,
            Behaviour::Primitives(one, Some(other)) => write!(f, "{one} with {other}")?,
        }
        if let Behaviour::Primitives(_, Some(Primitive::Disturb { aggressor, .. })) = self.behaviour
            && aggressor == Role::Second
        {
            f.write_str(" by b")?;
        }
        if self.order.len() > 1 {
            let letters: Vec<&str> = self.order.iter().map(|role| role.letter()).collect();
            write!(f, ", {}", letters.join("<"))?;
        }
        Ok(())
    }
}
