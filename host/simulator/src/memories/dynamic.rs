//! What makes a memory dynamic: strobes, rows, refresh and decay.

use super::cells::Cells;
use super::fault::{Cell, Fault};
use super::geometry::Geometry;
use super::timing::Timing;
use crate::random::mix;
use dipsift_language::Memory;

/// A good cell keeps its charge for at least this many refresh intervals, and at most for twice
/// as many: chips at room temperature keep data for a large fraction of a second, from memory.
const GOOD_INTERVALS: u64 = 50;

/// The strobes and rows of a dynamic part.
#[derive(Clone, Debug)]
pub(crate) struct Dynamic {
    geometry: Geometry,
    /// Whether each strobe is active.
    pub(crate) row_open: bool,
    pub(crate) column_open: bool,
    /// Outputs stay off until the column strobe ends.
    pub(crate) early_write: bool,
    pub(crate) row: u32,
    row_at: u64,
    pub(crate) column_at: u64,
    /// When a row strobe will have lasted too long.
    pub(crate) row_due: u64,
    longest_row: u64,
    shortest_row: u64,
    precharge: u64,
    /// When the last row strobe ended.
    closed_at: Option<u64>,
    powered_at: u64,
    pause: u64,
    cycles_left: u32,
    cycles: u32,
    /// When each row was last refreshed; rows that are refreshed together count as one.
    refreshed: Vec<u64>,
    good_ns: u64,
    leaky: Vec<(Cell, u64)>,
}

impl Dynamic {
    pub(crate) fn new(
        memory: &Memory,
        geometry: &Geometry,
        timing: &Timing,
        faults: &[Fault],
    ) -> Self {
        let (rows, interval) = memory.refresh.unwrap_or((geometry.rows(), 2_000));
        let leaky = faults.iter().filter_map(|fault| match *fault {
            Fault::Leaky { cell, milliseconds } => {
                Some((cell, u64::from(milliseconds) * 1_000_000))
            }
            _ => None,
        });
        Self {
            geometry: geometry.clone(),
            row_open: false,
            column_open: false,
            early_write: false,
            row: 0,
            row_at: 0,
            column_at: 0,
            row_due: u64::MAX,
            longest_row: timing.row_most,
            powered_at: 0,
            pause: timing.pause,
            shortest_row: timing.row,
            precharge: timing.precharge,
            closed_at: None,
            cycles_left: timing.cycles,
            cycles: timing.cycles,
            refreshed: vec![0; rows.clamp(1, geometry.rows()) as usize],
            good_ns: u64::from(interval) * 1_000 * GOOD_INTERVALS,
            leaky: leaky.collect(),
        }
    }

    pub(crate) fn power_up(&mut self, now: u64) {
        self.row_open = false;
        self.column_open = false;
        self.early_write = false;
        self.row_due = u64::MAX;
        self.powered_at = now;
        self.cycles_left = self.cycles;
        self.refreshed.fill(now);
        self.closed_at = None;
    }

    /// Whether the start-up cycles have been made.
    pub(crate) fn is_ready(&self) -> bool {
        self.cycles_left == 0
    }

    /// The row strobe begins: the row is latched, sensed and restored. Returns whether it comes
    /// too early.
    pub(crate) fn open_row(&mut self, lines: u32, cells: &mut Cells, seed: u64, now: u64) -> bool {
        let early = self.closed_at.is_some_and(|at| now < at + self.precharge);
        self.row_open = true;
        self.row = self.geometry.row_at_strobe(lines);
        self.row_at = now;
        self.row_due = now + self.longest_row + 1;
        if now.saturating_sub(self.powered_at) >= self.pause {
            self.cycles_left = self.cycles_left.saturating_sub(1);
        }
        self.refresh(self.row, cells, seed, now);
        early
    }

    /// The row strobe ends. Returns whether it was too short.
    pub(crate) fn close_row(&mut self, now: u64) -> bool {
        let short = self.row_open && now < self.row_at + self.shortest_row;
        self.row_open = false;
        self.row_due = u64::MAX;
        self.closed_at = Some(now);
        short
    }

    /// The address of the open row's word at this column.
    pub(crate) fn address(&self, lines: u32) -> u32 {
        self.geometry.address(self.row, self.geometry.column_at_strobe(lines))
    }

    /// When data of the present column strobe are valid.
    pub(crate) fn valid_at(&self, timing: &Timing) -> u64 {
        (self.row_at + timing.access).max(self.column_at + timing.column)
    }

    fn refresh(&mut self, row: u32, cells: &mut Cells, seed: u64, now: u64) {
        let groups = self.refreshed.len() as u32;
        let group = row % groups;
        let last = std::mem::replace(&mut self.refreshed[group as usize], now);
        let elapsed = now - last;
        for &(cell, after) in &self.leaky {
            let row = self.geometry.row(cell.address);
            if row % groups == group && elapsed >= after {
                cells.discharge(cell.address, 1 << cell.bit, self.discharged(row));
            }
        }
        if elapsed < self.good_ns {
            return;
        }
        for row in (group..self.geometry.rows()).step_by(groups as usize) {
            let to = self.discharged(row);
            for column in 0..self.geometry.columns() {
                let address = self.geometry.address(row, column);
                let bits = self.faded(address, seed, elapsed);
                if bits != 0 {
                    cells.discharge(address, bits, to);
                }
            }
        }
    }

    /// The bits of a word that have lost their charge after so long.
    fn faded(&self, address: u32, seed: u64, elapsed: u64) -> u32 {
        (0..self.geometry.bits).fold(0, |bits, bit| {
            let dice = mix(mix(seed, address.into()), bit.into()) >> 40;
            let keeps = self.good_ns + ((self.good_ns * dice) >> 24);
            bits | u32::from(elapsed >= keeps) << bit
        })
    }

    /// What an empty cell reads as: on either side of the sense amplifiers the other level.
    fn discharged(&self, row: u32) -> bool {
        row >= self.geometry.rows() / 2
    }
}
