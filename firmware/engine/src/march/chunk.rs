//! Some addresses in a row: the inner loop.

use super::cycle::{self, Placed, Quick};
use super::plan::Background;
use super::run::Run;
use crate::Hardware;
use crate::tally::Miss as Levels;
use dipsift_wire::{Element, MAX_MISSES, MAX_OPERATIONS, Miss, Operation, Pins};

/// The most addresses before the next look at trips, time and room.
pub(super) const CHUNK: u32 = 32;

/// A read that failed, and where.
struct Failed<S> {
    sample: S,
    operation: usize,
    address: u32,
    inverted: bool,
}

impl<H: Hardware> Run<'_, H> {
    /// Runs the element's operations at the next addresses; yields at how many. It stops early
    /// where another address might miss more often than there is room for.
    pub(super) fn chunk(&mut self, next: u32, left: u32, down: bool) -> u32 {
        let plan = self.plan;
        let element = plan.elements.get(usize::from(self.progress.element));
        let background = plan.backgrounds.get(usize::from(self.progress.background));
        let (Some(Element::Each { operations, .. }), Some(background)) = (element, background)
        else {
            // The phase is entered for such an element only.
            return left;
        };
        let reach = Self::reach(next, left, down);
        let step = if down { u32::MAX } else { 1 };
        let count = match &self.wiring.quick {
            Some(quick) => self.quick(quick, operations, background, next, step, reach),
            None => self.general(operations, background, next, step, reach),
        };
        let steps = count.saturating_mul(operations.len() as u32);
        self.tally.steps = self.tally.steps.saturating_add(steps);
        count
    }

    /// The usual cycles of a static memory.
    #[inline(never)]
    fn quick(
        &mut self,
        quick: &Quick<H>,
        operations: &[Operation],
        background: &Background<H>,
        first: u32,
        step: u32,
        reach: u32,
    ) -> u32 {
        let plan = self.plan;
        let Some(low) = plan.tables.low() else { return reach };
        self.hardware.set(&plan.tables.upper(first));
        let mut address = first;
        let mut reach = reach;
        let mut left = reach;
        while left != 0 {
            self.hardware.set(&low[address as usize % low.len()]);
            let mut rest = operations;
            while let [operation, after @ ..] = rest {
                let inverted = operation.inverts();
                if operation.writes() {
                    let data = &background.data[usize::from(inverted)];
                    quick.write(self.hardware, self.wiring, data);
                } else {
                    let sample = quick.read(self.hardware);
                    let compare = &background.compare[usize::from(inverted)];
                    if !self.hardware.agrees(&sample, compare) {
                        let operation = operations.len().wrapping_sub(rest.len());
                        let failed = Failed { sample, operation, address, inverted };
                        if self.miss(background, failed) {
                            // This address is the last.
                            reach -= left.saturating_sub(1);
                            left = 1;
                        }
                    }
                }
                rest = after;
            }
            address = address.wrapping_add(step);
            left = left.wrapping_sub(1);
        }
        reach
    }

    /// Cycles of any form, with refresh between them.
    #[inline(never)]
    fn general(
        &mut self,
        operations: &[Operation],
        background: &Background<H>,
        first: u32,
        step: u32,
        reach: u32,
    ) -> u32 {
        let plan = self.plan;
        let mut address = first;
        let mut reach = reach;
        let mut left = reach;
        while left != 0 {
            let placed = self.placed(address);
            for (index, operation) in operations.iter().enumerate() {
                self.tend();
                let inverted = operation.inverts();
                let data = &background.data[usize::from(inverted)];
                let stages = if operation.writes() { &plan.write } else { &plan.read };
                let sample = cycle::run(self.hardware, stages, self.wiring, &placed, data);
                let compare = &background.compare[usize::from(inverted)];
                if let Some(sample) = sample
                    && !self.hardware.agrees(&sample, compare)
                {
                    let failed = Failed { sample, operation: index, address, inverted };
                    if self.miss(background, failed) {
                        reach -= left.saturating_sub(1);
                        left = 1;
                    }
                }
            }
            address = address.wrapping_add(step);
            left = left.wrapping_sub(1);
        }
        reach
    }

    #[inline(always)]
    fn placed(&self, address: u32) -> Placed<H> {
        let tables = &self.plan.tables;
        match self.wiring.column_bits {
            None => Placed { first: tables.whole(address), second: H::NO_LEVELS },
            Some(bits) => {
                let bits = u32::from(bits);
                let row = address.checked_shr(bits).unwrap_or(0);
                let column = address & 1_u32.checked_shl(bits).unwrap_or(0).wrapping_sub(1);
                Placed { first: tables.whole(row), second: tables.whole(column) }
            }
        }
    }

    /// Whether the failures are too many for another address or for the march.
    fn is_full(&self) -> bool {
        self.misses.len() + MAX_OPERATIONS > MAX_MISSES
            || self.tally.failures() >= self.wiring.most_failures
    }

    /// Notes a failing read; whether this address must be the last.
    #[cold]
    #[inline(never)]
    fn miss(&mut self, background: &Background<H>, failed: Failed<H::Sample>) -> bool {
        let Failed { sample, operation, address, inverted } = failed;
        let compare = &background.compare[usize::from(inverted)];
        let package = self.package;
        let differing = package.at(self.hardware.differing(&sample, compare));
        let levels = package.at(self.hardware.high(&sample));
        let bits = (0..u16::BITS).zip(&self.plan.data_out);
        let seen = bits.filter(|&(_, &pin)| levels.contains(pin)).map(|(bit, _)| 1 << bit).sum();
        let miss = Miss {
            element: self.progress.element,
            operation: operation as u8,
            background: self.progress.background,
            address,
            seen,
        };
        self.tally.miss(
            &Levels {
                differing,
                expected: background.expected[usize::from(inverted)],
                seen: Pins(levels.0 & self.wiring.outputs.0),
                held: false,
            },
            miss.place(),
        );
        // There is room for all operations at an address.
        let _ = self.misses.push(miss);
        self.is_full()
    }
}
