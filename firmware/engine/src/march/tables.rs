//! Addresses as port words.

use crate::Package;
use dipsift_pins::Moves;
use dipsift_wire::Pins;
use heapless::Vec;

/// How many bits of an address the first two tables have each.
const BITS: usize = 8;
const ENTRIES: usize = 1 << BITS;
/// What is left of 20 bits.
const LAST: usize = 1 << 4;

/// The words of every address, in three parts. Lists, since arrays would have to be written when
/// they are made.
pub(crate) struct Tables<S: Moves> {
    low: Vec<S::Levels, ENTRIES>,
    middle: Vec<S::Levels, ENTRIES>,
    high: Vec<S::Levels, LAST>,
}

impl<S: Moves> Tables<S> {
    #[inline(always)]
    pub(crate) const fn new() -> Self {
        Self { low: Vec::new(), middle: Vec::new(), high: Vec::new() }
    }

    /// Fills the tables for these address pins, least significant first.
    pub(crate) fn fill(&mut self, socket: &S, package: Package, address: &[u8]) {
        let mut parts = address.chunks(BITS);
        part(&mut self.low, socket, package, parts.next().unwrap_or_default());
        part(&mut self.middle, socket, package, parts.next().unwrap_or_default());
        part(&mut self.high, socket, package, parts.next().unwrap_or_default());
    }

    /// The words of the lowest eight bits, each at its value.
    #[inline(always)]
    pub(crate) fn low(&self) -> Option<&[S::Levels; ENTRIES]> {
        self.low.as_slice().try_into().ok()
    }

    /// The words of all other bits.
    #[inline(always)]
    pub(crate) fn upper(&self, value: u32) -> S::Levels {
        let rest = value as usize / ENTRIES;
        let middle = entry::<S>(&self.middle, rest % ENTRIES);
        S::join(middle, entry::<S>(&self.high, rest / ENTRIES % LAST))
    }

    /// The words of all bits.
    #[inline(always)]
    pub(crate) fn whole(&self, value: u32) -> S::Levels {
        S::join(entry::<S>(&self.low, value as usize % ENTRIES), self.upper(value))
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
