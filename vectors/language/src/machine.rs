//! Evaluates a network: 64 independent lanes at once, each in three values.

use crate::{Driver, Edge, Network, Node, NodeId, PinId, Rule, StateId};
use std::sync::Arc;

/// One signal in 64 lanes. A lane that can be both low and high is unknown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Word {
    /// The lanes that can be low.
    pub low: u64,
    /// The lanes that can be high.
    pub high: u64,
}

impl Word {
    /// Low in every lane.
    pub const LOW: Self = Self { low: u64::MAX, high: 0 };
    /// High in every lane.
    pub const HIGH: Self = Self { low: 0, high: u64::MAX };
    /// Unknown in every lane.
    pub const UNKNOWN: Self = Self { low: u64::MAX, high: u64::MAX };

    /// The same level in every lane.
    pub const fn all(high: bool) -> Self {
        if high { Self::HIGH } else { Self::LOW }
    }

    /// Lane n is high where bit n is set, else low.
    pub const fn lanes(high: u64) -> Self {
        Self { low: !high, high }
    }

    /// Lane 0's level; `None` where it is unknown.
    pub const fn known(self) -> Option<bool> {
        match (self.low & 1, self.high & 1) {
            (1, 0) => Some(false),
            (0, 1) => Some(true),
            _ => None,
        }
    }

    /// The lanes that are unknown.
    pub const fn unknown(self) -> u64 {
        self.low & self.high
    }

    /// Inversion.
    #[must_use]
    pub const fn not(self) -> Self {
        Self { low: self.high, high: self.low }
    }

    /// Conjunction.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self { low: self.low | other.low, high: self.high & other.high }
    }

    /// Disjunction.
    #[must_use]
    pub const fn or(self, other: Self) -> Self {
        Self { low: self.low & other.low, high: self.high | other.high }
    }

    /// Exclusive disjunction.
    #[must_use]
    pub const fn xor(self, other: Self) -> Self {
        Self {
            low: (self.low & other.low) | (self.high & other.high),
            high: (self.low & other.high) | (self.high & other.low),
        }
    }

    /// `high` where `self` is high, `low` where it is low, what both agree on where unknown.
    #[must_use]
    pub const fn select(self, high: Self, low: Self) -> Self {
        Self {
            low: (self.high & high.low) | (self.low & low.low),
            high: (self.high & high.high) | (self.low & low.high),
        }
    }

    /// Everything that either can be.
    #[must_use]
    pub const fn merge(self, other: Self) -> Self {
        Self { low: self.low | other.low, high: self.high | other.high }
    }
}

/// Whether a network came to rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Settled {
    /// It did.
    Stable,
    /// It did not; the signals that kept changing are now unknown.
    Oscillates,
}

/// A network with its present levels and contents.
#[derive(Clone, Debug)]
pub struct Machine {
    network: Arc<Network>,
    /// Levels applied from outside, by pin.
    applied: Vec<Word>,
    nodes: Vec<Word>,
    states: Vec<Word>,
    /// Every edge rule's clock, as it was when last looked at.
    clocks: Vec<Word>,
    /// Whether `clocks` has been filled.
    started: bool,
}

/// After this many rounds without rest, what still changes is made unknown; as many rounds again
/// bring any network to rest, since unknown only spreads.
const ROUNDS: usize = 200;

impl Machine {
    /// A network at power-up: registers unknown, inputs unknown.
    pub fn new(network: Arc<Network>, pins: usize) -> Self {
        let clocks = network
            .registers
            .iter()
            .flat_map(|register| &register.rules)
            .filter(|rule| matches!(rule, Rule::On { .. }))
            .count();
        Self {
            applied: vec![Word::UNKNOWN; pins],
            nodes: vec![Word::UNKNOWN; network.nodes.len()],
            states: vec![Word::UNKNOWN; network.registers.len()],
            clocks: vec![Word::UNKNOWN; clocks],
            started: false,
            network,
        }
    }

    /// The network.
    pub fn network(&self) -> &Arc<Network> {
        &self.network
    }

    /// Applies a level to a pin from outside. Takes effect with [`settle`](Self::settle).
    pub fn apply(&mut self, pin: PinId, level: Word) {
        self.applied[usize::from(pin.0)] = level;
    }

    /// The level applied to a pin.
    pub fn applied(&self, pin: PinId) -> Word {
        self.applied[usize::from(pin.0)]
    }

    /// Sets a register's content, for instance a chosen power-up state.
    pub fn set_state(&mut self, state: StateId, content: Word) {
        self.states[state.0 as usize] = content;
    }

