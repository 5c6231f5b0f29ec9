//! The socket: what the station does to it, what every position shows, and when.

use crate::branch::{Branch, End, Shows, settling_seconds, solve, total};
use crate::quick::Quick;
use crate::random::{coin, shuffle};
use crate::seated::{Condition, Drive, Seated};
use crate::wiring::Wiring;
use crate::{Chip, ChipError, Defect, Fixture};
use dipsift_pins::{Keepers, Millivolts, Rail};
use std::cell::Cell;

/// What the simulator counts. None of it is visible to a station.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// How often a driver began to drive against an enabled output or another driver.
    pub contention_events: u64,
    /// The largest current of such a fight in microamperes.
    pub contention_peak_ua: u32,
    /// How many compared levels were between the station's certain levels.
    pub doubtful_samples: u64,
    /// How often the socket was sampled.
    pub samples: u64,
    /// How often drivers or keepers were set.
    pub changes: u64,
    /// How often the supply tripped.
    pub trips: u64,
    /// How often a chip was powered up until it worked.
    pub power_ups: u64,
    /// How often a memory's times were violated: a write that was too short, an address that moved
    /// during a write, a row strobe that lasted too long.
    pub memory_violations: u64,
}

/// The supply while it is connected; `feed` is empty after a trip.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Power {
    pub(crate) feed: u64,
    pub(crate) ground: u64,
    pub(crate) volts: f64,
    pub(crate) limit_amps: f64,
}

/// One conductor's state.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct NodeState {
    /// Where it will come to rest, or rests.
    pub(crate) volts: f64,
    /// What it shows until `due`.
    pub(crate) shown: f64,
    /// When it shows `volts`, in nanoseconds.
    pub(crate) due: u64,
    /// Nothing but leakage holds it.
    pub(crate) floating: bool,
    /// What it draws from the supply.
    pub(crate) supply_amps: f64,
    pub(crate) contending: bool,
}

/// Whether nothing but leakage holds a node at this voltage.
pub(crate) fn is_floating(branches: &[Branch], volts: f64) -> bool {
    -total(branches, volts).1 * 1e6 < 1.0
}

/// A set of nodes, bit by number.
pub(crate) type Nodes = u128;

/// An electrical model of the socket, its supply and its clock, with a chip or none.
#[derive(Clone, Debug)]
pub struct SimulatedSocket {
    pub(crate) fixture: Fixture,
    pub(crate) seed: u64,
    pub(crate) now: u64,
    pub(crate) driven: u64,
    pub(crate) high: u64,
    /// The levels that drivers have or would have.
    pub(crate) latched: u64,
    pub(crate) keepers: Keepers,
    pub(crate) power: Option<Power>,
    pub(crate) tripped: bool,
    pub(crate) seated: Option<Seated>,
    pub(crate) wiring: Wiring,
    pub(crate) nodes: Vec<NodeState>,
    visible_high: u64,
    visible_doubtful: u64,
    pub(crate) unsettled: Nodes,
    pub(crate) next_due: u64,
    pub(crate) counters: Counters,
    /// [`Counters::doubtful_samples`]: comparing a sample changes nothing else.
    pub(crate) doubtful: Cell<u64>,
    pub(crate) scratch: Vec<Branch>,
    /// Where the chip's nodes were found to rest, by node.
    pub(crate) solved: Vec<f64>,
    pub(crate) quick: Quick,
}

impl SimulatedSocket {
    /// An empty socket on the default fixture. The seed decides everything that chance decides:
    /// doubtful samples and the order in which drivers change.
    pub fn new(seed: u64) -> Self {
        Self::on(Fixture::default(), seed)
    }

    /// An empty socket on a fixture.
    pub fn on(fixture: Fixture, seed: u64) -> Self {
        let wiring = Wiring::new(None, 0);
        Self {
            fixture,
            seed,
            now: 0,
            driven: 0,
            high: 0,
            latched: 0,
            keepers: Keepers::OFF,
            power: None,
            tripped: false,
            seated: None,
            nodes: vec![NodeState::default(); wiring.nodes.len()],
            wiring,
            visible_high: 0,
            visible_doubtful: 0,
            unsettled: 0,
            next_due: u64::MAX,
            counters: Counters::default(),
            doubtful: Cell::new(0),
            scratch: Vec::new(),
            solved: Vec::new(),
            quick: Quick::default(),
        }
    }

