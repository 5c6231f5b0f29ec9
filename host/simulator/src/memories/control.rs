//! The conditions under which a memory reads and writes, as a table over its control pins.

use crate::seated::Level;
use dipsift_language::{Machine, Memory, Network, NodeId, PinId, Word};
use std::sync::Arc;

/// What a condition comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Holds {
    No,
    Yes,
    /// A control pin that decides it has no level.
    Unknown,
}

/// The conditions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Conditions {
    pub(crate) read: Holds,
    pub(crate) write: Holds,
    /// The address is held.
    pub(crate) latch: Holds,
}

const IDLE: Conditions = Conditions { read: Holds::No, write: Holds::No, latch: Holds::No };

/// More control pins than this are worked out each time: the table has four entries for each.
const TABLE_PINS: usize = 8;
/// How many cases a network works out at once.
const LANES: usize = 64;

/// A memory's control logic with the present levels of its pins.
#[derive(Clone, Debug)]
pub(crate) struct Control {
    pins: Vec<PinId>,
    /// Two bits a pin: 0 low, 1 high, 2 without level.
    index: usize,
    table: Vec<Conditions>,
    /// In place of a table: too many pins, or conditions that remember.
    machine: Option<Machine>,
    read: Option<NodeId>,
    write: Option<NodeId>,
    latch: Option<NodeId>,
    /// The pins that tell a read from a selection: output enables.
    enables: Vec<PinId>,
    all_pins: usize,
}

impl Control {
    pub(crate) fn new(memory: &Memory, network: &Arc<Network>, pins: usize) -> Self {
        let (read, write, latch) = (memory.read, memory.write, memory.latch);
        let (control, remembers) = network.cone([read, write, latch].into_iter().flatten());
        // An output enable decides about reads and not about writes.
        let (writes, _) = network.cone(write);
        let (reads, _) = network.cone(read);
        let enables =
            reads.into_iter().filter(|pin| write.is_some() && !writes.contains(pin)).collect();
        let mut this = Self {
            index: 0,
            table: Vec::new(),
            machine: None,
            read,
            write,
            latch,
            enables,
            all_pins: pins,
            pins: control,
        };
        let machine = Machine::new(Arc::clone(network), pins);
        if remembers || this.pins.len() > TABLE_PINS {
            this.machine = Some(machine);
        } else {
            this.fill(&machine);
        }
        this.reset();
        this
    }

    /// A pin's place among the control pins.
    pub(crate) fn place(&self, pin: PinId) -> Option<u8> {
        self.pins.iter().position(|&at| at == pin).map(|place| place as u8)
    }

    /// Whether a pin is an output enable.
    pub(crate) fn is_enable(&self, pin: PinId) -> bool {
        self.enables.contains(&pin)
    }

    /// Forgets all levels.
    pub(crate) fn reset(&mut self) {
        self.index = (0..self.pins.len()).fold(0, |index, place| index | 2 << (2 * place));
        if let Some(machine) = &mut self.machine {
            *machine = Machine::new(Arc::clone(machine.network()), self.all_pins);
        }
    }

    /// Takes a control pin's new level.
    pub(crate) fn set(&mut self, place: u8, level: Level) {
        let code = match level {
            Level::Low => 0,
            Level::High => 1,
            Level::Undefined => 2,
        };
        let shift = 2 * usize::from(place);
        self.index = self.index & !(3 << shift) | code << shift;
        if let Some(machine) = &mut self.machine {
            machine.apply(self.pins[usize::from(place)], word(code));
            machine.settle();
        }
    }

    /// What holds at the present levels.
    pub(crate) fn now(&self) -> Conditions {
        match &self.machine {
            Some(machine) => self.of(machine, 0),
            None => self.table[self.index],
        }
    }

    fn of(&self, machine: &Machine, lane: usize) -> Conditions {
        let holds = |node: Option<NodeId>| {
            let Some(node) = node else { return Holds::No };
            let word = machine.node(node);
            match (word.low >> lane & 1, word.high >> lane & 1) {
                (1, 0) => Holds::No,
                (0, 1) => Holds::Yes,
                _ => Holds::Unknown,
            }
        };
        Conditions { read: holds(self.read), write: holds(self.write), latch: holds(self.latch) }
    }

    fn fill(&mut self, machine: &Machine) {
        let cases = 1 << (2 * self.pins.len());
        self.table = vec![IDLE; cases];
        for first in (0..cases).step_by(LANES) {
            let mut machine = machine.clone();
            for (place, &pin) in self.pins.iter().enumerate() {
                let mut level = Word { low: 0, high: 0 };
                for lane in 0..LANES {
                    let code = word((first + lane) >> (2 * place) & 3);
                    level.low |= code.low & 1 << lane;
                    level.high |= code.high & 1 << lane;
                }
                machine.apply(pin, level);
            }
            machine.settle();
            for case in first..cases.min(first + LANES) {
                self.table[case] = self.of(&machine, case - first);
            }
        }
    }
}

fn word(code: usize) -> Word {
    match code {
        0 => Word::LOW,
        1 => Word::HIGH,
        _ => Word::UNKNOWN,
    }
}