    /// A register's content.
    pub fn state(&self, state: StateId) -> Word {
        self.states[state.0 as usize]
    }

    /// A node's level after the last [`settle`](Self::settle).
    pub fn node(&self, node: NodeId) -> Word {
        self.nodes[node.0 as usize]
    }

    /// What the chip drives onto a pin, and whether it does: (level, enable). A pin without a
    /// driver is never enabled.
    pub fn driven(&self, pin: PinId) -> (Word, Word) {
        match self.network.driver(pin) {
            Some(driver) => self.drive(driver),
            None => (Word::UNKNOWN, Word::LOW),
        }
    }

    /// Brings the network to rest after inputs changed.
    ///
    /// Registers whose clock may or may not have seen an edge (it is unknown) become what both
    /// cases agree on.
    pub fn settle(&mut self) -> Settled {
        let mut outcome = Settled::Stable;
        for round in 0..2 * ROUNDS {
            self.evaluate();
            let spread = round >= ROUNDS;
            if !self.clock_registers(spread) {
                break;
            }
            if spread {
                outcome = Settled::Oscillates;
            }
        }
        outcome
    }

    fn drive(&self, driver: &Driver) -> (Word, Word) {
        let enable = driver.enable.map_or(Word::HIGH, |node| self.node(node));
        (self.node(driver.value), enable)
    }

    /// Evaluates the gates. A pin that the chip drives itself is read at the level it drives, so
    /// gates are evaluated again until those levels stand.
    fn evaluate(&mut self) {
        let network = Arc::clone(&self.network);
        let mut levels = self.applied.clone();
        for pass in 0..4 {
            for (index, node) in network.nodes.iter().enumerate() {
                self.nodes[index] = match *node {
                    Node::Zero => Word::LOW,
                    Node::One => Word::HIGH,
                    Node::Unknown => Word::UNKNOWN,
                    Node::Pin(pin) => levels[usize::from(pin.0)],
                    Node::State(state) => self.states[state.0 as usize],
                    Node::Not(a) => self.node(a).not(),
                    Node::And(a, b) => self.node(a).and(self.node(b)),
                    Node::Or(a, b) => self.node(a).or(self.node(b)),
                    Node::Xor(a, b) => self.node(a).xor(self.node(b)),
                    Node::Mux { select, high, low } => {
                        self.node(select).select(self.node(high), self.node(low))
                    }
                };
            }
            let mut changed = false;
            for driver in &network.drivers {
                let (value, enable) = self.drive(driver);
                let at = usize::from(driver.pin.0);
                let level = enable.select(value, self.applied[at]);
                let level = if pass == 3 && level != levels[at] { Word::UNKNOWN } else { level };
                changed |= level != levels[at];
                levels[at] = level;
            }
            if !changed {
                break;
            }
        }
    }

    /// Lets every register take its next content from the present levels, all at once. Returns
    /// whether any changed.
    fn clock_registers(&mut self, spread: bool) -> bool {
        let network = Arc::clone(&self.network);
        let mut next = self.states.clone();
        let mut clock_index = 0;
        for (index, register) in network.registers.iter().enumerate() {
            let old = self.states[index];
            let mut kept = old;
            for rule in &register.rules {
                let Rule::On { clock, edge, condition, value } = *rule else { continue };
                let now = self.node(clock);
                let before = if self.started { self.clocks[clock_index] } else { now };
                self.clocks[clock_index] = now;
                clock_index += 1;
                let (from, to) = match edge {
                    Edge::Rise => (before, now),
                    Edge::Fall => (before.not(), now.not()),
                };
                // Certain where it was surely low and is surely high; possible where it could be.
                let certain = !from.high & !to.low;
                let possible = from.low & to.high;
                let holds = condition.map_or(Word::HIGH, |node| self.node(node));
                let taken = holds.select(self.node(value), kept);
                let maybe = kept.merge(taken);
                let by_lane = |sure: u64, may: u64, keep: u64| {
                    (sure & certain) | (may & possible & !certain) | (keep & !possible)
                };
                kept = Word {
                    low: by_lane(taken.low, maybe.low, kept.low),
                    high: by_lane(taken.high, maybe.high, kept.high),
                };
            }
            let mut value = kept;
            for rule in register.rules.iter().rev() {
                if let Rule::While { condition, value: level } = *rule {
                    value = self.node(condition).select(self.node(level), value);
                }
            }
            next[index] = if spread && value != old { old.merge(value) } else { value };
        }
        self.started = true;
        let changed = next != self.states;
        self.states = next;
        changed
    }
}
