//! Some addresses in a row: the inner loop.

use super::cycle::{self, Placed, Quick};
use super::plan::Background;
use super::run::Run;
use super::tables::ENTRIES;
use crate::Hardware;
use crate::tally::Miss as Levels;
use core::hint::black_box;
use dipsift_wire::{Element, MAX_MISSES, MAX_OPERATIONS, Miss, Operation, Pins};

/// The most addresses before the next look at trips, time and room.
const CHUNK: u32 = 64;

/// Some addresses in a row, within one table of addresses, so that its upper part stands still.
#[derive(Clone, Copy)]
struct Piece {
    first: u32,
    count: u32,
    down: bool,
}

impl Piece {
    /// The next of so many addresses that are left.
    fn new(first: u32, left: u32, down: bool) -> Self {
        let low = first % ENTRIES;
        let here = if down { low + 1 } else { ENTRIES - low };
        Self { first, count: left.min(here).min(CHUNK), down }
    }

    /// The address after so many.
    #[inline(always)]
    const fn address(&self, done: u32) -> u32 {
        if self.down { self.first.wrapping_sub(done) } else { self.first.wrapping_add(done) }
    }
}

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
        let piece = Piece::new(next, left, down);
        let count = match &self.wiring.quick {
            Some(quick) => self.quick(quick, operations, background, piece),
            None => self.general(operations, background, piece),
        };
        let steps = count.saturating_mul(operations.len() as u32);
        self.tally.steps = self.tally.steps.saturating_add(steps);
        count
    }

    /// The usual cycles of a static memory, upwards or downwards through one table.
    fn quick(
        &mut self,
        quick: &Quick<H>,
        operations: &[Operation],
        background: &Background<H>,
        piece: Piece,
    ) -> u32 {
        let Piece { first, count, down } = piece;
        let plan = self.plan;
        self.hardware.set(&plan.tables.upper(first));
        let places = plan.tables.low(first, count, down);
        // The compiler knows where the station stands in memory, and would rather make the address
        // anew at each use than keep it.
        let quick = black_box(quick);
        if down {
            self.words(quick, operations, background, piece, places.iter().rev())
        } else {
            self.words(quick, operations, background, piece, places.iter())
        }
    }

    /// The inner loop.
    #[inline(never)]
    fn words<'t>(
        &mut self,
        quick: &Quick<H>,
        operations: &[Operation],
        background: &Background<H>,
        piece: Piece,
        mut places: impl ExactSizeIterator<Item = &'t H::Levels> + Default,
    ) -> u32
    where
        H::Levels: 't,
    {
        let mut done = piece.count;
        while let Some(place) = places.next() {
            if self.hardware.is_tripped() {
                // The piece ends before it drives anything again.
                return piece.count.wrapping_sub(places.len() as u32).wrapping_sub(1);
            }
            self.hardware.set(place);
            let mut rest = operations;
            while let [operation, after @ ..] = rest {
                let inverted = operation.inverts();
                if operation.writes() {
                    quick.write(self.hardware, &background.data[usize::from(inverted)]);
                } else {
                    let sample = quick.read(self.hardware);
                    let compare = &background.compare[usize::from(inverted)];
                    if !self.hardware.agrees(&sample, compare) {
                        let operation = operations.len().wrapping_sub(rest.len());
                        // Where it is full already, `done` stands still and no place is left.
                        let now = done.min(piece.count.wrapping_sub(places.len() as u32));
                        let address = piece.address(now.wrapping_sub(1));
                        let failed = Failed { sample, operation, address, inverted };
                        if self.miss(background, failed) {
                            // Without more places, this is the last.
                            places = Default::default();
                            done = now;
                        }
                    }
                }
                rest = after;
            }
        }
        done
    }

    /// Cycles of any form, with refresh between them.
    #[inline(never)]
    fn general(
        &mut self,
        operations: &[Operation],
        background: &Background<H>,
        piece: Piece,
    ) -> u32 {
        let plan = self.plan;
        for done in 0..piece.count {
            if self.hardware.is_tripped() {
                return done;
            }
            let address = piece.address(done);
            let placed = self.placed(address);
            let mut full = false;
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
                    full = self.miss(background, failed);
                }
            }
            if full {
                return done + 1;
            }
        }
        piece.count
    }

    #[inline(always)]
    pub(super) fn placed(&self, address: u32) -> Placed<H> {
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
        let miss = Miss {
            element: self.progress.element,
            operation: operation as u8,
            background: self.progress.background,
            address,
            seen: self.word(&sample),
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
