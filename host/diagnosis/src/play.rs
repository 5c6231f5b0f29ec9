//! A march played on paper: a few cells that stand for all, with a fault.

use crate::cause::CellFault;
use crate::evidence::{Evidence, Kind, is_down};
use dipsift_wire::{Element, Operation};

/// What happens to a few addresses, in order. Slot 0 is the lowest address.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Event {
    Read { slot: usize, read: u16 },
    Write { slot: usize, word: u16 },
    Pause { ms: u32 },
}

/// The wrong bits of each read of an address, and those that can be either.
#[derive(Clone, Debug, Default)]
pub(crate) struct Predicted {
    wrong: Vec<u16>,
    unsure: Vec<u16>,
}

/// A fault of a single cell at work.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lone(pub(crate) Option<CellFault>);

/// The march as it passes over so many addresses.
pub(crate) fn events(evidence: &Evidence<'_>, slots: usize) -> Vec<Event> {
    let mut events = Vec::new();
    let mut read = 0;
    for &background in evidence.observation.backgrounds {
        for element in evidence.observation.elements {
            let (order, operations) = match element {
                Element::Pause { ms, .. } => {
                    events.push(Event::Pause { ms: *ms });
                    continue;
                }
                Element::Each { order, operations } => (*order, operations),
            };
            let down = is_down(order, evidence.observation.any_down);
            for at in 0..slots {
                let slot = if down { slots - 1 - at } else { at };
                let mut next = read;
                for operation in operations {
                    match operation {
                        Operation::R0 | Operation::R1 => {
                            events.push(Event::Read { slot, read: next });
                            next += 1;
                        }
                        Operation::W0 => events.push(Event::Write { slot, word: background }),
                        Operation::W1 => {
                            let word = !background & evidence.shape.mask();
                            events.push(Event::Write { slot, word });
                        }
                    }
                }
            }
            read += operations.iter().filter(|operation| !operation.writes()).count() as u16;
        }
    }
    events
}

impl Predicted {
    /// Each read sees a function of what it should see.
    pub(crate) fn seeing(evidence: &Evidence<'_>, seen: impl Fn(u16) -> u16) -> Self {
        let wrong = evidence.reads.iter().map(|read| seen(read.expected) ^ read.expected);
        let wrong: Vec<u16> = wrong.collect();
        Self { unsure: vec![0; wrong.len()], wrong }
    }

    /// Every read is right.
    pub(crate) fn right(evidence: &Evidence<'_>) -> Self {
        Self::seeing(evidence, |expected| expected)
    }

    /// By slot, what is read if each slot reaches the word of another.
    pub(crate) fn aliased(evidence: &Evidence<'_>, target: &[usize]) -> Vec<Self> {
        let mut words: Vec<Option<u16>> = vec![None; target.len()];
        let mut predicted = vec![Self::right(evidence); target.len()];
        for event in events(evidence, target.len()) {
            match event {
                Event::Write { slot, word } => words[target[slot]] = Some(word),
                Event::Read { slot, read } => {
                    let read = usize::from(read);
                    match words[target[slot]] {
                        Some(word) => {
                            predicted[slot].wrong[read] = word ^ evidence.reads[read].expected;
                        }
                        None => predicted[slot].unsure[read] = u16::MAX,
                    }
                }
                Event::Pause { .. } => {}
            }
        }
        predicted
    }

    /// Whether an address failed like this in given bits.
    pub(crate) fn agrees(&self, kind: &Kind, bits: u16) -> bool {
        let mut failing = kind.wrong.iter().peekable();
        (0..kind.known).all(|read| {
            let wrong = failing.next_if(|at| at.0 == read).map_or(0, |at| at.1);
            let read = usize::from(read);
            (wrong ^ self.wrong[read]) & bits & !self.unsure[read] == 0
        })
    }

    /// Whether nothing of given bits fails.
    pub(crate) fn is_right(&self, bits: u16) -> bool {
        self.wrong.iter().all(|wrong| wrong & bits == 0)
    }
}

impl Lone {
    /// What the cell holds after a write.
    pub(crate) fn write(self, held: bool, value: bool) -> bool {
        match self.0 {
            Some(CellFault::StuckAt(stuck)) => stuck,
            Some(CellFault::CannotRise) => held && value,
            Some(CellFault::CannotFall) => held || value,
            Some(CellFault::WriteFlips(of)) if held == of && value == of => !of,
            _ => value,
        }
    }

    /// What a read gives, and what the cell holds after it.
    pub(crate) fn read(self, held: bool) -> (bool, bool) {
        match self.0 {
            Some(CellFault::StuckAt(stuck)) => (stuck, stuck),
            Some(CellFault::ReadFlips(of)) if held == of => (!of, !of),
            Some(CellFault::ReadUpsets(of)) if held == of => (of, !of),
            Some(CellFault::ReadsWrong(of)) if held == of => (!of, of),
            _ => (held, held),
        }
    }

    /// What the cell holds after a pause.
    pub(crate) fn pause(self, held: bool, ms: u32) -> bool {
        match self.0 {
            Some(CellFault::Loses { value, within_ms }) if held == value && ms >= within_ms => {
                !value
            }
            _ => held,
        }
    }
}

/// Whether a cell by itself fails like this from one of both contents at power-up.
pub(crate) fn lone_agrees(
    evidence: &Evidence<'_>,
    alone: &[Event],
    fault: CellFault,
    kind: &Kind,
    bit: u8,
) -> bool {
    let at = |word: u16| word >> bit & 1 == 1;
    let lone = Lone(Some(fault));
    [false, true].into_iter().any(|power_up| {
        let mut held = power_up;
        alone.iter().all(|event| match *event {
            Event::Pause { ms } => {
                held = lone.pause(held, ms);
                true
            }
            Event::Write { word, .. } => {
                held = lone.write(held, at(word));
                true
            }
            Event::Read { read, .. } => {
                let (seen, after) = lone.read(held);
                held = after;
                let wrong = seen != at(evidence.reads[usize::from(read)].expected);
                read >= kind.known || wrong == at(kind.wrong_at(read))
            }
        })
    })
}

/// Whether a cell that is cut off fails like this: each read gives what was read last, at the
/// neighbours by order of address.
pub(crate) fn open_agrees(evidence: &Evidence<'_>, address: u32, kind: &Kind, bit: u8) -> bool {
    let at = |word: u16| word >> bit & 1 == 1;
    let lower = usize::from(address > 0);
    let slots = lower + 1 + usize::from(address + 1 < evidence.shape.words);
    let events = events(evidence, slots);
    [false, true].into_iter().any(|power_up| {
        let mut sensed = power_up;
        events.iter().all(|event| match *event {
            Event::Read { slot, read } if slot == lower => {
                let wrong = sensed != at(evidence.reads[usize::from(read)].expected);
                read >= kind.known || wrong == at(kind.wrong_at(read))
            }
            Event::Read { read, .. } => {
                sensed = at(evidence.reads[usize::from(read)].expected);
                true
            }
            Event::Write { .. } | Event::Pause { .. } => true,
        })
    })
}
