//! The cells of a memory, and what a read and a write do to them.

use super::coupling::{Disturb, Own, disturbs_of, own_of};
use super::fault::{Cell, Fault, Wired};
use super::geometry::Geometry;
use crate::random::{coin, mix};
use std::collections::HashMap;

/// Which cells an address reaches, where they are not its own alone.
#[derive(Clone, Debug)]
struct Reach {
    cells: Vec<u32>,
    wired: Wired,
}

/// A cell that loses a value.
#[derive(Clone, Debug)]
struct Lapse {
    cell: Cell,
    high: bool,
    after_ns: u64,
    written_at: u64,
}

/// The faults of an array, sorted by what they act on.
#[derive(Clone, Debug, Default)]
struct Faults {
    /// Words that are not read and written plainly, one bit each.
    marked: Vec<u64>,
    stuck: Vec<(Cell, bool)>,
    open: Vec<Cell>,
    own: Vec<Own>,
    disturbs: Vec<Disturb>,
    reach: HashMap<u32, Reach>,
    lapses: Vec<Lapse>,
    slow: Vec<(Cell, u32)>,
    columns: Vec<(u32, u8, bool)>,
    coupled: Vec<(u32, u32, u8, Wired)>,
    rows: Vec<(u32, bool)>,
    dead: Vec<(u8, bool)>,
}

/// A memory array.
#[derive(Clone, Debug)]
pub(crate) struct Cells {
    geometry: Geometry,
    words: Vec<u32>,
    /// What the sense amplifiers read last.
    sensed: u32,
    faults: Option<Box<Faults>>,
}

impl Cells {
    pub(crate) fn new(geometry: Geometry, faults: &[Fault]) -> Self {
        let sorted = Faults::new(&geometry, faults);
        let words = vec![0; geometry.words as usize];
        let plain = sorted.marked.iter().all(|&words| words == 0);
        Self { geometry, words, sensed: 0, faults: (!plain).then(|| Box::new(sorted)) }
    }

    /// Fills the array with seeded contents.
    pub(crate) fn power_up(&mut self, seed: u64, now: u64) {
        let mask = self.geometry.mask();
        for (address, word) in self.words.iter_mut().enumerate() {
            *word = (mix(seed, address as u64) >> 32) as u32 & mask;
        }
        self.sensed = mix(seed, u64::MAX) as u32 & mask;
        self.settle_faults(now);
    }

    /// Fills the array with given contents; what is not given is blank, all ones.
    pub(crate) fn program(&mut self, contents: &[u8], now: u64) {
        let mask = self.geometry.mask();
        for (address, word) in self.words.iter_mut().enumerate() {
            *word = contents.get(address).map_or(u32::MAX, |&byte| byte.into()) & mask;
        }
        self.settle_faults(now);
    }

    fn settle_faults(&mut self, now: u64) {
        if let Some(faults) = &mut self.faults {
            faults.lapses.iter_mut().for_each(|lapse| lapse.written_at = now);
            for &(cell, high) in &faults.stuck {
                put(&mut self.words, cell, high);
            }
        }
    }

    /// How much longer than the others some bits of a word take to read: the bits, and how many
    /// access times.
    pub(crate) fn slow(&self, address: u32) -> Option<(u32, u32)> {
        let faults = self.faults.as_ref()?;
        let mut of_word = faults.slow.iter().filter(|(cell, _)| cell.address == address);
        let first = of_word.next()?;
        Some(of_word.fold((1 << first.0.bit, first.1), |(bits, factor), (cell, more)| {
            (bits | 1 << cell.bit, factor.max(*more))
        }))
    }

    /// One read operation.
    pub(crate) fn read(&mut self, address: u32, now: u64) -> u32 {
        let word = match self.faults.take() {
            Some(mut faults) => {
                let word = if faults.touch(address) {
                    self.read_faulty(&mut faults, address, now)
                } else {
                    self.words[address as usize]
                };
                self.faults = Some(faults);
                word
            }
            None => self.words[address as usize],
        };
        self.sensed = word;
        word
    }

    /// One write operation.
    pub(crate) fn write(&mut self, address: u32, word: u32, now: u64) {
        match self.faults.take() {
            Some(mut faults) => {
                if faults.touch(address) {
                    self.write_faulty(&mut faults, address, word, now);
                } else {
                    self.words[address as usize] = word;
                }
                self.faults = Some(faults);
            }
            None => self.words[address as usize] = word,
        }
    }

    /// A cell loses its charge.
    pub(crate) fn discharge(&mut self, address: u32, bits: u32, to: bool) {
        let word = &mut self.words[address as usize];
        *word = if to { *word | bits } else { *word & !bits };
        if let Some(faults) = &self.faults {
            for &(cell, high) in faults.stuck.iter().filter(|(cell, _)| cell.address == address) {
                put(&mut self.words, cell, high);
            }
        }
    }

