//! Which positions and pins are one conductor.

use crate::seated::Seated;
use dipsift_language::Role;
use dipsift_pins::POSITIONS;

const PLACES: usize = POSITIONS as usize;
/// The chip's supply and ground rails as conductors, after the positions.
const VCC: usize = PLACES;
const GND: usize = PLACES + 1;
const PINS: usize = PLACES + 2;

/// One conductor.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Node {
    /// Its positions, bit 0 is position 1.
    pub(crate) positions: u64,
    /// The chip's signal pins on it, counted from 0.
    pub(crate) pins: Vec<u8>,
}

/// The conductors of the socket with a chip in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Wiring {
    pub(crate) nodes: Vec<Node>,
    /// By position, counted from 0.
    pub(crate) of_position: Vec<u8>,
    /// By pin, counted from 0.
    pub(crate) of_pin: Vec<u8>,
    /// The chip's supply and ground rails.
    pub(crate) rails: Option<(usize, usize)>,
}

fn top(parent: &[u8], mut item: usize) -> usize {
    while usize::from(parent[item]) != item {
        item = usize::from(parent[item]);
    }
    item
}

impl Wiring {
    /// The conductors at this moment; `changes` decides what an intermittent contact does.
    pub(crate) fn new(seated: Option<&Seated>, changes: u64) -> Self {
        let pins = seated.map_or(0, |seated| seated.pins.len());
        let mut parent: Vec<u8> = (0..(PINS + pins) as u8).collect();
        let mut join = |a: usize, b: usize| {
            let (a, b) = (top(&parent, a), top(&parent, b));
            parent[a.max(b)] = a.min(b) as u8;
        };
        if let Some(seated) = seated {
            for (index, pin) in seated.pins.iter().enumerate() {
                if let Some(position) = pin.position
                    && seated.touches(index, changes)
                {
                    join(PINS + index, usize::from(position) - 1);
                }
                match pin.role {
                    // With its contact open the pin still is part of the rail inside.
                    Some(Role::Supply) => join(PINS + index, VCC),
                    Some(Role::Ground) => join(PINS + index, GND),
                    _ => {}
                }
            }
            for &(a, b) in &seated.shorts {
                join(PINS + usize::from(a), PINS + usize::from(b));
            }
        }
        let mut wiring = Self::default();
        let mut number = vec![u8::MAX; PINS + pins];
        let mut of = Vec::with_capacity(PINS + pins);
        for item in 0..PINS + pins {
            let root = top(&parent, item);
            if number[root] == u8::MAX {
                number[root] = wiring.nodes.len() as u8;
                wiring.nodes.push(Node::default());
            }
            of.push(number[root]);
            let node = &mut wiring.nodes[usize::from(number[root])];
            if item < PLACES {
                node.positions |= 1 << item;
            } else if item >= PINS
                && seated.is_some_and(|seated| !seated.pins[item - PINS].is_rail())
            {
                node.pins.push((item - PINS) as u8);
            }
        }
        wiring.rails = seated.map(|_| (usize::from(of[VCC]), usize::from(of[GND])));
        wiring.of_pin = of.split_off(PINS);
        of.truncate(PLACES);
        wiring.of_position = of;
        wiring
    }

    /// Whether the chip's pins or rails reach a node.
    pub(crate) fn is_of_chip(&self, node: usize) -> bool {
        !self.nodes[node].pins.is_empty()
            || self.rails.is_some_and(|(vcc, gnd)| node == vcc || node == gnd)
    }
}
