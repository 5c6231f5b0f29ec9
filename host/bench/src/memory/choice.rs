//! Which march a memory gets.

use super::layout::Layout;
use dipsift_march::{Class, Coverage, Direction, March, find};
use dipsift_wire::{Element, MAX_BACKGROUNDS, Operation, Order};

/// What a person asks for.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum MarchWish {
    /// The usual test of the part.
    #[default]
    Usual,
    /// The shortest that still finds stuck cells, failing transitions and address faults: bulk.
    Quick,
    /// The longest.
    Thorough,
    /// One of their own, by its name in print or in notation.
    Own {
        /// The name, or nothing for a notation.
        name: Option<String>,
        /// The test.
        march: March,
    },
}

/// The march that is run, in words and for the station.
#[derive(Clone, Debug)]
pub struct Chosen {
    /// Its name.
    pub name: String,
    /// Its elements in the ASCII notation.
    pub notation: String,
    /// Its elements.
    pub(crate) elements: Vec<Element>,
    /// The data backgrounds.
    pub backgrounds: Vec<u16>,
    /// Classes of faults that it finds wholly.
    pub finds: Vec<String>,
    /// Classes of which it finds a part, with the share.
    pub finds_some: Vec<String>,
    /// Classes that it does not find.
    pub misses: Vec<String>,
}

/// The march of each wish. MATS++ finds all stuck-at, transition and address faults in 6n, March
/// C- the coupling faults too in 10n, and March SS all static simple faults in 22n (Hamdioui, van
/// de Goor, Rodgers, MTDT 2002; the coverage that is printed is computed, not cited).
const QUICK: &str = "mats++";
const USUAL: &str = "c-";
const THOROUGH: &str = "ss";

impl Chosen {
    /// The march that a wish means on a memory.
    pub fn of(wish: &MarchWish, layout: &Layout) -> Self {
        let (name, march) = match wish {
            MarchWish::Usual => published(USUAL),
            MarchWish::Quick => published(QUICK),
            MarchWish::Thorough => published(THOROUGH),
            MarchWish::Own { name, march } => {
                (name.clone().unwrap_or_else(|| "a march of your own".into()), march.clone())
            }
        };
        let mut backgrounds = backgrounds(layout.bits());
        if *wish == MarchWish::Quick {
            // Equal bits and neighbours that differ: shorts between neighbouring data lines.
            backgrounds.truncate(2);
        }
        let mut chosen = Self {
            name,
            notation: march.to_string(),
            elements: elements(&march),
            backgrounds,
            finds: Vec::new(),
            finds_some: Vec::new(),
            misses: Vec::new(),
        };
        chosen.cover(&march);
        chosen
    }

    fn cover(&mut self, march: &March) {
        let coverage = Coverage::of(march);
        for class in Class::ALL {
            let share = coverage.share(class);
            let name = class.to_string();
            if share.is_full() {
                self.finds.push(name);
            } else if share.detected == 0 {
                self.misses.push(name);
            } else {
                self.finds_some.push(format!("{name} {share}"));
            }
        }
    }
}

/// A march of the catalogue.
///
/// # Panics
///
/// Never for the three above: a test finds them.
fn published(key: &str) -> (String, March) {
    let test = find(key).expect("the three marches are in the catalogue");
    (test.name.into(), test.march())
}

/// The data backgrounds of a word: all bits equal, then halves, quarters and so on that differ;
/// ⌈log2 width⌉ + 1 of them (R. Dekker, F. Beenker, L. Thijssen, IEEE Trans. CAD 9 (6), 1990). The
/// pattern of neighbours that differ comes second.
pub fn backgrounds(bits: u32) -> Vec<u16> {
    let word = u16::MAX >> (16 - bits);
    let halves = bits.next_power_of_two().trailing_zeros();
    let stripe =
        |step: u32| (0..bits).filter(|bit| bit >> step & 1 == 1).fold(0, |w, bit| w | 1 << bit);
    let mut list = vec![0];
    list.extend((0..halves).map(|step| stripe(step) & word));
    list.truncate(MAX_BACKGROUNDS);
    list
}

/// The elements in the station's terms.
pub(crate) fn elements(march: &March) -> Vec<Element> {
    let operation = |operation: &dipsift_march::Operation| match operation {
        dipsift_march::Operation::Read(false) => Operation::R0,
        dipsift_march::Operation::Read(true) => Operation::R1,
        dipsift_march::Operation::Write(false) => Operation::W0,
        dipsift_march::Operation::Write(true) => Operation::W1,
    };
    let element = |element: &dipsift_march::Element| match element {
        dipsift_march::Element::Sweep { direction, operations } => Element::Each {
            order: match direction {
                Direction::Up => Order::Up,
                Direction::Down => Order::Down,
                Direction::Any => Order::Any,
            },
            operations: operations.iter().map(operation).collect(),
        },
        dipsift_march::Element::Pause(pause) => Element::Pause {
            ms: pause.as_micros().div_ceil(1_000).min(u32::MAX.into()) as u32,
            refresh: true,
        },
    };
    march.elements().iter().map(element).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight bits take four backgrounds (Dekker, Beenker, Thijssen 1990).
    #[test]
    fn backgrounds_are_the_logarithm_of_the_width_and_one() {
        assert_eq!(backgrounds(1), [0]);
        assert_eq!(backgrounds(4), [0, 0b1010, 0b1100]);
        assert_eq!(backgrounds(8), [0, 0xAA, 0xCC, 0xF0]);
        assert_eq!(backgrounds(16).len(), 5);
    }

    #[test]
    fn every_pair_of_bits_differs_in_a_background() {
        for bits in 1..=16 {
            let list = backgrounds(bits);
            for (a, b) in (0..bits).flat_map(|a| (0..a).map(move |b| (a, b))) {
                assert!(list.iter().any(|word| word >> a & 1 != word >> b & 1), "{bits}: {a} {b}");
            }
        }
    }

    #[test]
    fn the_marches_of_all_wishes_are_in_the_catalogue() {
        for (key, length) in [(QUICK, 6), (USUAL, 10), (THOROUGH, 22)] {
            assert_eq!(find(key).expect(key).printed_length, length);
        }
    }
}
