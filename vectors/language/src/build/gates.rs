//! Makes gates: each one once, constants folded, operands first.

use crate::{Network, Node, NodeId, PinId, Rule, StateId};
use std::collections::HashMap;

/// No description needs more gates than this; one that asks for more is refused.
const MOST: usize = 100_000;

pub(crate) struct Gates {
    nodes: Vec<Node>,
    known: HashMap<Node, NodeId>,
    /// Whether a node is free of `?`. Two `?` are not the same unknown, so that what depends on
    /// one is not folded with itself.
    definite: Vec<bool>,
    /// Whether a gate was refused.
    pub full: bool,
}

pub(crate) const ZERO: NodeId = NodeId(0);
pub(crate) const ONE: NodeId = NodeId(1);

impl Gates {
    pub fn new() -> Self {
        let mut gates =
            Self { nodes: Vec::new(), known: HashMap::new(), definite: Vec::new(), full: false };
        gates.add(Node::Zero);
        gates.add(Node::One);
        gates
    }

    fn add(&mut self, node: Node) -> NodeId {
        if let Some(id) = self.known.get(&node) {
            return *id;
        }
        if self.nodes.len() >= MOST {
            self.full = true;
            return ZERO;
        }
        let id = NodeId(self.nodes.len() as u32);
        let definite = match node {
            Node::Unknown => false,
            Node::Zero | Node::One | Node::Pin(_) | Node::State(_) => true,
            Node::Not(a) => self.is_definite(a),
            Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => {
                self.is_definite(a) && self.is_definite(b)
            }
            Node::Mux { select, high, low } => {
                [select, high, low].into_iter().all(|node| self.is_definite(node))
            }
        };
        self.nodes.push(node);
        self.definite.push(definite);
        self.known.insert(node, id);
        id
    }

    fn is_definite(&self, id: NodeId) -> bool {
        self.definite[id.0 as usize]
    }

    /// Whether one is surely the inverse of the other.
    fn opposite(&self, a: NodeId, b: NodeId) -> bool {
        let inverse = |a, b| self.nodes[a as usize] == Node::Not(NodeId(b));
        self.is_definite(a) && (inverse(a.0, b.0) || inverse(b.0, a.0))
    }

    pub fn constant(&self, high: bool) -> NodeId {
        if high { ONE } else { ZERO }
    }

    pub fn unknown(&mut self) -> NodeId {
        self.add(Node::Unknown)
    }

    pub fn pin(&mut self, pin: PinId) -> NodeId {
        self.add(Node::Pin(pin))
    }

    pub fn state(&mut self, state: StateId) -> NodeId {
        self.add(Node::State(state))
    }

    pub fn not(&mut self, a: NodeId) -> NodeId {
        match self.nodes[a.0 as usize] {
            Node::Zero => ONE,
            Node::One => ZERO,
            Node::Not(inner) => inner,
            Node::Unknown => a,
            _ => self.add(Node::Not(a)),
        }
    }

    pub fn and(&mut self, a: NodeId, b: NodeId) -> NodeId {
        let (a, b) = (a.min(b), a.max(b));
        match (a, b) {
            (ZERO, _) => ZERO,
            (ONE, other) => other,
            _ if a == b => a,
            _ if self.opposite(a, b) => ZERO,
            _ => self.add(Node::And(a, b)),
        }
    }

    pub fn or(&mut self, a: NodeId, b: NodeId) -> NodeId {
        let (a, b) = (a.min(b), a.max(b));
        match (a, b) {
            (ZERO, other) => other,
            (ONE, _) => ONE,
            _ if b == ONE => ONE,
            _ if a == b => a,
            _ if self.opposite(a, b) => ONE,
            _ => self.add(Node::Or(a, b)),
        }
    }

    pub fn xor(&mut self, a: NodeId, b: NodeId) -> NodeId {
        let (a, b) = (a.min(b), a.max(b));
        match (a, b) {
            (ZERO, other) => other,
            (ONE, other) => self.not(other),
            _ if a == b && self.is_definite(a) => ZERO,
            _ if self.opposite(a, b) => ONE,
            _ => self.add(Node::Xor(a, b)),
        }
    }

    /// `high` where `select` is high, else `low`.
    pub fn mux(&mut self, select: NodeId, high: NodeId, low: NodeId) -> NodeId {
        if high == low {
            return high;
        }
        match (select, high, low) {
            (ZERO, _, _) => low,
            (ONE, _, _) => high,
            (_, ONE, _) => self.or(select, low),
            (_, _, ZERO) => self.and(select, high),
            (_, ZERO, _) => {
                let off = self.not(select);
                self.and(off, low)
            }
            (_, _, ONE) => {
                let off = self.not(select);
                self.or(off, high)
            }
            _ => match self.nodes[select.0 as usize] {
                Node::Not(inner) => self.add(Node::Mux { select: inner, high: low, low: high }),
                _ => self.add(Node::Mux { select, high, low }),
            },
        }
    }