    /// What a write that was too short leaves: each bit old or new by the seed.
    pub(crate) fn write_short(&mut self, address: u32, word: u32, seed: u64, now: u64) {
        let old = self.words[address as usize];
        let mut taken = 0;
        for bit in 0..self.geometry.bits {
            taken |= u32::from(coin(seed, now, bit.into())) << bit;
        }
        self.write(address, old & !taken | word & taken, now);
    }

    fn read_faulty(&mut self, faults: &mut Faults, address: u32, now: u64) -> u32 {
        let mask = self.geometry.mask();
        faults.lapse(&mut self.words, now);
        let (cells, wired) = faults.cells(address);
        let mut word = match wired {
            Wired::And => mask,
            Wired::Or => 0,
        };
        for &cell in &cells {
            let read = self.read_word(faults, cell);
            word = match wired {
                Wired::And => word & read,
                Wired::Or => word | read,
            };
        }
        for &cell in &cells {
            for (bit, partner, wired) in faults.partners(&self.geometry, cell) {
                let there = self.words[partner as usize] & 1 << bit;
                match wired {
                    Wired::And => word &= there | !(1 << bit),
                    Wired::Or => word |= there,
                }
            }
            for open in faults.open.iter().filter(|open| open.address == cell) {
                let bit = 1 << open.bit;
                word = word & !bit | self.sensed & bit;
            }
        }
        faults.sense_lines(&self.geometry, address, word) & mask
    }

    /// Reads the bits of one word, with what that does to them and to others.
    fn read_word(&mut self, faults: &Faults, address: u32) -> u32 {
        let before = self.words[address as usize];
        let (mut kept, mut read) = (before, before);
        for own in faults.own.iter().filter(|own| own.cell.address == address) {
            let bit = 1 << own.cell.bit;
            if own.on_read(before & bit != 0, &self.words) {
                kept = if own.faulty { kept | bit } else { kept & !bit };
                read = if own.returned { read | bit } else { read & !bit };
            }
        }
        self.words[address as usize] = kept;
        let mut due = Vec::new();
        for disturb in &faults.disturbs {
            if disturb.aggressor.address == address
                && disturb.by_read(before >> disturb.aggressor.bit & 1 == 1)
            {
                due.extend(disturb.effect(&self.words));
            }
        }
        self.set_all(faults, &due);
        read
    }

    fn write_faulty(&mut self, faults: &mut Faults, address: u32, word: u32, now: u64) {
        faults.lapse(&mut self.words, now);
        for cell in faults.cells(address).0 {
            if faults.is_dead(cell) {
                continue;
            }
            self.write_word(faults, cell, word);
            for lapse in faults.lapses.iter_mut().filter(|lapse| lapse.cell.address == cell) {
                lapse.written_at = now;
            }
            for (bit, address, _) in faults.partners(&self.geometry, cell) {
                self.set_all(faults, &[(Cell { address, bit }, word >> bit & 1 == 1)]);
            }
        }
    }

    fn write_word(&mut self, faults: &Faults, address: u32, word: u32) {
        let before = self.words[address as usize];
        let mut after = word;
        for own in faults.own.iter().filter(|own| own.cell.address == address) {
            let bit = 1 << own.cell.bit;
            if own.on_write(before & bit != 0, word & bit != 0, &self.words) {
                after = if own.faulty { after | bit } else { after & !bit };
            }
        }
        for open in faults.open.iter().filter(|open| open.address == address) {
            let bit = 1 << open.bit;
            after = after & !bit | before & bit;
        }
        for &(cell, high) in faults.stuck.iter().filter(|(cell, _)| cell.address == address) {
            after = if high { after | 1 << cell.bit } else { after & !(1 << cell.bit) };
        }
        self.words[address as usize] = after;
        // Where the victim is in the same word, the coupling has the last word.
        let mut due = Vec::new();
        for disturb in &faults.disturbs {
            let bit = disturb.aggressor.bit;
            let at = |word: u32| word >> bit & 1 == 1;
            if disturb.aggressor.address == address
                && disturb.by_write(at(before), at(word), at(after))
            {
                due.extend(disturb.effect(&self.words));
            }
        }
        self.set_all(faults, &due);
    }

    fn set_all(&mut self, faults: &Faults, due: &[(Cell, bool)]) {
        for &(cell, high) in due {
            if !faults.open.contains(&cell) && !faults.stuck.iter().any(|(at, _)| *at == cell) {
                put(&mut self.words, cell, high);
            }
        }
    }
}

pub(super) fn get(words: &[u32], cell: Cell) -> bool {
    words[cell.address as usize] >> cell.bit & 1 == 1
}

fn put(words: &mut [u32], cell: Cell, high: bool) {
    let word = &mut words[cell.address as usize];
    *word = *word & !(1 << cell.bit) | u32::from(high) << cell.bit;
}

impl Faults {
    fn new(geometry: &Geometry, faults: &[Fault]) -> Self {
        let mut this =
            Self { marked: vec![0; (geometry.words as usize).div_ceil(64)], ..Self::default() };
        for fault in faults {
            this.add(geometry, fault);
        }
        this
    }

