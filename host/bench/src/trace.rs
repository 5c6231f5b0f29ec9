//! A user's own stimulus, played on the chip.

use crate::preflight::Finding;
use crate::seen::levels;
use crate::{Bench, Prepared, Stimulus};
use dipsift_generator::{Expected, TraceRefused};
use dipsift_link::{LinkError, Transport};
use dipsift_wire::Ended;
use serde::Serialize;
use thiserror::Error;

/// What one row showed: levels `H`, `L`, `Z` and `X`, in the order of [`Trace::pins`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TraceRow {
    /// What was seen. `Z` followed the keeper both ways; `X` neither held nor followed.
    pub seen: String,
    /// What the description says. `X` is not known.
    pub expected: String,
}

/// A played stimulus.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Trace {
    /// The signal pins, ascending.
    pub pins: Vec<u8>,
    /// Every row.
    pub rows: Vec<TraceRow>,
    /// How many cells show another level than the description says, where it says one.
    pub differing: usize,
}

/// Why a stimulus was not played to its end.
#[derive(Debug, Error)]
pub enum TraceError {
    /// A row would drive an enabled output, or break another rule of the part.
    #[error("row {row}: {reason}")]
    Refused {
        /// The row, counted from 0 like the `step` column.
        row: usize,
        /// Why.
        reason: String,
    },
    /// The look before power did not end well.
    #[error("the chip is not ready: {0:?}")]
    NotReady(Finding),
    /// The supply tripped.
    #[error("the supply tripped")]
    Tripped,
    /// The tester or its link failed.
    #[error(transparent)]
    Link(#[from] LinkError),
}

impl<T: Transport> Bench<T> {
    /// Plays a stimulus on the chip in the socket.
    pub fn trace(&mut self, prepared: &Prepared, stimulus: &Stimulus) -> Result<Trace, TraceError> {
        if prepared.memory.is_some() {
            return Err(TraceError::Refused {
                row: 0,
                reason: "a memory is marched by `check`, not traced".into(),
            });
        }
        let plan = dipsift_generator::trace(
            &prepared.part,
            &prepared.package,
            &prepared.conditions,
            &stimulus.rows,
        )
        .map_err(|TraceRefused { row, reason }| TraceError::Refused {
            row,
            reason: reason.to_string(),
        })?;
        match self.look(prepared)? {
            Finding::Ready => {}
            other => return Err(TraceError::NotReady(other)),
        }
        let mut header = prepared.header(false);
        header.settle_ns = header.settle_ns.max(plan.settle_ns);
        header.keeper_ns = header.keeper_ns.max(plan.keeper_ns);
        let run = self.link().run(&header, &plan.steps)?;
        if run.summary.ended != Ended::Complete {
            return Err(TraceError::Tripped);
        }
        let rows: Vec<TraceRow> = levels(&run.seen)
            .chunks_exact(2)
            .zip(&plan.expected)
            .map(|(pair, expected)| TraceRow {
                seen: plan
                    .pins
                    .iter()
                    .map(|&pin| seen(pair[0].contains(pin), pair[1].contains(pin)))
                    .collect(),
                expected: expected.iter().map(|&level| letter(level)).collect(),
            })
            .collect();
        let differing = rows
            .iter()
            .flat_map(|row| row.seen.chars().zip(row.expected.chars()))
            .filter(|(seen, expected)| *expected != 'X' && seen != expected)
            .count();
        Ok(Trace { pins: plan.pins, rows, differing })
    }
}

/// The level that a pin showed with the keeper high, then low.
const fn seen(with_high: bool, with_low: bool) -> char {
    match (with_high, with_low) {
        (true, true) => 'H',
        (false, false) => 'L',
        (true, false) => 'Z',
        (false, true) => 'X',
    }
}

const fn letter(level: Expected) -> char {
    match level {
        Expected::High => 'H',
        Expected::Low => 'L',
        Expected::Released => 'Z',
        Expected::Unknown => 'X',
    }
}
