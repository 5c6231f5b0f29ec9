//! The reads that failed, by address.

use crate::cause::Cell;
use crate::shape::Shape;
use dipsift_wire::{Element, Miss, Operation, Order};
use std::collections::HashMap;
use thiserror::Error;

/// How much of the march the failing reads are from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// All of it.
    Whole,
    /// Its beginning, up to the last failing read that is given: none before it is missing.
    Cut,
}

/// What a run with more time between address and sample showed: reads that are right then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slow {
    /// All of the chip.
    Chip,
    /// One cell.
    Cell(Cell),
}

/// A march and its failing reads, in the order in which they came.
#[derive(Clone, Copy, Debug)]
pub struct Observation<'a> {
    /// The data backgrounds.
    pub backgrounds: &'a [u16],
    /// The march, which ran once for each background.
    pub elements: &'a [Element],
    /// Whether elements of either order ran downwards.
    pub any_down: bool,
    /// The failing reads.
    pub misses: &'a [Miss],
    /// Whether these are all.
    pub extent: Extent,
    /// What is known to be right with more time.
    pub slow: &'a [Slow],
}

/// Why failing reads are not those of this march on this memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum Unfit {
    /// The memory has no word or no bit, more than 16 bits, fewer address bits than its words
    /// need, or more than 2^20 words.
    #[error("the shape of the memory is not possible")]
    Shape,
    /// A failing read is at no read of the march, at no address of the memory, shows more bits
    /// than a word has, or saw what it should.
    #[error("failing read {index} is not one of this march")]
    Miss {
        /// Its place in the list.
        index: usize,
    },
    /// The failing reads are not in the order in which the march runs.
    #[error("failing read {index} comes too early")]
    Order {
        /// The place in the list.
        index: usize,
    },
}

/// The reads of a march in their order: one for each background and read operation.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Read {
    pub(crate) background: u8,
    pub(crate) element: u8,
    pub(crate) operation: u8,
    /// The word to be seen.
    pub(crate) expected: u16,
}

/// All addresses that failed alike and could be observed as long.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Kind {
    /// The failing reads by number, with the wrong bits.
    pub(crate) wrong: Vec<(u16, u16)>,
    /// How many reads of the address are known.
    pub(crate) known: u16,
}

impl Kind {
    /// The bits that fail anywhere.
    pub(crate) fn bits(&self) -> u16 {
        self.wrong.iter().fold(0, |bits, (_, wrong)| bits | wrong)
    }

    pub(crate) fn wrong_at(&self, read: u16) -> u16 {
        self.wrong.binary_search_by_key(&read, |at| at.0).map_or(0, |at| self.wrong[at].1)
    }
}

/// The failing reads, sorted.
pub(crate) struct Evidence<'a> {
    pub(crate) shape: &'a Shape,
    pub(crate) observation: &'a Observation<'a>,
    pub(crate) reads: Vec<Read>,
    pub(crate) kinds: Vec<Kind>,
    /// By address.
    pub(crate) kind_of: Vec<u32>,
    /// By address, the bits whose failures have their cause.
    pub(crate) explained: Vec<u16>,
}

pub(crate) fn is_down(order: Order, any_down: bool) -> bool {
    match order {
        Order::Up => false,
        Order::Down => true,
        Order::Any => any_down,
    }
}

fn reads_of(shape: &Shape, observation: &Observation<'_>) -> Vec<Read> {
    let mut reads = Vec::new();
    for (background, &word) in observation.backgrounds.iter().enumerate() {
        for (element, each) in observation.elements.iter().enumerate() {
            let Element::Each { operations, .. } = each else { continue };
            for (operation, &what) in operations.iter().enumerate() {
                let expected = match what {
                    Operation::R0 => word,
                    Operation::R1 => !word & shape.mask(),
                    Operation::W0 | Operation::W1 => continue,
                };
                reads.push(Read {
                    background: background as u8,
                    element: element as u8,
                    operation: operation as u8,
                    expected,
                });
            }
        }
    }
    reads
}

