//! Some addresses in a row: the inner loop.

use super::cycle::{self, Placed, Quick};
use super::plan::Background;
use super::run::Run;
use super::tables::ENTRIES;
use crate::Hardware;
use crate::tally::Miss as Levels;
use core::hint::black_box;
use dipsift_pins::Moves;
use dipsift_wire::{Element, MAX_MISSES, MAX_OPERATIONS, Miss, Operation, Pins};
use heapless::Vec;

/// The most addresses before the next look at time and room.
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

/// An operation with the words that it needs, so that the inner loop looks nothing up.
enum Due<'b, S: Moves> {
    Read(&'b S::Compare),
    Write(&'b S::Levels),
}

impl<'b, S: Moves> Due<'b, S> {
    fn new(operation: Operation, background: &'b Background<S>) -> Self {
        let inverted = usize::from(operation.inverts());
        if operation.writes() {
            Self::Write(&background.data[inverted])
        } else {
            Self::Read(&background.compare[inverted])
        }
    }
}

/// What a loop works on.
struct Work<'w, S: Moves> {
    quick: &'w Quick<S>,
    background: &'w Background<S>,
    piece: Piece,
}

impl<S: Moves> Work<'_, S> {
    /// How many addresses have begun with so many places left. Where one was the last already,
    /// `done` says how many, and no place is left.
    fn done(&self, done: u32, places: usize) -> u32 {
        done.min(self.piece.count.wrapping_sub(places as u32))
    }
}

impl<H: Hardware> Run<'_, H> {
    /// Runs the element's operations at the next addresses; yields at how many. It stops early
    /// where another address might miss more often than there is room for, and where the supply
    /// has tripped: what the trip released must not be driven again at another address.
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
        let mut dues: Vec<Due<'_, H>, MAX_OPERATIONS> = Vec::new();
        for &operation in operations {
            // There is room for all operations of an element.
            let _ = dues.push(Due::new(operation, background));
        }
        let work = Work { quick, background, piece };
        if down {
            self.walk(&work, &dues, places.iter().rev())
        } else {
            self.walk(&work, &dues, places.iter())
        }
    }

    /// Chooses the inner loop: most elements of most marches are a read, a write, or one after the
    /// other.
    #[inline(always)]
    fn walk<'t>(
        &mut self,
        work: &Work<'_, H>,
        dues: &[Due<'_, H>],
        places: impl ExactSizeIterator<Item = &'t H::Levels> + Default,
    ) -> u32
    where
        H::Levels: 't,
    {
        let [compare, _] = &work.background.compare;
        match *dues {
            [Due::Read(compare), Due::Write(data)] => {
                self.short::<true, true>(work, compare, data, places)
            }
            [Due::Read(compare)] => self.short::<true, false>(work, compare, &H::NO_LEVELS, places),
            [Due::Write(data)] => self.short::<false, true>(work, compare, data, places),
            _ => self.words(work, dues, places),
        }
    }

    /// The inner loop for a read, a write, or one after the other.
    #[inline(never)]
    fn short<'t, const READS: bool, const WRITES: bool>(
        &mut self,
        work: &Work<'_, H>,
        compare: &H::Compare,
        data: &H::Levels,
        mut places: impl ExactSizeIterator<Item = &'t H::Levels> + Default,
    ) -> u32
    where
        H::Levels: 't,
    {
        let quick = work.quick;
        let mut done = work.piece.count;
        while let Some(place) = places.next() {
            self.hardware.set(place);
            if READS {
                let sample = quick.read(self.hardware);
                if !self.hardware.agrees(&sample, compare)
                    && let Some(last) = self.missed(work, done, places.len(), sample, (compare, 0))
                {
                    done = last;
                    places = Default::default();
                }
            }
            if WRITES {
                quick.write(self.hardware, data);
            }
            if self.hardware.is_tripped() {
                done = work.done(done, places.len());
                places = Default::default();
            }
        }
        done
    }

    /// The inner loop for any operations.
    #[inline(never)]
    fn words<'t>(
        &mut self,
        work: &Work<'_, H>,
        dues: &[Due<'_, H>],
        mut places: impl ExactSizeIterator<Item = &'t H::Levels> + Default,
    ) -> u32
    where
        H::Levels: 't,
    {
        let quick = work.quick;
        let mut done = work.piece.count;
        while let Some(place) = places.next() {
            self.hardware.set(place);
            let mut left = dues.iter();
            while let Some(due) = left.next() {
                let compare = match due {
                    Due::Write(data) => {
                        quick.write(self.hardware, data);
                        continue;
                    }
                    Due::Read(compare) => *compare,
                };
                let sample = quick.read(self.hardware);
                if self.hardware.agrees(&sample, compare) {
                    continue;
                }
                let operation = dues.len().wrapping_sub(left.len()).wrapping_sub(1);
                let read = (compare, operation);
                if let Some(last) = self.missed(work, done, places.len(), sample, read) {
                    done = last;
                    places = Default::default();
                }
            }
            if self.hardware.is_tripped() {
                done = work.done(done, places.len());
                places = Default::default();
            }
        }
        done
    }

    /// Notes a read that failed, its comparison and its number, with so many places left; yields
    /// the number of addresses where this must be the last.
    #[cold]
    #[inline(never)]
    fn missed(
        &mut self,
        work: &Work<'_, H>,
        done: u32,
        places: usize,
        sample: H::Sample,
        (compare, operation): (&H::Compare, usize),
    ) -> Option<u32> {
        let now = work.done(done, places);
        let address = work.piece.address(now.wrapping_sub(1));
        let inverted = core::ptr::eq(compare, &work.background.compare[1]);
        let failed = Failed { sample, operation, address, inverted };
        self.miss(work.background, failed).then_some(now)
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
        let bits = self.wiring.column_bits.map_or(0, u32::from);
        let columns = 1_u32.checked_shl(bits).unwrap_or(0).wrapping_sub(1);
        let mut placed = self.placed(piece.first);
        for done in 0..piece.count {
            let address = piece.address(done);
            if done > 0 {
                // Most addresses have the row of the one before.
                if (address ^ piece.address(done - 1)) & !columns == 0 {
                    placed.second = plan.tables.whole(address & columns);
                } else {
                    placed = self.placed(address);
                }
            }
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
            if full || self.hardware.is_tripped() {
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
