//! Evaluates a network: 64 independent lanes at once, each in three values.

use crate::{Driver, Edge, Network, Node, NodeId, PinId, Rule, StateId, Word};
use std::sync::Arc;

/// Whether a network came to rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Settled {
    /// It did.
    Stable,
    /// It did not; the signals that kept changing are now unknown.
    Oscillates,
}

/// What a machine looks up about its network, worked out once.
#[derive(Debug)]
struct Plan {
    network: Arc<Network>,
    /// Each pin's driver, as an index.
    drivers: Vec<Option<usize>>,
    /// Drivers of pins that the network reads back itself.
    read_back: Vec<usize>,
    /// Rounds after which what still changes is made unknown.
    rounds: usize,
}

/// A network with its present levels and contents.
#[derive(Clone, Debug)]
pub struct Machine {
    plan: Arc<Plan>,
    /// Levels applied from outside, by pin.
    applied: Vec<Word>,
    /// Levels on the pins as the network reads them.
    levels: Vec<Word>,
    nodes: Vec<Word>,
    /// The nodes as they were in the round before: edges are seen in the difference, and values
    /// are taken from here.
    before: Vec<Word>,
    states: Vec<Word>,
    /// The contents that the registers take next.
    next: Vec<Word>,
    /// Whether `nodes` has been worked out once.
    started: bool,
}

/// A chain of registers that clock each other settles in as many rounds as it has stages, and
/// there may be some such chains one after the other.
const ROUNDS: usize = 200;

impl Machine {
    /// A network at power-up: registers unknown, inputs unknown.
    pub fn new(network: Arc<Network>, pins: usize) -> Self {
        let mut drivers = vec![None; pins];
        for (index, driver) in network.drivers.iter().enumerate() {
            drivers[usize::from(driver.pin.0)] = Some(index);
        }
        let reads = |driver: &Driver| network.nodes.contains(&Node::Pin(driver.pin));
        let read_back =
            (0..network.drivers.len()).filter(|&index| reads(&network.drivers[index])).collect();
        Self {
            applied: vec![Word::UNKNOWN; pins],
            levels: vec![Word::UNKNOWN; pins],
            nodes: vec![Word::UNKNOWN; network.nodes.len()],
            before: vec![Word::UNKNOWN; network.nodes.len()],
            states: vec![Word::UNKNOWN; network.registers.len()],
            next: vec![Word::UNKNOWN; network.registers.len()],
            started: false,
            plan: Arc::new(Plan {
                rounds: ROUNDS + 2 * network.registers.len(),
                drivers,
                read_back,
                network,
            }),
        }
    }

    /// The network.
    pub fn network(&self) -> &Arc<Network> {
        &self.plan.network
    }

    /// Applies a level to a pin from outside. Takes effect with [`settle`](Self::settle).
    pub fn apply(&mut self, pin: PinId, level: Word) {
        self.applied[usize::from(pin.0)] = level;
    }

    /// The level applied to a pin.
    pub fn applied(&self, pin: PinId) -> Word {
        self.applied[usize::from(pin.0)]
    }

