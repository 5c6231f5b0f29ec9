//! Memories on the emulated board, with the set-ups that the bench makes.

use dipsift_bench::Prepared;
use dipsift_bench::memory::{MemoryWish, march_program};
use dipsift_emulated::{Line, Machine, Sources};
use dipsift_link::Link;
use dipsift_simulator::{Cell, Chip, Counters, Defect, position_of};
use dipsift_tests::desk::{Desk, chip, library};
use dipsift_wire::{Element, Header, MarchSetup, Operation, Order};
use std::sync::Arc;

/// March C- (Marinescu, International Test Conference 1982, without the redundant element that van
/// de Goor, Testing Semiconductor Memories, 1991, names): order and operations of each element.
pub const C_MINUS: [(Order, &[Operation]); 6] = [
    (Order::Any, &[Operation::W0]),
    (Order::Up, &[Operation::R0, Operation::W1]),
    (Order::Up, &[Operation::R1, Operation::W0]),
    (Order::Down, &[Operation::R0, Operation::W1]),
    (Order::Down, &[Operation::R1, Operation::W0]),
    (Order::Any, &[Operation::R0]),
];

/// Elements for the wire.
pub fn elements(march: &[(Order, &[Operation])]) -> heapless::Vec<Element, 24> {
    let element = |&(order, operations): &(Order, &[Operation])| Element::Each {
        order,
        operations: operations.iter().copied().collect(),
    };
    march.iter().map(element).collect()
}

/// A memory, and how the bench would march it.
#[derive(Clone)]
pub struct Subject {
    pub prepared: Arc<Prepared>,
    pub header: Header,
    /// With March C- and all the bench's backgrounds.
    pub setup: MarchSetup,
}

impl Subject {
    /// The bench's set-up for a part at its slowest grade.
    pub fn new(number: &str) -> Self {
        let part = library().part(number).expect("the part is in the library");
        let prepared = Desk::new(1).bench.prepare(part, part.made[0]).expect("it can be marched");
        let program = march_program(&prepared, &MemoryWish::default());
        let (header, setup) = program.expect("it is marched");
        assert_eq!(setup.elements, elements(&C_MINUS));
        Self { prepared, header, setup }
    }

    /// A chip of it.
    pub fn chip(&self, defects: &[Defect]) -> Chip {
        chip(&self.prepared, defects, 7).expect("it has a package")
    }

    /// Puts a chip of it into a board's socket.
    pub fn insert(&self, machine: &mut Machine, chip: Chip, defects: &[Defect]) {
        let socket = machine.board_mut().fixture_mut().socket_mut();
        socket.insert(chip, defects).expect("it fits");
    }

    /// The cell at an address of the march as the simulator counts: there the row of a strobed
    /// address is its low part, for the station its high one.
    pub fn cell(&self, address: u32, bit: u8) -> Cell {
        let address = self.setup.strobed.map_or(address, |parts| {
            let column = address & ((1 << parts.column_bits) - 1);
            address >> parts.column_bits | column << parts.row_bits
        });
        Cell { address, bit }
    }

    /// The bit of a package pin's position, position 1 in bit 0.
    pub fn bit(&self, pin: u8) -> u64 {
        let Header { pins, shift, .. } = self.header;
        1 << (position_of(pin, pins, shift, false).expect("it is there") - 1)
    }
}

/// A link to a board that holds such a chip.
pub fn link(subject: &Subject, chip: Chip, defects: &[Defect]) -> Link<Line> {
    let mut line = super::line(5, Sources::default());
    subject.insert(line.machine_mut(), chip, defects);
    Link::open_from(line, 1).expect("the board answers")
}

/// What the socket has counted.
pub fn counters(link: &mut Link<Line>) -> Counters {
    link.transport_mut().machine().board().fixture().socket().counters()
}
