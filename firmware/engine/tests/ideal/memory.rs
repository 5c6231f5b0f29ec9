//! Memories for the ideal socket: a static one of 16 × 4 with common or separate data pins, and a
//! dynamic one of 256 × 1. Both are stricter than a chip: they panic where a chip would only do
//! something else than meant, and read wrong where they are not given their time.
//!
//! Both sit in a 16-pin package with pin 1 in position 1: ground 8, supply 16.

use super::{Ideal, header, pins};
use dipsift_pins::Positions;
use dipsift_wire::{
    Element, Header, Kind, MarchSetup, Move, Operation, Order, Pins, Power, Rail as WireRail,
    Refresh, StartUp, Strobed, Voltage,
};

/// A bit of a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bit {
    pub address: u32,
    pub bit: u8,
}

/// A fault of the array.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    StuckAt {
        cell: Bit,
        value: bool,
    },
    /// The cell does not change to this value.
    Transition {
        cell: Bit,
        to: bool,
    },
    /// The victim takes a value when the aggressor changes to another.
    Idempotent {
        aggressor: Bit,
        to: bool,
        victim: Bit,
        value: bool,
    },
}

#[derive(Clone, Debug, Default)]
pub struct Array {
    pub words: Vec<u16>,
    pub faults: Vec<Fault>,
}

impl Array {
    fn get(&self, cell: Bit) -> bool {
        self.words[cell.address as usize] >> cell.bit & 1 == 1
    }

    fn put(&mut self, cell: Bit, value: bool) {
        let word = &mut self.words[cell.address as usize];
        *word = *word & !(1 << cell.bit) | u16::from(value) << cell.bit;
    }

    fn write(&mut self, address: u32, width: u8, word: u16) {
        let mut changed = Vec::new();
        for bit in 0..width {
            let cell = Bit { address, bit };
            let (old, new) = (self.get(cell), word >> bit & 1 == 1);
            let fails = self.faults.iter().any(|fault| match *fault {
                Fault::StuckAt { cell: at, .. } => at == cell,
                Fault::Transition { cell: at, to } => at == cell && to == new,
                Fault::Idempotent { .. } => false,
            });
            if old != new && !fails {
                self.put(cell, new);
                changed.push((cell, new));
            }
        }
        for fault in self.faults.clone() {
            if let Fault::Idempotent { aggressor, to, victim, value } = fault
                && changed.contains(&(aggressor, to))
            {
                self.put(victim, value);
            }
        }
    }

    fn read(&self, address: u32) -> u16 {
        let mut word = self.words[address as usize];
        for fault in &self.faults {
            if let Fault::StuckAt { cell, value } = *fault
                && cell.address == address
            {
                word = word & !(1 << cell.bit) | u16::from(value) << cell.bit;
            }
        }
        word
    }
}

/// What the chip does with its pins.
#[derive(Clone, Debug)]
pub enum Form {
    /// Select 5, write enable 6, address 1 to 4, data 9 to 12; with separate outputs these are 13
    /// to 15 and 7.
    Static { separate: bool },
    /// Row strobe 5, column strobe 6, write enable 7, address 1 to 4, input 9, output 10.
    Dynamic(Dynamic),
}

#[derive(Clone, Debug, Default)]
pub struct Dynamic {
    row: u32,
    column: u32,
    row_low_since: u64,
    /// When each row was refreshed last.
    pub refreshed: Vec<u64>,
    /// The longest that any row was left alone since it was first refreshed.
    pub longest_gap: u64,
    pub longest_low: u64,
    pub row_cycles: u64,
    pub first_cycle: Option<u64>,
    /// A row that was left alone for longer loses its ones; `u64::MAX`: never.
    pub holds_ns: u64,
}

#[derive(Clone, Debug)]
pub struct Memory {
    pub array: Array,
    pub form: Form,
    pub access_ns: u64,
    pub pulse_ns: u64,
    pub writes: u64,
    /// When the inputs changed last.
    pub moved: u64,
    /// When the write began.
    pub writing: Option<u64>,
    pub levels: Positions,
    pub driven: Positions,
}

