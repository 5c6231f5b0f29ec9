//! Refresh: one row after the other, evenly over the interval.
//!
//! Rows are due at even times. Where the station was busy, those that are due meanwhile follow at
//! once, so no row is later than the station was busy, and the even times leave that much room:
//! each row is refreshed within the interval as long as the station never leaves the memory alone
//! for longer than [`STALL_NS`].

use super::cycle::{self, Placed};
use super::plan::{Plan, Wiring};
use dipsift_pins::Moves;
use dipsift_wire::Refresh;

/// The longest that a station may be busy without [`Engine::tend`](crate::Engine::tend) while a
/// march is open, in nanoseconds.
pub const STALL_NS: u32 = 500_000;
/// For the last operation before a refresh, and ticks that are rounded.
const SPARE_NS: u32 = 50_000;

/// The time from one row to the next, in nanoseconds.
pub(crate) const fn row_ns(interval_ns: u32, rows: u16) -> u32 {
    match interval_ns.saturating_sub(STALL_NS + SPARE_NS).checked_div(rows as u32) {
        Some(ns) => ns,
        None => 0,
    }
}

/// How many rows there are and how far apart they are due.
#[derive(Clone, Copy)]
pub(crate) struct Rows {
    rows: u16,
    ticks: u32,
}

impl Rows {
    pub(crate) fn new<S: Moves>(socket: &S, refresh: &Refresh) -> Self {
        let ticks = socket.prepare_wait(row_ns(refresh.interval_ns, refresh.rows));
        Self { rows: refresh.rows, ticks }
    }
}

/// Which row is next, and when.
#[derive(Clone, Copy, Default)]
pub(crate) struct Refreshing {
    /// `None` while there is no refresh.
    rows: Option<Rows>,
    row: u16,
    /// When the last row was due.
    last: u32,
}

impl Refreshing {
    pub(crate) const fn is_on(&self) -> bool {
        self.rows.is_some()
    }

    /// Starts, with all rows at once; nothing where the memory has no refresh.
    pub(crate) fn start<S: Moves>(&mut self, hardware: &mut S, plan: &Plan<S>, wiring: &Wiring<S>) {
        self.rows = wiring.rows;
        let Some(Rows { rows, .. }) = self.rows else { return };
        self.row = 0;
        self.last = hardware.ticks();
        for row in 0..rows {
            refresh_row(hardware, plan, wiring, row);
        }
    }

    /// Stops, for a memory that is left alone on purpose.
    pub(crate) const fn stop(&mut self) {
        self.rows = None;
    }

    /// Refreshes what is due.
    #[inline(always)]
    pub(crate) fn tend<S: Moves>(&mut self, hardware: &mut S, plan: &Plan<S>, wiring: &Wiring<S>) {
        let Some(Rows { rows, ticks }) = self.rows else { return };
        while hardware.ticks().wrapping_sub(self.last) >= ticks {
            self.last = self.last.wrapping_add(ticks);
            refresh_row(hardware, plan, wiring, self.row);
            self.row = if self.row + 1 >= rows { 0 } else { self.row + 1 };
        }
    }
}

#[inline(never)]
fn refresh_row<S: Moves>(hardware: &mut S, plan: &Plan<S>, wiring: &Wiring<S>, row: u16) {
    let placed = Placed::<S> { first: plan.tables.whole(row.into()), second: S::NO_LEVELS };
    cycle::run(hardware, &plan.refresh, wiring, &placed, &S::NO_LEVELS);
}