    /// Sets a register's content. Meant for a chosen power-up state, before the first
    /// [`settle`](Self::settle): later, a register that is clocked by this one sees an edge.
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
        match self.plan.drivers[usize::from(pin.0)] {
            Some(index) => self.drive(&self.plan.network.drivers[index]),
            None => (Word::UNKNOWN, Word::LOW),
        }
    }

    /// Brings the network to rest after inputs changed.
    ///
    /// A register whose clock may or may not have seen an edge, since it is or was unknown,
    /// becomes what both cases agree on. Registers take values and look at conditions as they
    /// were before the change that made the edge: where data and clock change in one call, the
    /// old data counts. The first call sees no edges.
    pub fn settle(&mut self) -> Settled {
        let plan = Arc::clone(&self.plan);
        let mut outcome = Settled::Stable;
        // What changes without end is made unknown after some rounds. Unknown only spreads, so
        // that as many rounds again bring any network to rest.
        for round in 0..2 * plan.rounds {
            std::mem::swap(&mut self.nodes, &mut self.before);
            self.evaluate(&plan);
            if !self.started {
                self.before.copy_from_slice(&self.nodes);
                self.started = true;
            }
            let spread = round >= plan.rounds;
            if !self.clock_registers(&plan.network, spread) {
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

    /// Works out the nodes. A pin that the chip drives itself is read at the level it drives, so
    /// they are worked out again until those levels stand.
    fn evaluate(&mut self, plan: &Plan) {
        self.levels.copy_from_slice(&self.applied);
        // A level passes one pin in each pass; what still changes after that chases itself
        // through the pins and is unknown.
        let passes = plan.read_back.len() + 1;
        for pass in 0.. {
            self.evaluate_nodes(&plan.network);
            let mut changed = false;
            for &index in &plan.read_back {
                let driver = &plan.network.drivers[index];
                let (value, enable) = self.drive(driver);
                let at = usize::from(driver.pin.0);
                let old = self.levels[at];
                let level = enable.select(value, self.applied[at]);
                let level = if pass >= passes { old.merge(level) } else { level };
                changed |= level != old;
                self.levels[at] = level;
            }
            if !changed {
                break;
            }
        }
    }

    fn evaluate_nodes(&mut self, network: &Network) {
        for (index, node) in network.nodes.iter().enumerate() {
            self.nodes[index] = match *node {
                Node::Zero => Word::LOW,
                Node::One => Word::HIGH,
                Node::Unknown => Word::UNKNOWN,
                Node::Pin(pin) => self.levels[usize::from(pin.0)],
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
    }

    /// Lets every register take its next content, all at once. Returns whether any changed.
    fn clock_registers(&mut self, network: &Network, spread: bool) -> bool {
        let mut changed = false;
        for (index, register) in network.registers.iter().enumerate() {
            let old = self.states[index];
            let mut value = old;
            for rule in &register.rules {
                if let Rule::On { clock, edge, condition, value: taken } = *rule {
                    value = self.at_edge(value, clock, edge, condition, taken);
                }
            }
            for rule in register.rules.iter().rev() {
                if let Rule::While { condition, value: level } = *rule {
                    value = self.node(condition).select(self.node(level), value);
                }
            }
            let value = if spread { old.merge(value) } else { value };
            changed |= value != old;
            self.next[index] = value;
        }
        std::mem::swap(&mut self.states, &mut self.next);
        changed
    }

    /// What a register that would keep `kept` has after a rule looked at its clock.
    fn at_edge(
        &self,
        kept: Word,
        clock: NodeId,
        edge: Edge,
        condition: Option<NodeId>,
        value: NodeId,
    ) -> Word {
        let before = |node: NodeId| self.before[node.0 as usize];
        let (from, to) = match edge {
            Edge::Rise => (before(clock), self.node(clock)),
            Edge::Fall => (before(clock).not(), self.node(clock).not()),
        };
        // Certain where it was surely low and is surely high; possible where it could be.
        let certain = !from.high & !to.low;
        let possible = from.low & to.high;
        if possible == 0 {
            return kept;
        }
        let holds = condition.map_or(Word::HIGH, before);
        let taken = holds.select(before(value), kept);
        let mut maybe = kept.merge(taken);
        // Where the clock is unknown now, its edge may also come after all else has changed.
        let open = to.unknown();
        if open != 0 {
            let holds = condition.map_or(Word::HIGH, |node| self.node(node));
            let late = holds.select(self.node(value), kept);
            maybe.low |= late.low & open;
            maybe.high |= late.high & open;
        }
        let by_lane = |sure: u64, may: u64, keep: u64| {
            (sure & certain) | (may & possible & !certain) | (keep & !possible)
        };
        Word {
            low: by_lane(taken.low, maybe.low, kept.low),
            high: by_lane(taken.high, maybe.high, kept.high),
        }
    }
}