    fn mark(&mut self, address: u32) {
        self.marked[address as usize / 64] |= 1 << (address % 64);
    }

    fn mark_where(&mut self, geometry: &Geometry, which: impl Fn(u32) -> bool) {
        (0..geometry.words).filter(|&address| which(address)).for_each(|address| {
            self.mark(address);
        });
    }

    fn reaches(&mut self, address: u32, cells: &[u32], wired: Wired) {
        self.mark(address);
        self.reach.insert(address, Reach { cells: cells.to_vec(), wired });
    }

    fn add(&mut self, geometry: &Geometry, fault: &Fault) {
        if let Some(own) = own_of(fault) {
            self.mark(own.cell.address);
            self.own.push(own);
        }
        if let Some(disturb) = disturbs_of(fault) {
            self.mark(disturb.aggressor.address);
            self.disturbs.push(disturb);
        }
        match *fault {
            Fault::StuckAt { cell, high } => {
                self.mark(cell.address);
                self.stuck.push((cell, high));
            }
            Fault::StuckOpen { cell } => {
                self.mark(cell.address);
                self.open.push(cell);
            }
            Fault::NoCell { address, wired } => self.reaches(address, &[], wired),
            Fault::TakenOver { by, address, wired } => {
                self.reaches(address, &[], wired);
                self.reaches(by, &[by, address], wired);
            }
            Fault::OtherCell { address, other } => {
                self.reaches(address, &[other], Wired::And);
            }
            Fault::ExtraCell { address, other, wired } => {
                self.reaches(address, &[address, other], wired);
            }
            Fault::Retention { cell, high, milliseconds } => {
                self.mark(cell.address);
                let after_ns = u64::from(milliseconds) * 1_000_000;
                self.lapses.push(Lapse { cell, high, after_ns, written_at: 0 });
            }
            Fault::SlowCell { cell, factor } => {
                self.mark(cell.address);
                self.slow.push((cell, factor));
            }
            Fault::Column { column, bit, high } => {
                self.mark_where(geometry, |address| geometry.column(address) == column);
                self.columns.push((column, bit, high));
            }
            Fault::CoupledColumns { column, other, bit, wired } => {
                self.mark_where(geometry, |address| {
                    [column, other].contains(&geometry.column(address))
                });
                self.coupled.push((column, other, bit, wired));
            }
            Fault::Row { row, high } => {
                self.mark_where(geometry, |address| geometry.row(address) == row);
                self.rows.push((row, high));
            }
            Fault::HalfDead { line, high } => {
                self.mark_where(geometry, |address| (address >> line & 1 == 1) == high);
                self.dead.push((line, high));
            }
            Fault::Transition { .. }
            | Fault::Inversion { .. }
            | Fault::Idempotent { .. }
            | Fault::State { .. }
            | Fault::Primitive { .. }
            // Charge, time and lines are the chip's affair.
            | Fault::Leaky { .. }
            | Fault::Access { .. }
            | Fault::AddressStuck { .. }
            | Fault::AddressShorted { .. }
            | Fault::DataStuck { .. }
            | Fault::DataShorted { .. } => {}
        }
    }

    fn touch(&self, address: u32) -> bool {
        self.marked[address as usize / 64] >> (address % 64) & 1 == 1
    }

    fn cells(&self, address: u32) -> (Vec<u32>, Wired) {
        match self.reach.get(&address) {
            Some(reach) => (reach.cells.clone(), reach.wired),
            None => (vec![address], Wired::And),
        }
    }

    fn is_dead(&self, address: u32) -> bool {
        self.dead.iter().any(|&(line, high)| (address >> line & 1 == 1) == high)
    }

    /// The cells that share a sense line with cells of a word.
    fn partners(&self, geometry: &Geometry, address: u32) -> Vec<(u8, u32, Wired)> {
        let (row, column) = (geometry.row(address), geometry.column(address));
        let of = |&(a, b, bit, wired): &(u32, u32, u8, Wired)| {
            let there = match column {
                column if column == a => b,
                column if column == b => a,
                _ => return None,
            };
            Some((bit, geometry.address(row, there), wired))
        };
        self.coupled.iter().filter_map(of).collect()
    }

    /// What failed lines make of a word on its way out.
    fn sense_lines(&self, geometry: &Geometry, address: u32, word: u32) -> u32 {
        let mut word = word;
        if self.is_dead(address) {
            word = u32::MAX;
        }
        for &(column, bit, high) in &self.columns {
            if column == geometry.column(address) {
                word = word & !(1 << bit) | u32::from(high) << bit;
            }
        }
        for &(row, high) in &self.rows {
            if row == geometry.row(address) {
                word = if high { u32::MAX } else { 0 };
            }
        }
        word
    }

    fn lapse(&self, words: &mut [u32], now: u64) {
        for lapse in &self.lapses {
            if now.saturating_sub(lapse.written_at) >= lapse.after_ns
                && get(words, lapse.cell) == lapse.high
            {
                put(words, lapse.cell, !lapse.high);
            }
        }
    }
}
