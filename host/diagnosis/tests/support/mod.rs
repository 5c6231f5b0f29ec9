//! A memory array with a fault, played cell by cell over all its addresses. It shares nothing with
//! the diagnosis but the types of the march and of the failing reads.
//!
//! The faults are those of van de Goor, Testing Semiconductor Memories, 1991: stuck-at, transition,
//! stuck-open, address decoder, coupling and data retention faults; those of reads and writes are
//! from Hamdioui, van de Goor and Rodgers, MTDT 2002 (both from memory). Shorts, dead halves, rows
//! and columns are common practice.

#![allow(dead_code, reason = "each test file uses its part")]

use dipsift_diagnosis::{
    AddressLine, DataLine, Diagnosis, Extent, Observation, Physical, Shape, Strobe,
};
use dipsift_march::{Direction, March};
use dipsift_wire::{Element, Miss, Operation, Order};

pub type At = (u32, u8);

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    Stuck(At, bool),
    CannotRise(At),
    CannotFall(At),
    Open(At),
    ReadDestructive(At, bool),
    DeceptiveRead(At, bool),
    IncorrectRead(At, bool),
    WriteDisturb(At, bool),
    Retention {
        at: At,
        value: bool,
        after_ms: u32,
    },
    Idempotent {
        aggressor: At,
        rise: bool,
        victim: At,
        to: bool,
    },
    Inversion {
        aggressor: At,
        rise: bool,
        victim: At,
    },
    State {
        aggressor: At,
        held: bool,
        victim: At,
        to: bool,
    },
    AddressStuck {
        bits: u32,
        high: bool,
    },
    AddressShort {
        pairs: [(u8, u8); 2],
        or: bool,
    },
    DataStuck(u8, bool),
    DataShort {
        one: u8,
        other: u8,
        or: bool,
    },
    HalfDead {
        line: u8,
        high: bool,
        word: u16,
    },
    Dead(u16),
    /// Words of half of the array, or all of it, read as chance has it.
    Noise {
        half: Option<(u8, bool)>,
        bits: u16,
    },
    Row(u32, u16),
    Column {
        column: u32,
        bit: u8,
        value: bool,
    },
    LeakyRow {
        row: u32,
        value: bool,
        accesses: u64,
    },
    RowLosesInPause {
        row: u32,
        value: bool,
    },
    OtherCell {
        from: u32,
        to: u32,
    },
    NoCell {
        address: u32,
        word: u16,
    },
    ExtraCell {
        address: u32,
        other: u32,
        or: bool,
    },
}

pub struct Array<'a> {
    shape: &'a Shape,
    faults: Vec<Fault>,
    words: Vec<u16>,
    mask: u16,
    sensed: u16,
    clock: u64,
    row_used: Vec<u64>,
}

fn bit(word: u16, bit: u8) -> bool {
    word >> bit & 1 == 1
}

fn with(word: u16, at: u8, value: bool) -> u16 {
    if value { word | 1 << at } else { word & !(1 << at) }
}

/// The rows and columns of the array under test, spelt out once more.
pub fn row_column(shape: &Shape, address: u32) -> (u32, u32) {
    let physical = shape.physical.as_ref();
    let value = |bits: &[u8]| bits.iter().fold(0, |n, bit| n << 1 | (address >> bit & 1));
    match physical {
        Some(physical) => (value(&physical.row), value(&physical.column)),
        None if shape.address[0].strobe.is_some() => {
            let half = shape.address.len() / 2;
            (address >> half, address & ((1 << half) - 1))
        }
        None => (0, address),
    }
}

