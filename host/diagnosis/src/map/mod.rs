//! Where a memory fails: cell by cell, as it lies on the chip where that is known.

mod grid;
mod png;
mod scene;
mod svg;
mod terminal;

pub use png::NotDrawn;

use crate::cause::Cell;
use crate::evidence::{Evidence, Observation, Unfit};
use crate::shape::{Arrangement, Known, Shape};
use dipsift_wire::{Element, Operation};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How a cell fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Reads {
    /// 0 where it should read 1.
    ZeroForOne,
    /// 1 where it should read 0.
    OneForZero,
    /// Both.
    Both,
    /// Only where a pause came between the last write and the read.
    AfterPause,
}

impl Reads {
    pub(crate) const ALL: [Self; 4] =
        [Self::ZeroForOne, Self::OneForZero, Self::Both, Self::AfterPause];

    pub(crate) const fn legend(self) -> &'static str {
        match self {
            Self::ZeroForOne => "reads 0 for 1",
            Self::OneForZero => "reads 1 for 0",
            Self::Both => "reads both wrong",
            Self::AfterPause => "fails after a pause only",
        }
    }
}

/// A failing cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Failing {
    row: u32,
    /// The column within the array of its bit.
    column: u32,
    bit: u8,
    reads: Reads,
}

/// The failing cells of a memory.
#[derive(Clone, Debug)]
pub struct Map {
    number: String,
    words: u32,
    bits: u8,
    arrangement: Arrangement,
    address_names: Vec<String>,
    data_names: Vec<String>,
    counts: BTreeMap<Cell, u32>,
    failing: Vec<Failing>,
    cut: bool,
}

impl Map {
    /// Draws up the map.
    ///
    /// # Errors
    ///
    /// The failing reads are not those of this march on this memory.
    pub fn of(shape: &Shape, observation: &Observation<'_>) -> Result<Self, Unfit> {
        let evidence = Evidence::new(shape, observation)?;
        let arrangement = shape.arrangement();
        let paused = paused(&evidence);
        let mut counts = BTreeMap::new();
        let mut failing = Vec::new();
        for address in 0..shape.words {
            let kind = evidence.kind(address);
            let bits = kind.bits();
            for bit in (0..shape.bits()).filter(|bit| bits >> bit & 1 == 1) {
                let (mut count, mut zero, mut one, mut only_paused) = (0, false, false, true);
                for &(read, wrong) in kind.wrong.iter().filter(|at| at.1 >> bit & 1 == 1) {
                    let read = usize::from(read);
                    let expected = evidence.reads[read].expected >> bit & 1 == 1;
                    debug_assert_ne!(wrong, 0);
                    count += 1;
                    zero |= expected;
                    one |= !expected;
                    only_paused &= paused[read];
                }
                let reads = match (only_paused, zero, one) {
                    (true, _, _) => Reads::AfterPause,
                    (false, true, true) => Reads::Both,
                    (false, true, false) => Reads::ZeroForOne,
                    (false, false, _) => Reads::OneForZero,
                };
                counts.insert(Cell { address, bit }, count);
                let (row, column) = (arrangement.row_of(address), arrangement.column_of(address));
                failing.push(Failing { row, column, bit, reads });
            }
        }
        Ok(Self {
            number: shape.number.clone(),
            words: shape.words,
            bits: shape.bits(),
            arrangement,
            address_names: shape.address.iter().map(|line| line.pin_name.clone()).collect(),
            data_names: shape.data.iter().map(|line| line.output.clone()).collect(),
            counts,
            failing,
            cut: observation.extent == crate::evidence::Extent::Cut,
        })
    }

    /// How often each failing cell was read wrong.
    pub fn counts(&self) -> &BTreeMap<Cell, u32> {
        &self.counts
    }

    /// "6264, 8192 x 8: 3 cells fail".
    fn title(&self) -> String {
        let count = self.failing.len();
        let fail = if count == 1 { "cell fails" } else { "cells fail" };
        let cut = if self.cut { ", the march was ended early" } else { "" };
        format!("{}, {} x {}: {count} {fail}{cut}", self.number, self.words, self.bits)
    }

    /// The address bits of an axis, most significant first, and what they are.
    fn axis(&self, bits: &[u8]) -> String {
        let names: Vec<&str> = bits
            .iter()
            .rev()
            .map(|&bit| self.address_names.get(usize::from(bit)).map_or("", String::as_str))
            .collect();
        names.join(" ")
    }

    fn rows_axis(&self) -> String {
        format!("rows by {}{}", self.axis(&self.arrangement.row), self.order())
    }

    fn columns_axis(&self) -> String {
        format!("columns by {}{}", self.axis(&self.arrangement.column), self.order())
    }

    fn order(&self) -> &'static str {
        match self.arrangement.known {
            Known::Physical => " (physical order)",
            Known::Strobed => " (as strobed)",
            Known::Logical => " (by address; the physical order is not known)",
        }
    }
}

/// By read, whether a pause came between the last write and it.
fn paused(evidence: &Evidence<'_>) -> Vec<bool> {
    let mut paused = Vec::new();
    let mut since = false;
    for _ in evidence.observation.backgrounds {
        for element in evidence.observation.elements {
            match element {
                Element::Pause { .. } => since = true,
                Element::Each { operations, .. } => {
                    for operation in operations {
                        match operation {
                            Operation::R0 | Operation::R1 => paused.push(since),
                            Operation::W0 | Operation::W1 => since = false,
                        }
                    }
                }
            }
        }
    }
    paused
}