impl<'a> Evidence<'a> {
    pub(crate) fn new(shape: &'a Shape, observation: &'a Observation<'a>) -> Result<Self, Unfit> {
        let bits = shape.data.len();
        if bits == 0
            || bits > dipsift_wire::MAX_WIDTH
            || shape.words == 0
            || shape.words > 1 << dipsift_wire::MAX_ADDRESS
            || shape.address.len() < usize::from(shape.address_bits())
        {
            return Err(Unfit::Shape);
        }
        let reads = reads_of(shape, observation);
        let numbers: HashMap<(u8, u8, u8), u16> = reads
            .iter()
            .enumerate()
            .map(|(number, read)| ((read.background, read.element, read.operation), number as u16))
            .collect();
        let mut wrong: HashMap<u32, Vec<(u16, u16)>> = HashMap::new();
        let mut last = None;
        for (index, miss) in observation.misses.iter().enumerate() {
            let number = numbers.get(&(miss.background, miss.element, miss.operation));
            let Some(&number) = number else { return Err(Unfit::Miss { index }) };
            let bits = miss.seen ^ reads[usize::from(number)].expected;
            if miss.address >= shape.words || bits == 0 || miss.seen & !shape.mask() != 0 {
                return Err(Unfit::Miss { index });
            }
            let down = match observation.elements[usize::from(miss.element)] {
                Element::Each { order, .. } => is_down(order, observation.any_down),
                Element::Pause { .. } => false,
            };
            let at = if down { shape.words - 1 - miss.address } else { miss.address };
            let now = (miss.background, miss.element, at, miss.operation);
            if last.is_some_and(|last| last >= now) {
                return Err(Unfit::Order { index });
            }
            last = Some(now);
            wrong.entry(miss.address).or_default().push((number, bits));
        }
        let mut this = Self {
            shape,
            observation,
            reads,
            kinds: Vec::new(),
            kind_of: Vec::new(),
            explained: vec![0; shape.words as usize],
        };
        let mut numbers: HashMap<Kind, u32> = HashMap::new();
        for address in 0..shape.words {
            let kind = Kind {
                wrong: wrong.remove(&address).unwrap_or_default(),
                known: this.known(address),
            };
            let next = numbers.len() as u32;
            let number = *numbers.entry(kind).or_insert(next);
            this.kind_of.push(number);
        }
        let mut kinds: Vec<(Kind, u32)> = numbers.into_iter().collect();
        kinds.sort_unstable_by_key(|(_, number)| *number);
        this.kinds = kinds.into_iter().map(|(kind, _)| kind).collect();
        Ok(this)
    }

    /// How many reads at an address are known to have failed or not.
    fn known(&self, address: u32) -> u16 {
        let all = self.reads.len() as u16;
        let (Extent::Cut, Some(last)) = (self.observation.extent, self.observation.misses.last())
        else {
            return all;
        };
        let end = (last.background, last.element);
        let before = self.reads.partition_point(|read| (read.background, read.element) < end);
        let after = self.reads.partition_point(|read| (read.background, read.element) <= end);
        let Some(Element::Each { order, .. }) =
            self.observation.elements.get(usize::from(last.element))
        else {
            return all;
        };
        let down = is_down(*order, self.observation.any_down);
        if address == last.address {
            let operation = last.operation;
            let here = &self.reads[before..after];
            (before + here.partition_point(|read| read.operation <= operation)) as u16
        } else if (address < last.address) != down {
            after as u16
        } else {
            before as u16
        }
    }

    pub(crate) fn kind(&self, address: u32) -> &Kind {
        &self.kinds[self.kind_of[address as usize] as usize]
    }

    /// The bits at an address whose failures have no cause yet.
    pub(crate) fn open(&self, address: u32) -> u16 {
        self.kind(address).bits() & !self.explained[address as usize]
    }

    /// Whether the march ended before the first background that failed was through, so that the
    /// failures may be the beginning of more.
    pub(crate) fn is_early(&self) -> bool {
        let misses = self.observation.misses;
        self.observation.extent == Extent::Cut
            && misses.first().map(|at| at.background) == misses.last().map(|at| at.background)
    }

    /// How many failing reads have a wrong bit among given bits of given addresses.
    pub(crate) fn count(&self, covered: impl Fn(u32) -> u16) -> (u64, u32) {
        let (mut reads, mut cells) = (0, 0);
        for address in 0..self.shape.words {
            let bits = covered(address);
            let kind = self.kind(address);
            if bits & kind.bits() != 0 {
                cells += (bits & kind.bits()).count_ones();
                reads += kind.wrong.iter().filter(|(_, wrong)| wrong & bits != 0).count() as u64;
            }
        }
        (reads, cells)
    }
}