impl<'a> Array<'a> {
    pub fn new(shape: &'a Shape, faults: Vec<Fault>, seed: u64) -> Self {
        let mask = (u32::from(u16::MAX) >> (16 - shape.data.len())) as u16;
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        let words = (0..shape.words).map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 20) as u16 & mask
        });
        let words = words.collect();
        let row_used = vec![0; shape.words as usize];
        Self { shape, faults, words, mask, sensed: seed as u16 & mask, clock: 0, row_used }
    }

    /// What an address reaches inside.
    fn decoded(&self, address: u32) -> u32 {
        let mut address = address;
        for fault in &self.faults {
            match *fault {
                Fault::AddressStuck { bits, high } => {
                    address = if high { address | bits } else { address & !bits };
                }
                Fault::AddressShort { pairs, or } => {
                    for (a, b) in pairs {
                        let (one, other) = (address >> a & 1, address >> b & 1);
                        let level = if or { one | other } else { one & other };
                        address &= !(1 << a | 1 << b);
                        address |= level << a | level << b;
                    }
                }
                Fault::OtherCell { from, to } if from == address => address = to,
                _ => {}
            }
        }
        address
    }

    /// Data on their way in or out.
    fn through(&self, word: u16) -> u16 {
        let mut word = word;
        for fault in &self.faults {
            match *fault {
                Fault::DataStuck(line, high) => word = with(word, line, high),
                Fault::DataShort { one, other, or } => {
                    let (a, b) = (bit(word, one), bit(word, other));
                    let level = if or { a || b } else { a && b };
                    word = with(with(word, one, level), other, level);
                }
                _ => {}
            }
        }
        word
    }

    fn tick(&mut self, address: u32) {
        self.clock += 1;
        let (row, _) = row_column(self.shape, address);
        for fault in self.faults.clone() {
            if let Fault::LeakyRow { row: leaky, value, accesses } = fault
                && leaky == row
            {
                if self.clock - self.row_used[row as usize] > accesses {
                    for at in 0..self.shape.words {
                        if row_column(self.shape, at).0 == row {
                            self.words[at as usize] = if value { 0 } else { self.mask };
                        }
                    }
                }
                self.row_used[row as usize] = self.clock;
            }
        }
    }

    fn disturb(&mut self, address: u32, before: u16, after: u16) {
        for fault in self.faults.clone() {
            let (aggressor, rise, victim, to) = match fault {
                Fault::Idempotent { aggressor, rise, victim, to } => {
                    (aggressor, rise, victim, Some(to))
                }
                Fault::Inversion { aggressor, rise, victim } => (aggressor, rise, victim, None),
                _ => continue,
            };
            let (old, new) = (bit(before, aggressor.1), bit(after, aggressor.1));
            if aggressor.0 == address && old != new && new == rise {
                let word = &mut self.words[victim.0 as usize];
                *word = with(*word, victim.1, to.unwrap_or(!bit(*word, victim.1)));
            }
        }
    }

    pub fn write(&mut self, address: u32, word: u16) {
        let address = self.decoded(address);
        self.tick(address);
        let word = self.through(word);
        let before = self.words[address as usize];
        let mut after = word;
        for fault in &self.faults {
            match *fault {
                Fault::Stuck((at, b), value) if at == address => after = with(after, b, value),
                Fault::CannotRise((at, b)) if at == address && !bit(before, b) => {
                    after = with(after, b, false);
                }
                Fault::CannotFall((at, b)) if at == address && bit(before, b) => {
                    after = with(after, b, true);
                }
                Fault::WriteDisturb((at, b), value)
                    if at == address && bit(before, b) == value && bit(word, b) == value =>
                {
                    after = with(after, b, !value);
                }
                Fault::HalfDead { line, high, .. } if (address >> line & 1 == 1) == high => {
                    after = before;
                }
                Fault::NoCell { address: at, .. } if at == address => after = before,
                Fault::ExtraCell { address: at, other, .. } if at == address => {
                    self.words[other as usize] = word;
                }
                _ => {}
            }
        }
        self.words[address as usize] = after;
        self.disturb(address, before, word);
    }

    pub fn read(&mut self, address: u32) -> u16 {
        let address = self.decoded(address);
        self.tick(address);
        let held = self.words[address as usize];
        let (mut seen, mut kept) = (held, held);
        let (row, column) = row_column(self.shape, address);
        for fault in &self.faults {
            match *fault {
                Fault::Stuck((at, b), value) if at == address => seen = with(seen, b, value),
                Fault::Open((at, b)) if at == address => seen = with(seen, b, bit(self.sensed, b)),
                Fault::ReadDestructive((at, b), value)
                    if at == address && bit(held, b) == value =>
                {
                    seen = with(seen, b, !value);
                    kept = with(kept, b, !value);
                }
                Fault::DeceptiveRead((at, b), value) if at == address && bit(held, b) == value => {
                    kept = with(kept, b, !value);
                }
                Fault::IncorrectRead((at, b), value) if at == address && bit(held, b) == value => {
                    seen = with(seen, b, !value);
                }
                Fault::State { aggressor, held, victim, to }
                    if victim.0 == address
                        && bit(self.words[aggressor.0 as usize], aggressor.1) == held =>
                {
                    seen = with(seen, victim.1, to);
                }
                Fault::ExtraCell { address: at, other, or } if at == address => {
                    let there = self.words[other as usize];
                    seen = if or { held | there } else { held & there };
                }
                Fault::HalfDead { line, high, word } if (address >> line & 1 == 1) == high => {
                    seen = word;
                }
                Fault::NoCell { address: at, word } if at == address => seen = word,
                Fault::Noise { half, bits }
                    if half.is_none_or(|(line, high)| (address >> line & 1 == 1) == high) =>
                {
                    let chance = self.clock.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 33;
                    let chance = (chance ^ chance >> 13).wrapping_mul(0x2545_F491_4F6C_DD1D) >> 40;
                    seen = seen & !bits | chance as u16 & bits;
                }
                Fault::Row(at, word) if at == row => seen = word,
                Fault::Column { column: at, bit: b, value } if at == column => {
                    seen = with(seen, b, value);
                }
                _ => {}
            }
        }
        self.words[address as usize] = kept;
        self.sensed = seen;
        let seen = self.through(seen);
        let dead = self.faults.iter().find_map(|fault| match fault {
            Fault::Dead(word) => Some(*word),
            _ => None,
        });
        dead.unwrap_or(seen) & self.mask
    }

    fn pause(&mut self, ms: u32) {
        for fault in self.faults.clone() {
            match fault {
                Fault::Retention { at: (at, b), value, after_ms } if ms >= after_ms => {
                    let word = &mut self.words[at as usize];
                    if bit(*word, b) == value {
                        *word = with(*word, b, !value);
                    }
                }
                Fault::RowLosesInPause { row, value } => {
                    for at in 0..self.shape.words {
                        if row_column(self.shape, at).0 == row {
                            self.words[at as usize] = if value { 0 } else { self.mask };
                        }
                    }
                }
                _ => {}
            }
        }
    }

    /// The failing reads of a march, and at most so many.
    pub fn march(&mut self, run: &Run, most: usize) -> Vec<Miss> {
        let mut misses = Vec::new();
        for (background, &base) in run.backgrounds.iter().enumerate() {
            for (element, what) in run.elements.iter().enumerate() {
                let (order, operations) = match what {
                    Element::Pause { ms, .. } => {
                        self.pause(*ms);
                        continue;
                    }
                    Element::Each { order, operations } => (order, operations),
                };
                let down = *order == Order::Down || *order == Order::Any && run.any_down;
                for step in 0..self.shape.words {
                    let address = if down { self.shape.words - 1 - step } else { step };
                    for (operation, what) in operations.iter().enumerate() {
                        let word = if what.inverts() { !base & self.mask } else { base };
                        if what.writes() {
                            self.write(address, word);
                            continue;
                        }
                        let seen = self.read(address);
                        if seen != word && misses.len() < most {
                            misses.push(Miss {
                                element: element as u8,
                                operation: operation as u8,
                                background: background as u8,
                                address,
                                seen,
                            });
                        }
                    }
                }
            }
        }
        misses
    }
}

