//! What depends on what: independent sections, clock pins, pins that turn outputs on.

use dipsift_language::{Network, Node, NodeId, Part, PinId, Role, Rule, StateId};

/// A set of pins and registers, as bits: pins first.
type Support = Vec<u64>;

/// An independent part of the chip: no signal passes to another one.
#[derive(Clone, Debug, Default)]
pub(crate) struct Section {
    /// Pins that may be driven, in the order of the part's pins.
    pub(crate) inputs: Vec<PinId>,
    /// Pins that the chip may drive; bidirectional ones stand here too.
    pub(crate) outputs: Vec<PinId>,
    pub(crate) registers: Vec<StateId>,
}

#[derive(Clone, Debug)]
pub(crate) struct Structure {
    pub(crate) sections: Vec<Section>,
    /// By pin, where it has one.
    section_of: Vec<Option<usize>>,
    clock: Vec<bool>,
    /// Pins on which it depends, also through registers, whether a bidirectional pin drives.
    enabling: Vec<bool>,
    /// Pins on which it depends whether others must hold still.
    holding: Vec<bool>,
    /// By node: the section, where it has one.
    node_section: Vec<Option<usize>>,
}

impl Structure {
    pub(crate) fn new(part: &Part) -> Self {
        let supports = Supports::new(part);
        let mut sections = supports.sections(part);
        sections.retain(|section| !section.outputs.is_empty() || !section.inputs.is_empty());
        let mut section_of = vec![None; part.pins.len()];
        let mut register_section = vec![None; part.network.registers.len()];
        for (index, section) in sections.iter().enumerate() {
            for pin in section.inputs.iter().chain(&section.outputs) {
                section_of[usize::from(pin.0)] = Some(index);
            }
            for register in &section.registers {
                register_section[register.0 as usize] = Some(index);
            }
        }
        let mut clock = vec![false; part.pins.len()];
        for rule in part.network.registers.iter().flat_map(|register| &register.rules) {
            if let Rule::On { clock: node, .. } = rule {
                for pin in supports.pins(*node) {
                    clock[usize::from(pin.0)] = true;
                }
            }
        }
        let mut holding = vec![false; part.pins.len()];
        for pin in part.steady.iter().flat_map(|steady| supports.pins(steady.condition)) {
            holding[usize::from(pin.0)] = true;
        }
        let enabling = supports.enabling(part);
        let node_section = (0..part.network.nodes.len())
            .map(|node| {
                let node = NodeId(node as u32);
                let pins = supports.pins(node).into_iter();
                let registers = supports.registers(node).into_iter();
                pins.map(|pin| section_of[usize::from(pin.0)])
                    .chain(registers.map(|state| register_section[state.0 as usize]))
                    .flatten()
                    .next()
            })
            .collect();
        Self { sections, section_of, clock, enabling, holding, node_section }
    }

    pub(crate) fn section_of(&self, pin: PinId) -> Option<usize> {
        self.section_of[usize::from(pin.0)]
    }

    /// Whether a pin acts on a register's clock.
    pub(crate) fn is_clock(&self, pin: PinId) -> bool {
        self.clock[usize::from(pin.0)]
    }

    pub(crate) fn is_enabling(&self, pin: PinId) -> bool {
        self.enabling[usize::from(pin.0)]
    }

    pub(crate) fn is_holding(&self, pin: PinId) -> bool {
        self.holding[usize::from(pin.0)]
    }

    pub(crate) fn node_section(&self, node: NodeId) -> Option<usize> {
        self.node_section[node.0 as usize]
    }
}

/// For each node, the pins and registers that it depends on without passing a register.
struct Supports {
    pins: usize,
    registers: usize,
    nodes: Vec<Support>,
}

impl Supports {
    fn new(part: &Part) -> Self {
        let network = &part.network;
        let words = (part.pins.len() + network.registers.len()).div_ceil(64).max(1);
        let mut supports = Self {
            pins: part.pins.len(),
            registers: network.registers.len(),
            nodes: vec![vec![0; words]; network.nodes.len()],
        };
        // A pin that the chip drives may be read by a node that stands before its driver.
        while supports.pass(network) {}
        supports
    }

