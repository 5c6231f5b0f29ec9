//! Addresses as port words.

use crate::Package;
use dipsift_pins::Moves;
use dipsift_wire::Pins;
use heapless::Vec;

/// How many bits of an address the first two tables have each.
const BITS: u32 = 8;
/// How many entries they have.
pub(crate) const ENTRIES: u32 = 1 << BITS;
const FULL: usize = ENTRIES as usize;
/// What is left of 20 bits.
const LAST: usize = 1 << 4;

/// The words of every address, in three parts. Lists, since arrays would have to be written when
/// they are made.
pub(crate) struct Tables<S: Moves> {
    low: Vec<S::Levels, FULL>,
    middle: Vec<S::Levels, FULL>,
    high: Vec<S::Levels, LAST>,
}

impl<S: Moves> Tables<S> {
    #[inline(always)]
    pub(crate) const fn new() -> Self {
        Self { low: Vec::new(), middle: Vec::new(), high: Vec::new() }
    }

    /// Fills the tables for these address pins, least significant first.
    pub(crate) fn fill(&mut self, socket: &S, package: Package, address: &[u8]) {
        let mut parts = address.chunks(BITS as usize);
        part(&mut self.low, socket, package, parts.next().unwrap_or_default());
        part(&mut self.middle, socket, package, parts.next().unwrap_or_default());
        part(&mut self.high, socket, package, parts.next().unwrap_or_default());
    }

    /// The words of the lowest eight bits at some addresses in a row, the first or, downwards, the
    /// last of which is given; in ascending order. None where they pass the end of the table.
    pub(crate) fn low(&self, first: u32, count: u32, down: bool) -> &[S::Levels] {
        let first = first % ENTRIES;
        let start = if down { (first + 1).wrapping_sub(count) } else { first };
        let range = start as usize..start.wrapping_add(count) as usize;
        self.low.get(range).unwrap_or_default()
    }

    /// The words of all other bits.
    #[inline(always)]
    pub(crate) fn upper(&self, value: u32) -> S::Levels {
        let rest = value as usize / FULL;
        let middle = entry::<S>(&self.middle, rest % FULL);
        S::join(middle, entry::<S>(&self.high, rest / FULL % LAST))
    }

    /// The words of all bits.
    #[inline(always)]
    pub(crate) fn whole(&self, value: u32) -> S::Levels {
        S::join(entry::<S>(&self.low, value as usize % FULL), self.upper(value))
    }
}

/// Fills one table: the words of every value of these pins.
fn part<S: Moves, const N: usize>(
    table: &mut Vec<S::Levels, N>,
    socket: &S,
    package: Package,
    pins: &[u8],
) {
    let positions = package.positions(pins.iter().copied().collect());
    table.clear();
    for value in 0..N as u32 {
        let high = package.positions(word_pins(value, pins));
        // As many as there is room for.
        let _ = table.push(socket.prepare_levels(positions, high));
    }
}

#[inline(always)]
fn entry<S: Moves>(table: &[S::Levels], index: usize) -> S::Levels {
    table.get(index).copied().unwrap_or(S::NO_LEVELS)
}

/// The pins at which a word has ones; bit n is the n-th pin.
pub(crate) fn word_pins(word: u32, pins: &[u8]) -> Pins {
    let bits = (0..u32::BITS).zip(pins);
    bits.filter(|(bit, _)| word >> bit & 1 == 1).map(|(_, &pin)| pin).collect()
}
