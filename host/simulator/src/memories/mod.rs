//! A memory at its pins: what its levels make it do, and when its outputs follow.
//!
//! The levels of its control pins look up whether it reads and writes, so that a change costs a
//! few operations whatever the size of the array. A read operation takes place when the data
//! become valid: a selection or an address that lasts shorter reads nothing.

mod cells;
mod control;
mod coupling;
mod dynamic;
mod fault;
mod geometry;
mod lines;
pub(crate) mod phrase;
mod primitive;
mod timing;

pub use fault::{Cell, Fault, Wired};
pub use primitive::{NotAPrimitive, Primitive, Sensitiser};

use crate::Chip;
use crate::Defect;
use crate::random::mix;
use crate::seated::Level;
use cells::Cells;
use control::{Control, Holds};
use dipsift_language::{Memory, PinId};
use dynamic::Dynamic;
use geometry::Geometry;
use lines::Lines;
use std::sync::Arc;
use timing::Timing;

/// What a package pin is to the memory.
#[derive(Clone, Copy, Debug, Default)]
struct PinUse {
    address: u32,
    data_in: u32,
    /// The data-out bit, counted from 0.
    data_out: Option<u8>,
    control: Option<u8>,
    strobe: Option<Strobe>,
    /// An output enable: it is not part of the selection.
    enable: bool,
    /// Whether a strobe is active at a low level.
    active_low: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Strobe {
    Row,
    Column,
}

/// Levels of a group of pins.
#[derive(Clone, Copy, Debug, Default)]
struct Levels {
    high: u32,
    unknown: u32,
}

impl Levels {
    fn set(&mut self, bits: u32, level: Level) {
        self.high &= !bits;
        self.unknown &= !bits;
        match level {
            Level::Low => {}
            Level::High => self.high |= bits,
            Level::Undefined => self.unknown |= bits,
        }
    }

    /// What they are taken for: what has no level falls as the dice do.
    fn taken(self, dice: u64) -> u32 {
        self.high | dice as u32 & self.unknown
    }
}

/// A memory with its contents and its present state.
#[derive(Clone, Debug)]
pub(crate) struct MemoryChip {
    pins: Vec<PinUse>,
    out_pins: Vec<Vec<u8>>,
    timing: Timing,
    mask: u32,
    cells: Cells,
    control: Control,
    contents: Option<Arc<[u8]>>,
    address_lines: Lines,
    data_lines: Lines,
    /// Bits whose outputs show the complement of what was written.
    inverted: u32,
    dynamic: Option<Dynamic>,
    seed: u64,
    events: u64,
    started: bool,
    address: Levels,
    data: Levels,
    words: u32,
    /// The word that is addressed.
    at: u32,
    reading: bool,
    writing: bool,
    latched: bool,
    /// When the address, the selection, an output enable and the data last moved.
    address_at: u64,
    select_at: u64,
    enable_at: u64,
    data_at: u64,
    write_since: u64,
    enabled: bool,
    /// When the outputs begin or cease to drive.
    stage_due: u64,
    /// What the outputs show while they drive.
    word: u32,
    /// When the addressed word is sensed and shown.
    data_due: u64,
    /// Bits that come later, what they will show, and when.
    late: (u32, u32, u64),
    violations: u64,
    read_only: bool,
}

fn bits_of(pins: &[PinId], pin: PinId) -> u32 {
    // The description lists the most significant first.
    pins.iter().rev().enumerate().fold(0, |bits, (bit, &at)| bits | u32::from(at == pin) << bit)
}

impl MemoryChip {
    /// The chip's memory with those of the defects that are its; `None` for a part without one.
    pub(crate) fn of(chip: &Chip, defects: &[Defect]) -> Option<Box<Self>> {
        let memory = chip.part.memory.as_ref()?;
        let faults = defects.iter().filter_map(|defect| match defect {
            Defect::Memory(fault) => Some(*fault),
            _ => None,
        });
        Some(Box::new(Self::new(chip, memory, &faults.collect::<Vec<_>>())))
    }

