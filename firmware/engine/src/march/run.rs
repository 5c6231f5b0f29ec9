//! A piece of a march.

use super::cycle::{self, Placed};
use super::plan::{Plan, Wiring};
use super::progress::{Phase, Progress};
use crate::tally::Tally;
use crate::{Hardware, Package};
use dipsift_pins::Nanoseconds;
use dipsift_wire::{Element, Ended, MAX_MISSES, MAX_OPERATIONS, MAX_WORDS, Miss, Order};
use heapless::Vec;

/// How long a piece takes at most, but for the chunk that has begun.
const PIECE_NS: u32 = 50_000_000;
/// How long a pause waits at a time.
const SLICE_NS: u32 = 50_000;

/// A march on its way.
pub(super) struct Run<'a, H: Hardware> {
    pub(super) hardware: &'a mut H,
    pub(super) plan: &'a Plan<H>,
    pub(super) wiring: &'a Wiring<H>,
    pub(super) progress: &'a mut Progress,
    pub(super) tally: &'a mut Tally,
    pub(super) misses: &'a mut Vec<Miss, MAX_MISSES>,
    pub(super) package: Package,
}

impl<H: Hardware> Run<'_, H> {
    /// Runs until the march ends, the time is over or another address might miss more often than
    /// there is room for.
    pub(super) fn piece(&mut self) -> Option<Ended> {
        let piece = self.hardware.prepare_wait(PIECE_NS);
        let start = self.hardware.ticks();
        loop {
            if let Some(ended) = self.trip() {
                return Some(ended);
            }
            if self.tally.failures() >= self.wiring.most_failures {
                return Some(Ended::Failures);
            }
            if self.misses.len() + MAX_OPERATIONS > MAX_MISSES
                || self.hardware.ticks().wrapping_sub(start) >= piece
            {
                return None;
            }
            if self.advance() {
                return Some(Ended::Complete);
            }
        }
    }

    /// Reads words without expecting any.
    pub(super) fn read_out(
        &mut self,
        first: u32,
        words: &mut Vec<u16, MAX_WORDS>,
        count: u16,
    ) -> Option<Ended> {
        if self.progress.is_fresh() {
            self.start_up();
        }
        self.progress.phase = Phase::Reading;
        if let Some(ended) = self.trip() {
            return Some(ended);
        }
        let plan = self.plan;
        let last = first.saturating_add(count.into());
        for address in first..last {
            self.tend();
            let placed = self.placed(address);
            let (stages, none) = (&plan.read, &H::NO_LEVELS);
            let sample = cycle::run(self.hardware, stages, self.wiring, &placed, none);
            // A word that was read while the supply went says nothing.
            if let Some(ended) = self.trip() {
                return Some(ended);
            }
            if let Some(sample) = sample {
                // No more than there is room for.
                let _ = words.push(self.word(&sample));
            }
            self.tally.steps = self.tally.steps.saturating_add(1);
        }
        (last >= self.wiring.words).then_some(Ended::Complete)
    }

    /// Whether the supply has tripped. What the trip has released may have been driven again by the
    /// rest of a write: it is let go at once, before anything is measured.
    fn trip(&mut self) -> Option<Ended> {
        if !self.hardware.tripped() {
            return None;
        }
        self.hardware.release();
        Some(Ended::Tripped { step: self.tally.steps })
    }

    /// The data outputs' levels as a word.
    pub(super) fn word(&self, sample: &H::Sample) -> u16 {
        let levels = self.package.at(self.hardware.high(sample));
        let bits = (0..u16::BITS).zip(&self.plan.data_out);
        bits.filter(|&(_, &pin)| levels.contains(pin)).map(|(bit, _)| 1 << bit).sum()
    }

    /// Does the next little; whether the march is over.
    fn advance(&mut self) -> bool {
        let plan = self.plan;
        match self.progress.phase {
            // Words being read out are never asked to proceed.
            Phase::Fresh | Phase::Reading => {
                self.start_up();
                self.progress.phase = Phase::Element;
            }
            Phase::Element => match plan.elements.get(usize::from(self.progress.element)) {
                Some(element) => self.begin(element),
                None => {
                    self.progress.element = 0;
                    self.progress.background += 1;
                    return usize::from(self.progress.background) >= plan.backgrounds.len();
                }
            },
            Phase::Addresses { next, left, down } => {
                let count = self.chunk(next, left, down);
                let left = left - count;
                let next = if down { next.wrapping_sub(count) } else { next.wrapping_add(count) };
                self.progress.phase = Phase::Addresses { next, left, down };
                if left == 0 {
                    self.end_element();
                }
            }
            Phase::Pause { until } => {
                let left = until.since(self.hardware.now()).0;
                let slice = left.min(SLICE_NS.into()) as u32;
                self.hardware.delay_ns(slice);
                self.tend();
                if left <= u64::from(slice) {
                    if !self.progress.refresh.is_on() {
                        self.progress.refresh.start(self.hardware, plan, self.wiring);
                    }
                    self.end_element();
                }
            }
        }
        false
    }

    /// From a chip that has just been powered to the first operation.
    fn start_up(&mut self) {
        self.hardware.apply(&self.wiring.idle);
        self.hardware.keep(self.wiring.keepers);
        // Between the last look and here, too.
        if self.hardware.tripped() {
            return self.hardware.release();
        }
        self.hardware.delay_us(self.wiring.start.pause_us);
        let plan = self.plan;
        let stages = if self.wiring.rows.is_some() { &plan.refresh } else { &plan.read };
        let first = plan.tables.whole(0);
        let placed = Placed { first, second: first };
        for _ in 0..self.wiring.start.cycles {
            cycle::run(self.hardware, stages, self.wiring, &placed, &H::NO_LEVELS);
        }
        self.progress.refresh.start(self.hardware, plan, self.wiring);
    }

    fn begin(&mut self, element: &Element) {
        self.progress.phase = match *element {
            Element::Each { order, .. } => {
                let down = match order {
                    Order::Up => false,
                    Order::Down => true,
                    Order::Any => self.wiring.any_down,
                };
                let words = self.wiring.words;
                let next = if down { words.saturating_sub(1) } else { 0 };
                Phase::Addresses { next, left: words, down }
            }
            Element::Pause { ms, refresh } => {
                if !refresh {
                    // All rows at once, so that none goes without for longer than the pause.
                    self.progress.refresh.start(self.hardware, self.plan, self.wiring);
                    self.progress.refresh.stop();
                }
                let now = self.hardware.now().0;
                Phase::Pause { until: Nanoseconds(now + Nanoseconds::from_millis(ms.into()).0) }
            }
        };
    }

    fn end_element(&mut self) {
        self.progress.element += 1;
        self.progress.phase = Phase::Element;
    }

    /// Refreshes what is due.
    #[inline(always)]
    pub(super) fn tend(&mut self) {
        self.progress.refresh.tend(self.hardware, self.plan, self.wiring);
    }
}
