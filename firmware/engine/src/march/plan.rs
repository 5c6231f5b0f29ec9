//! A set-up in the socket's own words.

use super::cycle::{Quick, Stages, prepare};
use super::refresh::Rows;
use super::tables::{Tables, word_pins};
use crate::Package;
use dipsift_pins::{Keepers, Moves};
use dipsift_wire::{Element, MAX_BACKGROUNDS, MAX_ELEMENTS, MAX_WIDTH, MarchSetup, Pins, StartUp};
use heapless::Vec;

/// One background: what is written and expected, as it is and complemented.
pub(crate) struct Background<S: Moves> {
    pub(crate) data: [S::Levels; 2],
    pub(crate) compare: [S::Compare; 2],
    /// The pins that should be high, for the report.
    pub(crate) expected: [Pins; 2],
}

/// What every cycle needs.
pub(crate) struct Wiring<S: Moves> {
    /// Between cycles: address, control and what is only input are driven.
    pub(crate) idle: S::Drive,
    pub(crate) keepers: Keepers,
    /// The data pins are released.
    pub(crate) reading: S::Directions,
    /// The data inputs are driven.
    pub(crate) writing: S::Directions,
    /// The usual cycles of a static memory.
    pub(crate) quick: Option<Quick<S>>,
    pub(crate) rows: Option<Rows>,
    /// How many bits the column has; `None` where the address is not strobed.
    pub(crate) column_bits: Option<u8>,
    pub(crate) outputs: Pins,
    pub(crate) words: u32,
    pub(crate) start: StartUp,
    pub(crate) any_down: bool,
    pub(crate) most_failures: u32,
}

/// Everything that runs a march. It is large and filled where it stands.
pub(crate) struct Plan<S: Moves> {
    pub(crate) tables: Tables<S>,
    pub(crate) read: Stages<S>,
    pub(crate) write: Stages<S>,
    pub(crate) refresh: Stages<S>,
    pub(crate) backgrounds: Vec<Background<S>, MAX_BACKGROUNDS>,
    pub(crate) elements: Vec<Element, MAX_ELEMENTS>,
    pub(crate) data_out: Vec<u8, MAX_WIDTH>,
    pub(crate) wiring: Option<Wiring<S>>,
}

impl<S: Moves> Plan<S> {
    #[inline(always)]
    pub(crate) const fn new() -> Self {
        Self {
            tables: Tables::new(),
            read: Vec::new(),
            write: Vec::new(),
            refresh: Vec::new(),
            backgrounds: Vec::new(),
            elements: Vec::new(),
            data_out: Vec::new(),
            wiring: None,
        }
    }

    /// Takes over a set-up that was checked.
    pub(crate) fn fill(&mut self, socket: &S, package: Package, setup: &MarchSetup) {
        self.tables.fill(socket, package, &setup.address);
        prepare(&mut self.read, &setup.read, socket, package);
        prepare(&mut self.write, &setup.write, socket, package);
        let refresh = setup.refresh.as_ref();
        let cycle = refresh.map_or(&[][..], |refresh| &refresh.cycle);
        prepare(&mut self.refresh, cycle, socket, package);
        self.backgrounds.clear();
        for &word in &setup.backgrounds {
            // No more than in the set-up.
            let _ = self.backgrounds.push(background(socket, package, setup, word));
        }
        self.elements.clone_from(&setup.elements);
        self.data_out.clone_from(&setup.data_out);
        let set = |numbers: &[u8]| -> Pins { numbers.iter().copied().collect() };
        let (inputs, outputs) = (set(&setup.data_in), set(&setup.data_out));
        let reading = Pins(set(&setup.address).0 | setup.control.0 | inputs.0 & !outputs.0);
        let writing = Pins(reading.0 | inputs.0);
        let directions =
            [reading, writing].map(|driven| socket.prepare_directions(package.positions(driven)));
        let quick = match setup.strobed {
            None => Quick::of(&self.read, &self.write, directions),
            Some(_) => None,
        };
        let idle = socket.prepare_drive(package.positions(reading), package.positions(setup.idle));
        let [reading, writing] = directions;
        self.wiring = Some(Wiring {
            idle,
            keepers: Keepers {
                light: crate::window::rail(setup.light),
                firm: crate::window::rail(setup.firm),
            },
            reading,
            writing,
            quick,
            rows: refresh.map(|refresh| Rows::new(socket, refresh)),
            column_bits: setup.strobed.map(|parts| parts.column_bits),
            outputs,
            words: setup.words,
            start: setup.start,
            any_down: setup.any_down,
            most_failures: setup.most_failures,
        });
    }
}

fn background<S: Moves>(
    socket: &S,
    package: Package,
    setup: &MarchSetup,
    word: u16,
) -> Background<S> {
    let words = [word, !word & setup.word()];
    let inputs = package.positions(setup.data_in.iter().copied().collect());
    let outputs = package.positions(setup.data_out.iter().copied().collect());
    let expected = words.map(|word| word_pins(word.into(), &setup.data_out));
    Background {
        data: words.map(|word| {
            let high = package.positions(word_pins(word.into(), &setup.data_in));
            socket.prepare_levels(inputs, high)
        }),
        compare: expected.map(|high| socket.prepare_compare(outputs, package.positions(high))),
        expected,
    }
}