    fn pass(&mut self, network: &Network) -> bool {
        let mut changed = false;
        for (index, node) in network.nodes.iter().enumerate() {
            let mut support = self.nodes[index].clone();
            let mut join = |supports: &Self, node: NodeId| {
                let other = &supports.nodes[node.0 as usize];
                support.iter_mut().zip(other).for_each(|(word, other)| *word |= other);
            };
            match *node {
                Node::Zero | Node::One | Node::Unknown => {}
                Node::Pin(pin) => {
                    if let Some(driver) = network.driver(pin) {
                        join(self, driver.value);
                        if let Some(enable) = driver.enable {
                            join(self, enable);
                        }
                    }
                    set(&mut support, usize::from(pin.0));
                }
                Node::State(state) => set(&mut support, self.pins + state.0 as usize),
                Node::Not(a) => join(self, a),
                Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => {
                    join(self, a);
                    join(self, b);
                }
                Node::Mux { select, high, low } => {
                    join(self, select);
                    join(self, high);
                    join(self, low);
                }
            }
            changed |= support != self.nodes[index];
            self.nodes[index] = support;
        }
        changed
    }

    fn items(&self, node: NodeId) -> Vec<usize> {
        let support = &self.nodes[node.0 as usize];
        (0..self.pins + self.registers).filter(|&item| has(support, item)).collect()
    }

    fn pins(&self, node: NodeId) -> Vec<PinId> {
        self.items(node).into_iter().filter(|&i| i < self.pins).map(|i| PinId(i as u16)).collect()
    }

    fn registers(&self, node: NodeId) -> Vec<StateId> {
        let items = self.items(node).into_iter().filter(|&item| item >= self.pins);
        items.map(|item| StateId((item - self.pins) as u32)).collect()
    }

    fn sections(&self, part: &Part) -> Vec<Section> {
        let mut parent: Vec<usize> = (0..self.pins + self.registers).collect();
        let mut join_all = |items: Vec<usize>| {
            for pair in items.windows(2) {
                let (a, b) = (root(&parent, pair[0]), root(&parent, pair[1]));
                parent[a.max(b)] = a.min(b);
            }
        };
        for driver in &part.network.drivers {
            let mut items = vec![usize::from(driver.pin.0)];
            items.extend(self.items(driver.value));
            items.extend(driver.enable.into_iter().flat_map(|node| self.items(node)));
            join_all(items);
        }
        for (index, register) in part.network.registers.iter().enumerate() {
            let mut items = vec![self.pins + index];
            for node in register.rules.iter().flat_map(rule_nodes) {
                items.extend(self.items(node));
            }
            join_all(items);
        }
        for steady in &part.steady {
            let mut items = self.items(steady.condition);
            items.extend(steady.pins.iter().map(|pin| usize::from(pin.0)));
            join_all(items);
        }
        for node in &part.avoid {
            join_all(self.items(*node));
        }
        let mut sections: Vec<(usize, Section)> = Vec::new();
        for item in 0..self.pins + self.registers {
            let root = root(&parent, item);
            let index = sections.iter().position(|(at, _)| *at == root).unwrap_or_else(|| {
                sections.push((root, Section::default()));
                sections.len() - 1
            });
            let section = &mut sections[index].1;
            if item >= self.pins {
                section.registers.push(StateId((item - self.pins) as u32));
                continue;
            }
            let pin = PinId(item as u16);
            let role = part.pin(pin).role;
            if matches!(role, Role::Input | Role::Bidirectional) {
                section.inputs.push(pin);
            }
            if matches!(role, Role::Output | Role::Bidirectional) {
                section.outputs.push(pin);
            }
        }
        sections.into_iter().map(|(_, section)| section).collect()
    }

    fn enabling(&self, part: &Part) -> Vec<bool> {
        let mut reached = vec![false; self.pins + self.registers];
        let mut queue: Vec<usize> = part
            .network
            .drivers
            .iter()
            .filter(|driver| part.pin(driver.pin).role == Role::Bidirectional)
            .flat_map(|driver| driver.enable)
            .flat_map(|node| self.items(node))
            .collect();
        while let Some(item) = queue.pop() {
            if std::mem::replace(&mut reached[item], true) || item < self.pins {
                continue;
            }
            let rules = &part.network.registers[item - self.pins].rules;
            queue.extend(rules.iter().flat_map(rule_nodes).flat_map(|node| self.items(node)));
        }
        reached.truncate(self.pins);
        reached
    }
}

fn rule_nodes(rule: &Rule) -> Vec<NodeId> {
    match *rule {
        Rule::While { condition, value } => vec![condition, value],
        Rule::On { clock, condition, value, .. } => {
            [Some(clock), condition, Some(value)].into_iter().flatten().collect()
        }
    }
}

fn root(parent: &[usize], mut item: usize) -> usize {
    while parent[item] != item {
        item = parent[item];
    }
    item
}

fn set(support: &mut Support, item: usize) {
    support[item / 64] |= 1 << (item % 64);
}

fn has(support: &Support, item: usize) -> bool {
    support[item / 64] >> (item % 64) & 1 == 1
}