const ADDRESS: [u8; 4] = [1, 2, 3, 4];
const DATA: [u8; 4] = [9, 10, 11, 12];
const OUTPUTS: [u8; 4] = [13, 14, 15, 7];
pub const ACCESS_NS: u32 = 200;
pub const PULSE_NS: u32 = 150;
pub const INTERVAL_NS: u32 = 2_000_000;

/// The position of a pin of this package.
pub fn at(pin: u8) -> u8 {
    if pin <= 8 { pin } else { pin + 24 }
}

impl Memory {
    fn new(form: Form, words: usize) -> Self {
        // Whatever it wakes up with.
        let words = (0..words as u32).map(|word| ((word * 0x9e37) >> 3) as u16 & 0xf).collect();
        Self {
            array: Array { words, faults: Vec::new() },
            form,
            access_ns: ACCESS_NS.into(),
            pulse_ns: PULSE_NS.into(),
            writes: 0,
            moved: 0,
            writing: None,
            levels: Positions::NONE,
            driven: Positions::NONE,
        }
    }

    pub fn static_ram(separate: bool) -> Self {
        Self::new(Form::Static { separate }, 16)
    }

    pub fn dynamic_ram() -> Self {
        let dynamic = Dynamic { refreshed: vec![0; 16], holds_ns: u64::MAX, ..Dynamic::default() };
        let mut memory = Self::new(Form::Dynamic(dynamic), 256);
        memory.array.words.iter_mut().for_each(|word| *word &= 1);
        memory
    }

    /// A dynamic one that holds its rows for so long.
    pub fn holding(ns: u64) -> Self {
        let mut memory = Self::dynamic_ram();
        if let Form::Dynamic(dynamic) = &mut memory.form {
            dynamic.holds_ns = ns;
        }
        memory
    }

    pub fn dynamic(&self) -> &Dynamic {
        match &self.form {
            Form::Dynamic(dynamic) => dynamic,
            Form::Static { .. } => panic!("static"),
        }
    }

    fn input(&self, pin: u8) -> bool {
        assert!(self.driven.contains(at(pin)), "input {pin} floats");
        self.levels.contains(at(pin))
    }

    fn number(&self, pins: &[u8]) -> u32 {
        pins.iter().enumerate().map(|(bit, &pin)| u32::from(self.input(pin)) << bit).sum()
    }

    /// The drivers have changed.
    pub fn change(&mut self, driven: Positions, levels: Positions, now: u64) {
        let before = self.clone();
        (self.driven, self.levels) = (driven, levels & driven);
        if driven == before.driven && self.levels == before.levels {
            return;
        }
        // What is only input or output may come and go with the data.
        let data = DATA.iter().fold(Positions::NONE, |set, &pin| set | Positions::one(at(pin)));
        let fixed = |levels: Positions| levels.without(data);
        let moved = fixed(self.levels) != fixed(before.levels);
        let strobes = [5, 6].iter().all(|&pin| driven.contains(at(pin)));
        if !strobes {
            return;
        }
        match &self.form {
            Form::Static { .. } => self.change_static(&before, now),
            Form::Dynamic(_) => self.change_dynamic(&before, now),
        }
        if moved {
            self.moved = now;
        }
    }

    fn change_static(&mut self, before: &Self, now: u64) {
        let writes = !self.input(5) && !self.input(6);
        match (self.writing, writes) {
            (None, true) => self.writing = Some(now),
            (Some(since), false) => {
                self.writing = None;
                if now - since >= self.pulse_ns {
                    let word = before.number(&DATA) as u16;
                    self.array.write(before.number(&ADDRESS), 4, word);
                    self.writes += 1;
                }
            }
            (Some(_), true) => {
                assert_eq!(self.number(&ADDRESS), before.number(&ADDRESS), "address moved");
            }
            (None, false) => {}
        }
        let shared = matches!(self.form, Form::Static { separate: false });
        let outputs = !self.input(5) && self.input(6);
        let fought = DATA.iter().any(|&pin| self.driven.contains(at(pin)));
        assert!(!(shared && outputs && fought), "outputs are driven against");
    }