    /// Puts a chip into the socket, in place of one that is there. [`Defect::Part`] and
    /// [`Defect::Family`] must have been applied by [`Chip::replaced`] and are not looked at.
    /// On an error the socket is as before.
    pub fn insert(&mut self, chip: Chip, defects: &[Defect]) -> Result<(), ChipError> {
        for defect in defects {
            chip.fits(defect)?;
        }
        self.keep_violations();
        let empty = defects.contains(&Defect::Empty);
        self.seated = (!empty).then(|| Seated::new(chip, defects));
        self.rewire();
        Ok(())
    }

    /// Takes the chip out.
    pub fn remove(&mut self) {
        self.keep_violations();
        self.seated = None;
        self.rewire();
    }

    fn violations(&self) -> u64 {
        let memory = self.seated.as_ref().and_then(|seated| seated.memory.as_ref());
        self.counters.memory_violations + memory.map_or(0, |memory| memory.violations())
    }

    /// What a chip that goes has been made to suffer stays counted.
    fn keep_violations(&mut self) {
        self.counters.memory_violations = self.violations();
    }

    /// The counters since the start.
    pub fn counters(&self) -> Counters {
        Counters {
            doubtful_samples: self.doubtful.get(),
            memory_violations: self.violations(),
            ..self.counters
        }
    }

    /// The fixture.
    pub fn fixture(&self) -> &Fixture {
        &self.fixture
    }

    /// The voltage at a position, 1 to 40, once everything has settled; 0 for any other number.
    pub fn voltage(&self, position: u8) -> f64 {
        let node = self.wiring.of_position.get(usize::from(position).wrapping_sub(1));
        node.map_or(0.0, |&node| self.nodes[usize::from(node)].volts)
    }

    /// The voltage at a position as it shows now.
    pub(crate) fn shown_millivolts(&self, position: u8) -> Millivolts {
        let node = self.nodes[usize::from(self.wiring.of_position[usize::from(position) - 1])];
        let volts = if node.due <= self.now { node.volts } else { node.shown };
        Millivolts((volts * 1_000.0).round().clamp(0.0, f64::from(u16::MAX)) as u16)
    }

    /// The supply's current in amperes.
    pub(crate) fn supply_amps(&self) -> f64 {
        if self.power.is_none_or(|power| power.feed == 0) {
            return 0.0;
        }
        let through = match (&self.seated, self.stiff()) {
            (Some(seated), true) => seated.through_amps(seated.vcc, seated.gnd),
            _ => 0.0,
        };
        through + self.nodes.iter().map(|node| node.supply_amps).sum::<f64>()
    }

    /// Works the conductors out anew and solves all of them.
    pub(crate) fn rewire(&mut self) {
        let wiring = Wiring::new(self.seated.as_ref(), self.counters.changes);
        let carried = wiring.nodes.iter().map(|node| {
            let first = node.positions.trailing_zeros() as usize;
            let old = self.wiring.of_position.get(first).map(|&old| self.nodes[usize::from(old)]);
            let volts = old.map_or(0.0, |old| old.volts);
            NodeState { volts, shown: volts, ..NodeState::default() }
        });
        self.nodes = carried.collect();
        self.solved = self.nodes.iter().map(|node: &NodeState| node.volts).collect();
        self.wiring = wiring;
        self.unsettled = 0;
        for node in 0..self.nodes.len() {
            self.publish(node);
        }
        self.update(Nodes::MAX);
    }

    /// Counts a change and lets intermittent contacts move.
    pub(crate) fn count_change(&mut self) {
        self.counters.changes += 1;
        if let Some(seated) = &mut self.seated {
            seated.roll();
        }
        if self.seated.as_ref().is_some_and(Seated::has_intermittent)
            && Wiring::new(self.seated.as_ref(), self.counters.changes) != self.wiring
        {
            self.rewire();
        }
    }

    /// Sets the drivers, one position after the other in a seeded order.
    pub(crate) fn set_drivers(&mut self, driven: u64, high: u64) {
        let high = high & driven;
        self.count_change();
        let changed = (self.driven ^ driven) | (self.high ^ high);
        if changed == 0 {
            return;
        }
        if !self.stiff() {
            (self.driven, self.high) = (driven, high);
            self.update(self.nodes_of(changed));
            return;
        }
        let mut order = [0_u8; 64];
        let mut count = 0;
        let mut rest = changed;
        while rest != 0 {
            order[count] = rest.trailing_zeros() as u8;
            count += 1;
            rest &= rest - 1;
        }
        let order = &mut order[..count];
        shuffle(self.seed ^ self.counters.changes, order);
        for &position in order.iter() {
            let bit = 1 << position;
            self.driven = (self.driven & !bit) | (driven & bit);
            self.high = (self.high & !bit) | (high & bit);
            self.move_driver(usize::from(self.wiring.of_position[usize::from(position)]));
        }
    }

