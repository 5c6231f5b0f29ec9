//! Stuck faults, 32 at a time: each in two lanes that power up differently.

use crate::Conditions;
use crate::chip::{Chip, Forced};
use crate::structure::Structure;
use dipsift_language::{Machine, Network, Node, NodeId, Package, Part, PinId, Rule, StateId, Word};
use dipsift_wire::{Pins, Step};
use std::sync::Arc;

/// Where something is stuck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Site {
    /// An input, as the chip sees it.
    Pin(PinId),
    /// A gate's output.
    Node(NodeId),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Fault {
    pub(crate) site: Site,
    pub(crate) high: bool,
}

const PER_BLOCK: usize = 32;
/// The lanes that power up low with open inputs low; the others are all high.
const POWERS_UP_LOW: u64 = 0x5555_5555_5555_5555;

#[derive(Clone)]
pub(crate) struct Block {
    chip: Chip,
    faults: Vec<Fault>,
    detected: u64,
}

/// Faulty chips that take the same steps as a good one.
#[derive(Clone, Default)]
pub(crate) struct FaultyChips {
    blocks: Vec<Block>,
}

impl FaultyChips {
    pub(crate) fn new(
        part: &Arc<Part>,
        package: &Package,
        conditions: &Conditions,
        faults: &[Fault],
    ) -> Self {
        let block = |faults: &[Fault]| Block {
            chip: faulty(part, package, conditions, faults),
            faults: faults.to_vec(),
            detected: 0,
        };
        Self { blocks: faults.chunks(PER_BLOCK).map(block).collect() }
    }

    /// Takes a step with all chips.
    pub(crate) fn run(&mut self, step: &Step) {
        for block in &mut self.blocks {
            block.run(step);
        }
    }

    /// Compares what outputs show with what a good chip shows.
    pub(crate) fn compare(&mut self, pins: Pins, high: Pins) {
        for block in &mut self.blocks {
            let outputs = Pins(block.chip.outputs().0 & !block.chip.driven.0);
            for number in Pins(pins.0 & outputs.0).iter() {
                block.detected |= differs(block.chip.reading(number), high.contains(number));
            }
        }
    }

    pub(crate) fn detected(&self) -> usize {
        self.blocks.iter().map(|block| block.faults().filter(|(_, found)| *found).count()).sum()
    }

    pub(crate) fn undetected(&self) -> Vec<Fault> {
        let open = |block: &Block| -> Vec<Fault> {
            block.faults().filter(|(_, found)| !found).map(|(fault, _)| fault).collect()
        };
        self.blocks.iter().flat_map(open).collect()
    }

    /// Drops blocks whose faults are all detected.
    pub(crate) fn drop_done(&mut self) {
        self.blocks.retain(|block| block.faults().any(|(_, found)| !found));
    }

    /// A copy of a few blocks, others at each turn.
    pub(crate) fn few(&self, turn: usize, count: usize) -> Self {
        let all = self.blocks.len();
        let blocks = self.blocks.iter().cycle().skip(turn % all.max(1)).take(count.min(all));
        Self { blocks: blocks.cloned().collect() }
    }
}

impl Block {
    fn run(&mut self, step: &Step) {
        if let Step::ExpectReleased { pins, .. } = *step {
            for number in pins.iter() {
                if let Some(id) = self.chip.id(number) {
                    let enable = self.chip.driving(id).1;
                    self.detected |= enable.high & !enable.low;
                }
            }
        }
        self.chip.run(step);
    }

    fn faults(&self) -> impl Iterator<Item = (Fault, bool)> {
        let both = move |index: usize| self.detected >> (2 * index) & 3 == 3;
        self.faults.iter().enumerate().map(move |(index, fault)| (*fault, both(index)))
    }
}

/// The lanes in which a reading is surely not the expected level.
pub(crate) fn differs(reading: Word, high: bool) -> u64 {
    if high { reading.low & !reading.high } else { reading.high & !reading.low }
}

/// Both stuck faults of every input and every gate of a section.
pub(crate) fn of_section(part: &Part, structure: &Structure, section: usize) -> Vec<Fault> {
    let pins = structure.sections[section].inputs.iter().map(|pin| Site::Pin(*pin));
    let used = used_nodes(&part.network);
    let nodes = (0..part.network.nodes.len() as u32)
        .map(NodeId)
        .filter(|&node| used[node.0 as usize] && structure.node_section(node) == Some(section));
    let gates = nodes.filter(|&node| {
        !matches!(part.network.node(node), Node::Pin(_) | Node::Zero | Node::One | Node::Unknown)
    });
    pins.chain(gates.map(Site::Node))
        .flat_map(|site| [false, true].map(|high| Fault { site, high }))
        .collect()
}

/// Both stuck faults of every input.
pub(crate) fn of_inputs(chip: &Chip) -> Vec<Fault> {
    chip.readable()
        .filter(|id| chip.at.contains(&Some(*id)))
        .flat_map(|id| [false, true].map(|high| Fault { site: Site::Pin(id), high }))
        .collect()
}