    fn new(chip: &Chip, memory: &Memory, faults: &[Fault]) -> Self {
        let geometry = Geometry::new(memory);
        let access = faults.iter().rev().find_map(|fault| match *fault {
            Fault::Access { nanoseconds } => Some(nanoseconds),
            _ => None,
        });
        let timing = Timing::new(memory, access.or(chip.access_ns));
        let control = Control::new(memory, &chip.network, chip.part.pins.len());
        let (mut address_lines, mut data_lines) = (Lines::default(), Lines::default());
        for fault in faults {
            match *fault {
                Fault::AddressStuck { line, high } => address_lines.stick(line, high),
                Fault::AddressShorted { line, other, wired } => {
                    address_lines.short(line, other, wired);
                }
                Fault::DataStuck { line, high } => data_lines.stick(line, high),
                Fault::DataShorted { line, other, wired } => data_lines.short(line, other, wired),
                _ => {}
            }
        }
        let mut out_pins = vec![Vec::new(); memory.bits as usize];
        let pins = (1..=chip.pins()).map(|number| {
            let Some(id) = chip.package.at(number) else { return PinUse::default() };
            let out = bits_of(&memory.data_out, id);
            let data_out = (out != 0).then(|| out.trailing_zeros() as u8);
            if let Some(bit) = data_out {
                out_pins[usize::from(bit)].push(number - 1);
            }
            let strobe = match memory.strobes.iter().position(|&strobe| strobe == id) {
                Some(0) => Some(Strobe::Row),
                Some(_) => Some(Strobe::Column),
                None => None,
            };
            PinUse {
                address: bits_of(&memory.address, id),
                data_in: bits_of(&memory.data_in, id),
                data_out,
                control: control.place(id),
                strobe,
                enable: control.is_enable(id),
                active_low: chip.part.pin(id).name.starts_with('/'),
            }
        });
        Self {
            pins: pins.collect(),
            out_pins,
            timing,
            mask: geometry.mask(),
            cells: Cells::new(geometry.clone(), faults),
            inverted: memory.data_out.iter().fold(0, |bits, &pin| {
                let complement = chip.part.pin(pin).name.starts_with('/');
                bits << 1 | u32::from(complement)
            }),
            control,
            contents: chip.contents.clone(),
            address_lines,
            data_lines,
            dynamic: (!memory.strobes.is_empty())
                .then(|| Dynamic::new(memory, &geometry, &timing, faults)),
            seed: 0,
            events: 0,
            started: false,
            address: Levels::default(),
            data: Levels::default(),
            words: geometry.words,
            at: 0,
            reading: false,
            writing: false,
            latched: false,
            address_at: 0,
            select_at: 0,
            enable_at: 0,
            data_at: 0,
            write_since: 0,
            enabled: false,
            stage_due: u64::MAX,
            word: 0,
            data_due: u64::MAX,
            late: (0, 0, u64::MAX),
            violations: 0,
            read_only: memory.write.is_none(),
        }
    }

    /// The chip has its supply: contents fall by the seed, or are as programmed.
    pub(crate) fn power_up(&mut self, seed: u64, now: u64) {
        self.power_down();
        self.seed = seed;
        match (&self.contents, self.read_only) {
            (Some(contents), _) => self.cells.program(contents, now),
            (None, true) => self.cells.program(&[], now),
            (None, false) => self.cells.power_up(seed, now),
        }
        self.control.reset();
        self.address = Levels { high: 0, unknown: u32::MAX };
        self.data = Levels { high: 0, unknown: u32::MAX };
        if let Some(dynamic) = &mut self.dynamic {
            dynamic.power_up(now);
        }
    }

    /// The chip has lost its supply.
    pub(crate) fn power_down(&mut self) {
        self.started = false;
        self.reading = false;
        self.writing = false;
        self.latched = false;
        self.enabled = false;
        self.stage_due = u64::MAX;
        self.data_due = u64::MAX;
        self.late.2 = u64::MAX;
        if let Some(dynamic) = &mut self.dynamic {
            dynamic.close_row(0);
        }
    }

    /// Every pin of a freshly powered chip has been shown its level: what they ask for begins.
    pub(crate) fn start(&mut self, now: u64) {
        self.started = true;
        (self.address_at, self.select_at, self.enable_at) = (now, now, now);
        self.data_at = now;
        self.at = self.addressed();
        self.look(now);
    }

