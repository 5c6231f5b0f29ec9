//! Which faults a march test finds.

use crate::class::Class;
use crate::fault::{Fault, Placed, faults};
use crate::march::{Direction, Element, March, Operation};
use crate::memory::{CELLS, Memory};
use std::fmt;

/// Whether a march test finds a fault wherever it sits, whatever the memory powers up with, and
/// in whichever direction each "any" element is run.
pub fn detects(march: &March, fault: &Fault) -> bool {
    fault.placements().iter().all(|placed| detects_at(march, placed))
}

/// Whether a march test finds a fault at one place, whatever the memory powers up with, and in
/// whichever direction each "any" element is run.
pub fn detects_at(march: &March, placed: &Placed) -> bool {
    // The states in which the memory can be without the fault having shown, as a set of bits: the
    // directions of all "any" elements are so tried in every combination.
    let mut hidden = Memory::power_up(placed);
    for element in march.elements() {
        hidden = match element {
            Element::Sweep { direction, operations } => {
                let up = || sweep(placed, hidden, operations, false);
                let down = || sweep(placed, hidden, operations, true);
                match direction {
                    Direction::Up => up(),
                    Direction::Down => down(),
                    Direction::Any => up() | down(),
                }
            }
            Element::Pause(_) => each(placed, hidden, |memory| {
                memory.pause();
                true
            }),
        };
        if hidden == 0 {
            return true;
        }
    }
    false
}

/// The states after a sweep in which the fault has not shown.
fn sweep(placed: &Placed, hidden: u32, operations: &[Operation], reverse: bool) -> u32 {
    each(placed, hidden, |memory| {
        (0..CELLS).all(|step| {
            let address = if reverse { CELLS - 1 - step } else { step };
            operations.iter().all(|&operation| memory.run(address, operation))
        })
    })
}

/// Runs something from each state of a set; the states that remain where it gives true.
fn each(placed: &Placed, states: u32, run: impl Fn(&mut Memory<'_>) -> bool) -> u32 {
    let mut after = 0;
    let mut left = states;
    while left != 0 {
        let state = left.trailing_zeros() as u8;
        left &= left - 1;
        let mut memory = Memory::new(placed, state);
        if run(&mut memory) {
            after |= 1 << memory.state();
        }
    }
    after
}

/// How many faults of a class a march test finds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// The class.
    pub class: Class,
    /// How many faults are found wherever they sit.
    pub detected: usize,
    /// How many faults the class has; each order of the cells that take part counts as one.
    pub faults: usize,
    /// Those that are not found, or not everywhere.
    pub missed: Vec<Fault>,
}

impl Share {
    /// Whether every fault of the class is found.
    pub fn is_full(&self) -> bool {
        self.missed.is_empty()
    }
}

impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.detected, self.faults)
    }
}

/// What a march test finds, class by class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// In the order of [`Class::ALL`].
    shares: Vec<Share>,
}

impl Coverage {
    /// Simulates a march test with every fault of every class on [`CELLS`] cells.
    pub fn of(march: &March) -> Self {
        let shares = Class::ALL.map(|class| {
            let all = faults(class);
            let missed: Vec<Fault> =
                all.iter().filter(|fault| !detects(march, fault)).copied().collect();
            Share { class, detected: all.len() - missed.len(), faults: all.len(), missed }
        });
        Self { shares: shares.to_vec() }
    }

    /// The share of each class, in the order of [`Class::ALL`].
    pub fn shares(&self) -> &[Share] {
        &self.shares
    }

    /// The share of one class.
    pub fn share(&self, class: Class) -> &Share {
        &self.shares[class as usize]
    }
}