/// Nodes that drivers or registers depend on.
fn used_nodes(network: &Network) -> Vec<bool> {
    let mut used = vec![false; network.nodes.len()];
    let mut mark = |node: NodeId| used[node.0 as usize] = true;
    for driver in &network.drivers {
        mark(driver.value);
        driver.enable.into_iter().for_each(&mut mark);
    }
    for rule in network.registers.iter().flat_map(|register| &register.rules) {
        match *rule {
            Rule::While { condition, value } => [condition, value].into_iter().for_each(&mut mark),
            Rule::On { clock, condition, value, .. } => {
                [Some(clock), condition, Some(value)].into_iter().flatten().for_each(&mut mark);
            }
        }
    }
    for index in (0..network.nodes.len()).rev() {
        if used[index] {
            operands(network.nodes[index]).for_each(|node| used[node.0 as usize] = true);
        }
    }
    used
}

fn operands(node: Node) -> impl Iterator<Item = NodeId> {
    let (a, b, c) = match node {
        Node::Zero | Node::One | Node::Unknown | Node::Pin(_) | Node::State(_) => {
            (None, None, None)
        }
        Node::Not(a) => (Some(a), None, None),
        Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => (Some(a), Some(b), None),
        Node::Mux { select, high, low } => (Some(select), Some(high), Some(low)),
    };
    [a, b, c].into_iter().flatten()
}

fn faulty(part: &Arc<Part>, package: &Package, conditions: &Conditions, faults: &[Fault]) -> Chip {
    let mut forced = Vec::new();
    let mut stuck = vec![(0, 0); part.network.nodes.len()];
    for (index, fault) in faults.iter().enumerate() {
        let lanes = 3 << (2 * index);
        let (low, high) = if fault.high { (0, lanes) } else { (lanes, 0) };
        match fault.site {
            Site::Pin(pin) => forced.push(Forced { pin, low, high }),
            Site::Node(node) => {
                let (all_low, all_high) = stuck[node.0 as usize];
                stuck[node.0 as usize] = (all_low | low, all_high | high);
            }
        }
    }
    let (network, controls) = inject(&part.network, part.pins.len(), &stuck);
    let registers = network.registers.len();
    let pins = part.pins.len() + controls.len();
    let mut machine = Machine::new(Arc::new(network), pins);
    for (pin, level) in controls {
        machine.apply(pin, level);
    }
    let power_up = Word::lanes(!POWERS_UP_LOW);
    for index in 0..registers {
        machine.set_state(StateId(index as u32), power_up);
    }
    Chip::with(part, package, conditions, machine, forced, power_up)
}

/// The network with each stuck node held low and high in its lanes, by pins beyond the part's own.
fn inject(network: &Network, pins: usize, stuck: &[(u64, u64)]) -> (Network, Vec<(PinId, Word)>) {
    let mut controls: Vec<(PinId, Word)> = Vec::new();
    let mut nodes: Vec<Node> = Vec::new();
    let mut now: Vec<NodeId> = Vec::new();
    let push = |nodes: &mut Vec<Node>, node: Node| {
        nodes.push(node);
        NodeId(nodes.len() as u32 - 1)
    };
    for (node, &(low, high)) in network.nodes.iter().zip(stuck) {
        let at = |node: NodeId| now[node.0 as usize];
        let node = match *node {
            Node::Not(a) => Node::Not(at(a)),
            Node::And(a, b) => Node::And(at(a), at(b)),
            Node::Or(a, b) => Node::Or(at(a), at(b)),
            Node::Xor(a, b) => Node::Xor(at(a), at(b)),
            Node::Mux { select, high, low } => {
                Node::Mux { select: at(select), high: at(high), low: at(low) }
            }
            other => other,
        };
        let mut id = push(&mut nodes, node);
        if low | high != 0 {
            let mut control = |nodes: &mut Vec<Node>, lanes: u64| {
                let pin = PinId((pins + controls.len()) as u16);
                controls.push((pin, Word::lanes(lanes)));
                push(nodes, Node::Pin(pin))
            };
            let up = control(&mut nodes, high);
            id = push(&mut nodes, Node::Or(id, up));
            let kept = control(&mut nodes, !low);
            id = push(&mut nodes, Node::And(id, kept));
        }
        now.push(id);
    }
    let mut changed = network.clone();
    changed.nodes = nodes;
    let at = |node: NodeId| now[node.0 as usize];
    for driver in &mut changed.drivers {
        driver.value = at(driver.value);
        driver.enable = driver.enable.map(at);
    }
    for rule in changed.registers.iter_mut().flat_map(|register| &mut register.rules) {
        *rule = match *rule {
            Rule::While { condition, value } => {
                Rule::While { condition: at(condition), value: at(value) }
            }
            Rule::On { clock, edge, condition, value } => {
                Rule::On { clock: at(clock), edge, condition: condition.map(at), value: at(value) }
            }
        };
    }
    (changed, controls)
}