    /// How often its times were violated.
    pub(crate) fn violations(&self) -> u64 {
        self.violations
    }

    /// The pins of a data-out bit, counted from 0.
    pub(crate) fn out_pins(&self, bit: u32) -> &[u8] {
        &self.out_pins[bit as usize]
    }

    /// All data-out bits.
    pub(crate) fn out_bits(&self) -> u32 {
        self.mask
    }

    /// Whether the outputs drive, and what.
    pub(crate) fn outputs(&self) -> (bool, u32) {
        (self.enabled, self.word)
    }

    /// The data-out bit of a pin, counted from 0.
    pub(crate) fn out_bit(&self, pin: usize) -> Option<u8> {
        self.pins[pin].data_out
    }

    /// When it next does something by itself.
    pub(crate) fn next_due(&self) -> u64 {
        let row = self.dynamic.as_ref().map_or(u64::MAX, |dynamic| dynamic.row_due);
        self.stage_due.min(self.data_due).min(self.late.2).min(row)
    }

    fn dice(&mut self) -> u64 {
        self.events += 1;
        mix(self.seed, self.events)
    }

    fn addressed(&mut self) -> u32 {
        let dice = if self.address.unknown == 0 { 0 } else { self.dice() };
        self.address_lines.through(self.address.taken(dice)) & (self.words - 1)
    }

    /// A pin's level has changed.
    pub(crate) fn input(&mut self, pin: usize, level: Level, now: u64) {
        let used = self.pins[pin];
        if used.address != 0 {
            self.address.set(used.address, level);
            if self.started && self.dynamic.is_none() && !self.latched {
                self.move_address(now);
            }
        }
        if used.data_in != 0 {
            self.data.set(used.data_in, level);
            self.data_at = now;
        }
        if let Some(place) = used.control {
            self.control.set(place, level);
            if used.enable {
                self.enable_at = now;
            } else {
                self.select_at = now;
            }
        }
        if let Some(strobe) = used.strobe {
            let active = level == if used.active_low { Level::Low } else { Level::High };
            self.strobe(strobe, active, now);
        } else if used.control.is_some() && self.started {
            self.look(now);
        }
    }

    /// The address of a static part has moved.
    fn move_address(&mut self, now: u64) {
        let from = self.at;
        let to = self.addressed();
        if from == to {
            return;
        }
        if self.writing {
            // What was addressed until now is written, and so is what is addressed next.
            self.violations += u64::from(now > self.write_since);
            self.end_write(now);
            self.write_since = now;
        }
        self.at = to;
        self.address_at = now;
        if self.reading {
            self.begin_access();
        }
    }

    fn strobe(&mut self, strobe: Strobe, active: bool, now: u64) {
        let Some(dynamic) = &mut self.dynamic else { return };
        if !self.started {
            return;
        }
        let was = match strobe {
            Strobe::Row => dynamic.row_open,
            Strobe::Column => dynamic.column_open,
        };
        if was == active {
            return;
        }
        match (strobe, active) {
            (Strobe::Row, true) => {
                let lines = self.address_lines.through(self.address.taken(mix(self.seed, now)));
                let early = dynamic.open_row(lines, &mut self.cells, self.seed, now);
                self.violations += u64::from(early);
            }
            (Strobe::Row, false) => self.violations += u64::from(dynamic.close_row(now)),
            (Strobe::Column, true) => {
                let lines = self.address_lines.through(self.address.taken(mix(self.seed, now)));
                dynamic.column_open = true;
                dynamic.column_at = now;
                self.at = dynamic.address(lines);
                dynamic.early_write = dynamic.row_open && self.control.now().write == Holds::Yes;
            }
            (Strobe::Column, false) => {
                dynamic.column_open = false;
                dynamic.early_write = false;
            }
        }
        self.look(now);
    }

    /// Whether a condition holds; one that nobody decides falls as the dice do.
    fn is_so(&mut self, holds: Holds) -> bool {
        match holds {
            Holds::Yes => true,
            Holds::No => false,
            Holds::Unknown => self.dice() & 1 == 1,
        }
    }