/// A march as the station gets it.
#[derive(Clone, Debug)]
pub struct Run {
    pub backgrounds: Vec<u16>,
    pub elements: Vec<Element>,
    pub any_down: bool,
}

impl Run {
    pub fn new(notation: &str, bits: usize, any_down: bool) -> Self {
        let march = match dipsift_march::find(notation) {
            Some(published) => published.march(),
            None => March::read(notation).expect("a sound march"),
        };
        let elements = march.elements().iter().map(|element| match element {
            dipsift_march::Element::Pause(pause) => {
                Element::Pause { ms: pause.as_millis() as u32, refresh: false }
            }
            dipsift_march::Element::Sweep { direction, operations } => Element::Each {
                order: match direction {
                    Direction::Up => Order::Up,
                    Direction::Down => Order::Down,
                    Direction::Any => Order::Any,
                },
                operations: operations
                    .iter()
                    .map(|operation| match operation {
                        dipsift_march::Operation::Read(false) => Operation::R0,
                        dipsift_march::Operation::Read(true) => Operation::R1,
                        dipsift_march::Operation::Write(false) => Operation::W0,
                        dipsift_march::Operation::Write(true) => Operation::W1,
                    })
                    .collect(),
            },
        });
        let mask = (u32::from(u16::MAX) >> (16 - bits)) as u16;
        // Solid, then stripes of one, two, four and eight bits: every two bits differ in one.
        let stripes: [u16; 5] = [0xFFFF, 0x5555, 0x3333, 0x0F0F, 0x00FF];
        let count = 1 + usize::BITS - (bits - 1).leading_zeros();
        let backgrounds: Vec<u16> =
            stripes[..count as usize].iter().map(|stripe| !stripe & mask).collect();
        Self { backgrounds, elements: elements.collect(), any_down }
    }