    /// A node's drivers have changed, or what the chip does at it: every change of a level that
    /// the station or a memory makes comes through here.
    pub(crate) fn move_driver(&mut self, node: usize) {
        if !self.move_quickly(node) {
            self.update(1 << node);
        }
    }

    fn nodes_of(&self, mut positions: u64) -> Nodes {
        let mut nodes = 0;
        while positions != 0 {
            nodes |= 1 << self.wiring.of_position[positions.trailing_zeros() as usize];
            positions &= positions - 1;
        }
        nodes
    }

    /// Whether the chip's rails are held by switches, so that its pins do not influence each
    /// other.
    pub(crate) fn stiff(&self) -> bool {
        let (Some(power), Some((vcc, gnd))) = (self.power, self.wiring.rails) else {
            return false;
        };
        let (vcc, gnd) = (self.wiring.nodes[vcc].positions, self.wiring.nodes[gnd].positions);
        vcc & power.feed != 0
            && gnd & power.ground != 0
            && vcc & power.ground == 0
            && gnd & power.feed == 0
            && self.seated.as_ref().is_some_and(|seated| !seated.supply_shorted)
    }

    /// Solves nodes after a change, shows the chip its new levels, and looks at the supply.
    pub(crate) fn update(&mut self, dirty: Nodes) {
        if dirty == Nodes::MAX || !self.stiff() {
            self.forget_ways();
        }
        let mut dirty = dirty;
        // A chip that feeds on its pins may break its supply down by what it does with it. After
        // a few turns it may only lose its condition, so that it comes to rest.
        for turn in 0..8 {
            let stiff = self.stiff();
            let rails = match (self.power, stiff) {
                (Some(power), true) => (power.volts, 0.0),
                _ if self.seated.is_some() => self.solve_rails(),
                _ => (0.0, 0.0),
            };
            for node in 0..self.nodes.len() {
                let of_chip = self.wiring.is_of_chip(node);
                if dirty >> node & 1 == 1 && (stiff || !of_chip) {
                    self.solve_node(node, rails);
                } else if of_chip && !stiff {
                    let volts = self.solved[node];
                    self.arrive(node, Some(volts), rails);
                }
            }
            let now = self.now;
            let changed =
                self.seated.as_mut().is_some_and(|seated| seated.feed(rails, stiff, turn < 4, now));
            if !changed {
                if !stiff {
                    dirty = Nodes::MAX;
                }
                break;
            }
            dirty = Nodes::MAX;
            self.forget_ways();
        }
        self.sum_ways();
        self.show_chip(dirty);
        self.watch_supply();
    }

    /// Shows the chip the levels of nodes that were solved.
    fn show_chip(&mut self, solved: Nodes) {
        let Some(seated) = &mut self.seated else { return };
        let pins = seated.pins.len();
        for pin in 0..pins {
            let node = usize::from(self.wiring.of_pin[pin]);
            if solved >> node & 1 == 1 {
                let state = self.nodes[node];
                seated.show(pin, state.volts, state.floating, self.now);
            }
        }
        seated.start(self.now);
        self.counters.power_ups = self.counters.power_ups.max(seated.power_ups);
        self.next_due = seated.next_due();
    }

    /// Cuts the feed where its current passes the limit.
    pub(crate) fn watch_supply(&mut self) {
        let amps = self.supply_amps();
        if let Some(power) = &mut self.power
            && power.feed != 0
            && amps > power.limit_amps
        {
            power.feed = 0;
            self.tripped = true;
            self.counters.trips += 1;
            self.update(Nodes::MAX);
        }
    }

    /// The station's branches at a node.
    pub(crate) fn station_branches(&self, node: usize, out: &mut Vec<Branch>) {
        let fixture = &self.fixture;
        let mut positions = self.wiring.nodes[node].positions;
        while positions != 0 {
            let bit = positions & positions.wrapping_neg();
            positions &= positions - 1;
            if self.driven & bit != 0 {
                let volts = if self.high & bit != 0 { fixture.drive_volts } else { 0.0 };
                out.push(Branch::both(End::Station, volts, fixture.drive_ohms()));
            }
            for (rail, ohms) in
                [(self.keepers.light, fixture.light_ohms), (self.keepers.firm, fixture.firm_ohms)]
            {
                match rail {
                    Rail::Off => {}
                    Rail::Low => out.push(Branch::both(End::Station, 0.0, ohms)),
                    Rail::High => out.push(Branch::both(End::Station, fixture.drive_volts, ohms)),
                }
            }
            if let Some(power) = self.power {
                if power.feed & bit != 0 {
                    out.push(Branch::both(End::Feed, power.volts, fixture.switch_ohms));
                }
                if power.ground & bit != 0 {
                    out.push(Branch::both(End::Station, 0.0, fixture.switch_ohms));
                }
            }
            out.push(Branch::both(End::Station, 0.0, fixture.leak_ohms));
        }
    }