    fn change_dynamic(&mut self, before: &Self, now: u64) {
        let (row_low, row_was_low) = (!self.input(5), !before.levels.contains(at(5)));
        let (column_low, column_was_low) = (!self.input(6), !before.levels.contains(at(6)));
        let was_driven = before.driven.contains(at(5));
        let number = if (row_low && !row_was_low) || (column_low && !column_was_low) {
            self.number(&ADDRESS)
        } else {
            0
        };
        let writes = !self.input(7);
        let data = writes.then(|| u16::from(self.input(9)));
        let Form::Dynamic(dynamic) = &mut self.form else { return };
        if row_low && !row_was_low && was_driven {
            dynamic.row = number;
            dynamic.row_low_since = now;
            dynamic.row_cycles += 1;
            dynamic.first_cycle.get_or_insert(now);
            let row = number as usize;
            let last = std::mem::replace(&mut dynamic.refreshed[row], now);
            if last != 0 {
                dynamic.longest_gap = dynamic.longest_gap.max(now - last);
                if now - last > dynamic.holds_ns {
                    for column in 0..16 {
                        self.array.words[row << 4 | column] = 0;
                    }
                }
            }
        }
        if !row_low && row_was_low && was_driven {
            dynamic.longest_low = dynamic.longest_low.max(now - dynamic.row_low_since);
        }
        if row_low && column_low && !column_was_low {
            dynamic.column = number;
            if let Some(word) = data {
                let address = dynamic.row << 4 | number;
                self.array.write(address, 1, word);
                self.writes += 1;
            }
        }
    }

    /// What the outputs show: positions that the chip drives, and those of them that are high.
    pub fn outputs(&self, now: u64) -> (Positions, Positions) {
        let (pins, word): (&[u8], u16) = match &self.form {
            Form::Static { separate } => {
                if self.input(5) || !self.input(6) {
                    return (Positions::NONE, Positions::NONE);
                }
                (if *separate { &OUTPUTS } else { &DATA }, self.array.read(self.number(&ADDRESS)))
            }
            Form::Dynamic(dynamic) => {
                if self.input(6) || self.input(5) || !self.input(7) {
                    return (Positions::NONE, Positions::NONE);
                }
                (&[10], self.array.read(dynamic.row << 4 | dynamic.column))
            }
        };
        let early = now - self.moved < self.access_ns;
        let word = if early { !word } else { word };
        let set = |wanted: &dyn Fn(usize) -> bool| {
            pins.iter()
                .enumerate()
                .filter(|(bit, _)| wanted(*bit))
                .fold(Positions::NONE, |set, (_, &pin)| set | Positions::one(at(pin)))
        };
        (set(&|_| true), set(&|bit| word >> bit & 1 == 1))
    }
}

/// A socket with a memory in it, each of whose moves takes some time.
pub fn socket(memory: Memory) -> Ideal {
    Ideal { memory: Some(memory), move_ns: 20, ..Ideal::default() }
}

/// A powered march program on the package.
pub fn march_header() -> Header {
    Header {
        kind: Kind::March,
        pins: 16,
        power: Some(Power {
            feed: Pins::one(16),
            ground: Pins::one(8),
            voltage: Voltage::V5,
            limit_ua: 100_000,
        }),
        ..header()
    }
}

pub fn set(numbers: &[u8], high: &[u8]) -> Move {
    Move::Set { pins: pins(numbers), high: pins(high) }
}

/// A march in ASCII notation without spaces; `pause(N)` and `rest(N)` are N ms with and without
/// refresh.
pub fn elements(notation: &str) -> heapless::Vec<Element, 24> {
    let element = |text: &str| {
        let (order, rest) = text.split_once('(').unwrap();
        let rest = rest.strip_suffix(')').unwrap();
        let order = match order {
            "up" => Order::Up,
            "down" => Order::Down,
            "any" => Order::Any,
            "pause" => return Element::Pause { ms: rest.parse().unwrap(), refresh: true },
            "rest" => return Element::Pause { ms: rest.parse().unwrap(), refresh: false },
            other => panic!("{other}"),
        };
        let operations = rest.split(',').map(|operation| match operation {
            "r0" => Operation::R0,
            "r1" => Operation::R1,
            "w0" => Operation::W0,
            "w1" => Operation::W1,
            other => panic!("{other}"),
        });
        Element::Each { order, operations: operations.collect() }
    };
    notation.split(';').filter(|text| !text.is_empty()).map(element).collect()
}