    /// Looks what the levels ask for.
    fn look(&mut self, now: u64) {
        let holds = self.control.now();
        let (mut reading, mut writing) = (self.is_so(holds.read), self.is_so(holds.write));
        if let Some(dynamic) = &self.dynamic {
            reading &= dynamic.column_open && !dynamic.early_write;
            writing &= dynamic.column_open && dynamic.row_open;
        } else {
            let latched = self.is_so(holds.latch);
            if std::mem::replace(&mut self.latched, latched) && !latched {
                self.move_address(now);
            }
        }
        if writing != self.writing {
            self.writing = writing;
            match (&self.dynamic, writing) {
                // A dynamic part takes the data at the beginning, a static one at the end.
                (Some(_), true) => self.store(now),
                (Some(_), false) => {}
                (None, true) => self.write_since = now,
                (None, false) => self.end_write(now),
            }
        }
        if reading != self.reading {
            self.reading = reading;
            if reading {
                self.begin_read(now);
            } else {
                self.data_due = u64::MAX;
                self.late.2 = u64::MAX;
                self.stage_due = if self.enabled { now + self.timing.turn_off } else { u64::MAX };
            }
        }
    }

    fn begin_read(&mut self, now: u64) {
        self.begin_access();
        // At the latest they drive when they know what.
        let drives = (now + self.timing.turn_on).min(self.data_due);
        self.stage_due = if self.enabled { u64::MAX } else { drives };
    }

    /// The addressed word will be sensed as soon as all that it waits for has lasted.
    fn begin_access(&mut self) {
        let timing = &self.timing;
        self.data_due = match &self.dynamic {
            Some(dynamic) => dynamic.valid_at(timing).max(self.enable_at + timing.enable),
            None => (self.address_at + timing.access)
                .max(self.select_at + timing.select)
                .max(self.enable_at + timing.enable),
        };
        self.late.2 = u64::MAX;
    }

    fn end_write(&mut self, now: u64) {
        let lasted = now - self.write_since;
        let stood = now - self.data_at;
        if lasted >= self.timing.write && stood >= self.timing.setup {
            self.store(now);
        } else if lasted > 0 {
            self.violations += 1;
            let data = self.data_taken();
            let seed = self.dice();
            self.cells.write_short(self.at, data, seed, now);
        }
        if self.reading {
            self.begin_access();
        }
    }

    fn data_taken(&mut self) -> u32 {
        let dice = if self.data.unknown == 0 { 0 } else { self.dice() };
        self.data_lines.through(self.data.taken(dice)) & self.mask
    }

    fn store(&mut self, now: u64) {
        let data = self.data_taken();
        if self.dynamic.is_some() {
            self.violations += u64::from(now - self.data_at < self.timing.setup);
        }
        if self.dynamic.as_ref().is_none_or(Dynamic::is_ready) {
            self.cells.write(self.at, data, now);
        }
    }

    /// Does what is due.
    pub(crate) fn pass(&mut self, now: u64) {
        if self.stage_due <= now {
            self.stage_due = u64::MAX;
            self.enabled = self.reading;
            if self.enabled {
                // Outputs drive before they know what.
                self.word = self.dice() as u32 & self.mask;
            }
        }
        if self.data_due <= now {
            self.sense(now);
        }
        if self.late.2 <= now {
            let (bits, levels, _) = self.late;
            self.late.2 = u64::MAX;
            self.word = self.word & !bits | levels & bits;
        }
        if let Some(dynamic) = &mut self.dynamic
            && dynamic.row_due <= now
        {
            dynamic.row_due = u64::MAX;
            self.violations += 1;
        }
    }

    /// Reads the addressed word and shows it, but for bits that are late.
    fn sense(&mut self, now: u64) {
        self.data_due = u64::MAX;
        let word = if self.dynamic.as_ref().is_none_or(Dynamic::is_ready) {
            self.cells.read(self.at, now)
        } else {
            self.dice() as u32
        };
        let word = (self.data_lines.through(word) ^ self.inverted) & self.mask;
        let late = match self.cells.slow(self.at) {
            Some((bits, factor)) => {
                let more = self.timing.access * u64::from(factor - 1);
                self.late = (bits, word, now + more);
                bits
            }
            None => 0,
        };
        self.word = word & !late | self.word & late;
    }
}
