//! Behaviour as a network of gates, registers and drivers, all of one bit.
//!
//! The reader lowers everything to this: groups, arithmetic, tables and conditions become gates,
//! so that one evaluator serves vectors, simulation and fault simulation alike.

use crate::PinId;

/// Points at a [`Node`] of the same network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub u32);

/// Points at a [`Register`] of the same network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StateId(pub u32);

/// One gate. Its operands stand before it in the network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Node {
    /// Always low.
    Zero,
    /// Always high.
    One,
    /// Not known.
    Unknown,
    /// The level at a pin, as it is on the package (not its activity). For a pin that the chip
    /// drives itself at the time, the level that it drives.
    Pin(PinId),
    /// A register's content.
    State(StateId),
    /// Inversion.
    Not(NodeId),
    /// Conjunction.
    And(NodeId, NodeId),
    /// Disjunction.
    Or(NodeId, NodeId),
    /// Exclusive disjunction.
    Xor(NodeId, NodeId),
    /// `high` where `select` is high, `low` where it is low.
    Mux {
        /// Chooses.
        select: NodeId,
        /// The value where `select` is high.
        high: NodeId,
        /// The value where `select` is low.
        low: NodeId,
    },
}

/// A direction of change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Edge {
    /// Low to high.
    Rise,
    /// High to low.
    Fall,
}

/// One way in which a register takes a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// As long as `condition` holds.
    While {
        /// When it applies.
        condition: NodeId,
        /// What the register takes.
        value: NodeId,
    },
    /// When `clock` changes and `condition`, if there is one, holds.
    On {
        /// The node that is watched.
        clock: NodeId,
        /// Which change counts.
        edge: Edge,
        /// What must hold at that moment, as it was just before it.
        condition: Option<NodeId>,
        /// What the register takes, as it was just before the edge.
        value: NodeId,
    },
}

/// One bit of memory. The first `While` that holds wins; where none holds, edges count; what is
/// silent keeps its content. Content at power-up is unknown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Register {
    /// Its name in the description.
    pub name: String,
    /// Its rules, in the description's order.
    pub rules: Vec<Rule>,
}

/// What drives a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Driver {
    /// The pin.
    pub pin: PinId,
    /// The level, as it is on the package.
    pub value: NodeId,
    /// When it drives; `None` is always. An open-collector output is not disabled here: its high
    /// level is the pin's [`Output`](crate::Output) kind's affair.
    pub enable: Option<NodeId>,
}

/// A part's behaviour.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Network {
    /// Gates, operands first.
    pub nodes: Vec<Node>,
    /// Memory bits; a [`StateId`] counts them.
    pub registers: Vec<Register>,
    /// At most one driver a pin.
    pub drivers: Vec<Driver>,
}

impl Network {
    /// A node's gate.
    pub fn node(&self, id: NodeId) -> Node {
        self.nodes[id.0 as usize]
    }

    /// A pin's driver.
    pub fn driver(&self, pin: PinId) -> Option<&Driver> {
        self.drivers.iter().find(|driver| driver.pin == pin)
    }

    /// The pins that nodes depend on, in their order, and whether the nodes depend on registers
    /// too: those may be clocked by any input, so that every pin that is read counts then.
    pub fn cone(&self, roots: impl IntoIterator<Item = NodeId>) -> (Vec<PinId>, bool) {
        let mut pins = Vec::new();
        let mut remembers = false;
        let mut seen = vec![false; self.nodes.len()];
        let mut open: Vec<NodeId> = roots.into_iter().collect();
        while let Some(id) = open.pop() {
            if std::mem::replace(&mut seen[id.0 as usize], true) {
                continue;
            }
            match self.node(id) {
                Node::Zero | Node::One | Node::Unknown => {}
                Node::Pin(pin) => pins.push(pin),
                Node::State(_) => remembers = true,
                Node::Not(a) => open.push(a),
                Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => open.extend([a, b]),
                Node::Mux { select, high, low } => open.extend([select, high, low]),
            }
        }
        if remembers {
            pins.extend(self.nodes.iter().filter_map(|node| match node {
                Node::Pin(pin) => Some(*pin),
                _ => None,
            }));
        }
        pins.sort_unstable();
        pins.dedup();
        (pins, remembers)
    }
}