    /// Solves one node whose rails are known.
    fn solve_node(&mut self, node: usize, rails: (f64, f64)) {
        match self.wiring.rails {
            Some((at, _)) if at == node => self.arrive(node, Some(rails.0), rails),
            Some((_, at)) if at == node => self.arrive(node, Some(rails.1), rails),
            _ => self.arrive(node, None, rails),
        }
    }

    pub(crate) fn pin_branches(&self, node: usize, rails: (f64, f64), out: &mut Vec<Branch>) {
        if let Some(seated) = &self.seated {
            for &pin in &self.wiring.nodes[node].pins {
                seated.elements(usize::from(pin), rails.0, rails.1, out);
            }
        }
    }

    /// Takes over a node's new voltage, or finds it: when it will show, what it draws, whether it
    /// is a fight.
    fn arrive(&mut self, node: usize, volts: Option<f64>, rails: (f64, f64)) {
        let mut branches = std::mem::take(&mut self.scratch);
        branches.clear();
        self.station_branches(node, &mut branches);
        let of_station = branches.len();
        self.pin_branches(node, rails, &mut branches);
        let volts = volts.unwrap_or_else(|| solve(&branches, self.nodes[node].volts));
        let amps = |end: End, branches: &[Branch]| -> f64 {
            branches
                .iter()
                .filter(|branch| branch.end == end)
                .map(|branch| branch.at(volts).0)
                .sum()
        };
        let is_vcc = self.wiring.rails.is_some_and(|(vcc, _)| vcc == node);
        let fixed = self.wiring.rails.is_some_and(|(vcc, gnd)| vcc == node || gnd == node);
        let supply_amps = if !self.stiff() {
            amps(End::Feed, &branches)
        } else if is_vcc {
            // The rail is held at the supply's voltage; it delivers what the others take.
            -(amps(End::Station, &branches[..of_station]) + amps(End::Gnd, &branches[of_station..]))
        } else {
            amps(End::Vcc, &branches) + amps(End::Feed, &branches)
        };
        // The last change may have settled meanwhile.
        if self.nodes[node].due <= self.now {
            self.publish(node);
        }
        let count = self.wiring.nodes[node].positions.count_ones().max(1);
        let farads = self.fixture.node_farads * f64::from(count);
        let from = self.nodes[node].volts;
        let moved = (from - volts).abs() > 1e-3;
        // A node on its way to the same level may get there sooner by what now pulls it.
        let on_its_way = self.nodes[node].due > self.now;
        let start = if moved { from } else { self.nodes[node].shown };
        let seconds = if (moved || on_its_way) && !fixed {
            settling_seconds(&branches, start, volts, farads, self.shows())
        } else {
            0.0
        };
        let floating = is_floating(&branches, volts);
        self.scratch = branches;
        let state = &mut self.nodes[node];
        state.volts = volts;
        state.floating = floating && !fixed;
        state.supply_amps = supply_amps;
        let due = self.now + (seconds * 1e9).ceil() as u64;
        if moved {
            state.due = due;
            self.unsettled |= 1 << node;
        } else if on_its_way {
            state.due = state.due.min(due);
        }
        self.look_for_a_fight(node, volts);
    }

    /// When nodes show their levels with the chip that is seated.
    pub(crate) fn shows(&self) -> Shows {
        match &self.seated {
            Some(seated) if seated.memory.is_some() => Shows::WhenDecided,
            _ => Shows::AtRest,
        }
    }