    /// The sum of two numbers of one width and a carry, least significant first. What carries
    /// out of the width is dropped.
    pub fn sum(&mut self, a: &[NodeId], b: &[NodeId], carry: NodeId) -> Vec<NodeId> {
        let mut carry = carry;
        let mut sum = Vec::with_capacity(a.len());
        for (&a, &b) in a.iter().zip(b) {
            let half = self.xor(a, b);
            sum.push(self.xor(half, carry));
            let both = self.and(a, b);
            let passed = self.and(half, carry);
            carry = self.or(both, passed);
        }
        sum
    }

    /// `a - b`, least significant first.
    pub fn difference(&mut self, a: &[NodeId], b: &[NodeId]) -> Vec<NodeId> {
        let inverted: Vec<NodeId> = b.iter().map(|&bit| self.not(bit)).collect();
        self.sum(a, &inverted, ONE)
    }

    pub fn equal(&mut self, a: &[NodeId], b: &[NodeId]) -> NodeId {
        let mut equal = ONE;
        for (&a, &b) in a.iter().zip(b) {
            let differ = self.xor(a, b);
            let same = self.not(differ);
            equal = self.and(equal, same);
        }
        equal
    }

    /// `a < b`, least significant first.
    pub fn less(&mut self, a: &[NodeId], b: &[NodeId]) -> NodeId {
        let mut less = ZERO;
        for (&a, &b) in a.iter().zip(b) {
            let differ = self.xor(a, b);
            less = self.mux(differ, b, less);
        }
        less
    }

    /// The network of what is used, renumbered. `roots` are renumbered with it.
    pub fn finish(self, mut network: Network, roots: &mut [&mut NodeId]) -> Network {
        let mut used = vec![false; self.nodes.len()];
        let mut mark = |id: NodeId| used[id.0 as usize] = true;
        for driver in &network.drivers {
            mark(driver.value);
            driver.enable.into_iter().for_each(&mut mark);
        }
        for rule in network.registers.iter().flat_map(|register| &register.rules) {
            match *rule {
                Rule::While { condition, value } => [condition, value].map(&mut mark),
                Rule::On { clock, condition, value, .. } => {
                    condition.into_iter().for_each(&mut mark);
                    [clock, value].map(&mut mark)
                }
            };
        }
        for root in roots.iter() {
            mark(**root);
        }
        for index in (0..self.nodes.len()).rev() {
            if used[index] {
                for operand in operands(self.nodes[index]).into_iter().flatten() {
                    used[operand.0 as usize] = true;
                }
            }
        }
        let mut renumbered = vec![ZERO; self.nodes.len()];
        for (index, node) in self.nodes.iter().enumerate() {
            if used[index] {
                renumbered[index] = NodeId(network.nodes.len() as u32);
                network.nodes.push(moved(*node, &renumbered));
            }
        }
        let new = |id: &mut NodeId| *id = renumbered[id.0 as usize];
        for driver in &mut network.drivers {
            new(&mut driver.value);
            driver.enable.iter_mut().for_each(new);
        }
        for rule in network.registers.iter_mut().flat_map(|register| &mut register.rules) {
            match rule {
                Rule::While { condition, value } => [condition, value].map(new),
                Rule::On { clock, condition, value, .. } => {
                    condition.iter_mut().for_each(new);
                    [clock, value].map(new)
                }
            };
        }
        for root in roots {
            new(root);
        }
        network
    }
}

fn operands(node: Node) -> [Option<NodeId>; 3] {
    match node {
        Node::Zero | Node::One | Node::Unknown | Node::Pin(_) | Node::State(_) => [None; 3],
        Node::Not(a) => [Some(a), None, None],
        Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => [Some(a), Some(b), None],
        Node::Mux { select, high, low } => [Some(select), Some(high), Some(low)],
    }
}

fn moved(node: Node, to: &[NodeId]) -> Node {
    let new = |id: NodeId| to[id.0 as usize];
    match node {
        Node::Not(a) => Node::Not(new(a)),
        Node::And(a, b) => Node::And(new(a), new(b)),
        Node::Or(a, b) => Node::Or(new(a), new(b)),
        Node::Xor(a, b) => Node::Xor(new(a), new(b)),
        Node::Mux { select, high, low } => {
            Node::Mux { select: new(select), high: new(high), low: new(low) }
        }
        leaf => leaf,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gates_are_shared_and_folded() {
        let mut gates = Gates::new();
        let (a, b) = (gates.pin(PinId(0)), gates.pin(PinId(1)));
        assert_eq!(gates.and(a, b), gates.and(b, a));
        let not_a = gates.not(a);
        assert_eq!(gates.not(not_a), a);
        assert_eq!(gates.and(a, not_a), ZERO);
        assert_eq!(gates.or(a, not_a), ONE);
        assert_eq!(gates.xor(a, a), ZERO);
        assert_eq!(gates.mux(b, a, a), a);
        assert_eq!(gates.mux(a, ONE, ZERO), a);
        assert_eq!(gates.mux(a, ZERO, ONE), not_a);
    }

    #[test]
    fn unknowns_are_not_folded_with_each_other() {
        let mut gates = Gates::new();
        let unknown = gates.unknown();
        let a = gates.pin(PinId(0));
        let doubtful = gates.and(a, unknown);
        assert_ne!(gates.xor(doubtful, doubtful), ZERO);
        let inverse = gates.not(doubtful);
        assert_ne!(gates.and(doubtful, inverse), ZERO);
    }
}