    pub fn observe<'a>(&'a self, misses: &'a [Miss], extent: Extent) -> Observation<'a> {
        Observation {
            backgrounds: &self.backgrounds,
            elements: &self.elements,
            any_down: self.any_down,
            misses,
            extent,
            slow: &[],
        }
    }
}

fn lines(count: u8) -> Vec<AddressLine> {
    let line = |bit| AddressLine { pin_name: format!("A{bit}"), pin: 1 + bit, strobe: None };
    (0..count).map(line).collect()
}

fn data(bits: u8) -> Vec<DataLine> {
    (0..bits)
        .map(|bit| {
            let name = format!("D{bit}");
            DataLine {
                output: name.clone(),
                output_pin: 30 + bit,
                input: name,
                input_pin: 30 + bit,
            }
        })
        .collect()
}

/// A static memory, with physical order if wanted: the rows by the upper bits but the lowest two,
/// scrambled.
pub fn fixed(address_bits: u8, bits: u8, physical: bool) -> Shape {
    let physical = physical.then(|| {
        let mut row: Vec<u8> = (2..address_bits).collect();
        let column_too = row.split_off(row.len() / 2 + 1);
        let mut column = vec![1, 0];
        column.extend(column_too);
        row.reverse();
        Physical { row, column }
    });
    Shape {
        number: "demo".to_owned(),
        words: 1 << address_bits,
        address: lines(address_bits),
        data: data(bits),
        physical,
        refresh_rows: None,
    }
}

/// A dynamic memory: the address strobed in over so many pins, the row first.
pub fn dynamic(pins: u8, bits: u8) -> Shape {
    let half = |strobe| {
        lines(pins).into_iter().map(move |line| AddressLine { strobe: Some(strobe), ..line })
    };
    Shape {
        number: "demo".to_owned(),
        words: 1 << (2 * pins),
        address: half(Strobe::Column).chain(half(Strobe::Row)).collect(),
        data: data(bits),
        physical: None,
        refresh_rows: Some(1 << pins),
    }
}

/// What is found of faults.
pub fn diagnose(shape: &Shape, run: &Run, faults: &[Fault], seed: u64) -> Diagnosis {
    let misses = Array::new(shape, faults.to_vec(), seed).march(run, usize::MAX);
    Diagnosis::of(shape, &run.observe(&misses, Extent::Whole)).expect("the reads fit")
}