/// Marinescu, "Simple and efficient algorithms for functional RAM testing", International Test
/// Conference 1982, without the element that van de Goor, Testing Semiconductor Memories (1991),
/// shows to be redundant.
pub const C_MINUS: &str = "any(w0);up(r0,w1);up(r1,w0);down(r0,w1);down(r1,w0);any(r0)";

/// The static memory and a march on it.
pub fn static_setup(separate: bool, notation: &str) -> MarchSetup {
    let mut write = heapless::Vec::from_slice(&[
        Move::Address,
        Move::Data,
        set(&[5, 6], &[]),
        Move::Wait { ns: PULSE_NS },
        set(&[5, 6], &[5, 6]),
    ])
    .unwrap();
    if !separate {
        write.push(Move::Release).unwrap();
    }
    MarchSetup {
        address: ADDRESS.into_iter().collect(),
        strobed: None,
        data_in: DATA.into_iter().collect(),
        data_out: if separate { OUTPUTS } else { DATA }.into_iter().collect(),
        words: 16,
        control: pins(&[5, 6]),
        idle: pins(&[5, 6]),
        light: WireRail::High,
        firm: WireRail::Off,
        read: heapless::Vec::from_slice(&[
            Move::Address,
            set(&[5], &[]),
            Move::Wait { ns: ACCESS_NS },
            Move::Sample,
            set(&[5], &[5]),
        ])
        .unwrap(),
        write,
        start: StartUp::default(),
        refresh: None,
        backgrounds: heapless::Vec::from_slice(&[0b0000, 0b0101, 0b0011]).unwrap(),
        elements: elements(notation),
        any_down: false,
        most_failures: u32::MAX,
    }
}

/// The dynamic memory and a march on it.
pub fn dynamic_setup(notation: &str) -> MarchSetup {
    let cycle = |moves: &[Move]| heapless::Vec::from_slice(moves).unwrap();
    MarchSetup {
        address: ADDRESS.into_iter().collect(),
        strobed: Some(Strobed { row_bits: 4, column_bits: 4 }),
        data_in: [9].into_iter().collect(),
        data_out: [10].into_iter().collect(),
        words: 256,
        control: pins(&[5, 6, 7]),
        idle: pins(&[5, 6, 7]),
        light: WireRail::High,
        firm: WireRail::Off,
        read: cycle(&[
            Move::Row,
            set(&[5], &[]),
            Move::Column,
            set(&[6], &[]),
            Move::Wait { ns: ACCESS_NS },
            Move::Sample,
            set(&[5, 6], &[5, 6]),
            Move::Wait { ns: 100 },
        ]),
        write: cycle(&[
            Move::Row,
            Move::Data,
            set(&[5, 7], &[]),
            Move::Column,
            set(&[6], &[]),
            Move::Wait { ns: PULSE_NS },
            set(&[5, 6, 7], &[5, 6, 7]),
            Move::Wait { ns: 100 },
        ]),
        start: StartUp { pause_us: 200, cycles: 8 },
        refresh: Some(Refresh {
            cycle: cycle(&[
                Move::Row,
                set(&[5], &[]),
                Move::Wait { ns: 150 },
                set(&[5], &[5]),
                Move::Wait { ns: 100 },
            ]),
            rows: 16,
            interval_ns: INTERVAL_NS,
        }),
        backgrounds: cycle_words(&[0]),
        elements: elements(notation),
        any_down: false,
        most_failures: u32::MAX,
    }
}

fn cycle_words(words: &[u16]) -> heapless::Vec<u16, 8> {
    heapless::Vec::from_slice(words).unwrap()
}