    /// A fight is a driver against a working chip's output, or against another driver.
    pub(crate) fn look_for_a_fight(&mut self, node: usize, volts: f64) {
        let place = &self.wiring.nodes[node];
        let mine = place.positions & self.driven;
        let high = mine & self.high;
        let mut against = mine != 0 && high != 0 && high != mine;
        if let Some(seated) = &self.seated
            && seated.condition == Condition::Alive
            && mine != 0
        {
            let opposed = if high != 0 { Drive::Low } else { Drive::High };
            against |= place.pins.iter().any(|&pin| seated.pins[usize::from(pin)].drive == opposed);
        }
        if against {
            let source = |level: f64| ((level - volts) / self.fixture.drive_ohms()).abs();
            let amps: f64 = if high != 0 { source(self.fixture.drive_volts) } else { source(0.0) };
            let peak = (amps * 1e6).round() as u32;
            let counters = &mut self.counters;
            counters.contention_peak_ua = counters.contention_peak_ua.max(peak);
            counters.contention_events += u64::from(!self.nodes[node].contending);
        }
        self.nodes[node].contending = against;
    }

    /// Lets a node show where it rests.
    pub(crate) fn publish(&mut self, node: usize) {
        let state = &mut self.nodes[node];
        state.shown = state.volts;
        self.unsettled &= !(1 << node);
        let positions = self.wiring.nodes[node].positions;
        let (low, high) = (self.fixture.low_volts, self.fixture.high_volts);
        let is_high = state.shown > high;
        let doubtful = !is_high && state.shown >= low;
        self.visible_high = self.visible_high & !positions | if is_high { positions } else { 0 };
        self.visible_doubtful =
            self.visible_doubtful & !positions | if doubtful { positions } else { 0 };
    }

    /// Lets everything show whatever it will come to, at once.
    pub(crate) fn settle_at_once(&mut self, positions: u64) {
        let mut nodes = self.nodes_of(positions);
        while nodes != 0 {
            let node = nodes.trailing_zeros() as usize;
            nodes &= nodes - 1;
            self.nodes[node].due = self.now;
            self.publish(node);
        }
    }

    /// What shows at the controller's pins, and what of it is doubtful. A driven one stands
    /// between the driver's own resistance and the series resistor, so that a position which does
    /// not follow its driver shows there in part only.
    fn before_the_resistors(&self) -> (u64, u64) {
        let (mut levels, mut doubtful) = (self.visible_high, self.visible_doubtful);
        let mut differing = self.driven & (levels ^ self.high | doubtful);
        while differing != 0 {
            let position = differing.trailing_zeros();
            differing &= differing - 1;
            let bit = 1 << position;
            let node = &self.nodes[usize::from(self.wiring.of_position[position as usize])];
            let volts = self.fixture.before_resistor(node.shown, self.high & bit != 0);
            levels = levels & !bit | if volts > self.fixture.high_volts { bit } else { 0 };
            let unclear = volts >= self.fixture.low_volts && volts <= self.fixture.high_volts;
            doubtful = doubtful & !bit | if unclear { bit } else { 0 };
        }
        (levels, doubtful)
    }

    /// The levels that the controller reads for all positions, bit 0 is position 1, and which of
    /// them are doubtful. A doubtful level is decided by the seed, the position and the number of
    /// the sample.
    pub(crate) fn read_levels(&mut self) -> (u64, u64) {
        let mut waiting = self.unsettled;
        while waiting != 0 {
            let node = waiting.trailing_zeros() as usize;
            waiting &= waiting - 1;
            if self.nodes[node].due <= self.now {
                self.publish(node);
            }
        }
        self.counters.samples += 1;
        let (mut levels, mut doubtful) = self.before_the_resistors();
        while doubtful != 0 {
            let position = doubtful.trailing_zeros();
            doubtful &= doubtful - 1;
            if coin(self.seed, u64::from(position), self.counters.samples) {
                levels |= 1 << position;
            }
        }
        (levels, self.visible_doubtful)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dipsift_language::Library;
    use dipsift_pins::{Connection, Microamps, Positions, Supply, Voltage};

    /// A transceiver with nothing at its pins knows neither its direction nor whether it is
    /// enabled, and each of its outputs is the input of another.
    #[test]
    fn a_chip_without_known_inputs_comes_to_rest() {
        let part = Library::builtin().part("74245").unwrap().clone();
        let family = dipsift_language::Family::Hc;
        for seed in 0..20 {
            let mut socket = SimulatedSocket::new(seed);
            socket.insert(Chip::new(part.clone(), family, seed).unwrap(), &[]).unwrap();
            let connection = Connection {
                feed: Positions::one(40),
                ground: Positions::one(10),
                voltage: Voltage::V3_3,
                limit: Microamps(150_000),
            };
            socket.connect(&connection).unwrap();
            socket.advance(10_000);
            assert_eq!(socket.counters().power_ups, 1);
            assert_eq!(socket.next_due, u64::MAX, "seed {seed}");
        }
    }
}
