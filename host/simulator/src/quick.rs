//! The short way for a memory's pins.
//!
//! While switches hold the chip's rails and nothing else changes, a position with one pin at it
//! can only come to rest in nine ways: its driver is off, low or high, and so is the chip's
//! output. Each is solved once, as is the time from each to each; after that a change is a look
//! into a table. Whatever else changes forgets the tables.

use crate::SimulatedSocket;
use crate::branch::{Branch, End, settling_seconds, solve};
use crate::seated::{Condition, Drive, Level};
use crate::socket::is_floating;

/// How a node rests.
#[derive(Clone, Copy, Debug)]
struct Rest {
    volts: f64,
    floating: bool,
    supply_amps: f64,
    /// What an input takes it for.
    level: Level,
}

/// One node's ways to rest.
#[derive(Clone, Debug)]
struct Place {
    pin: u8,
    position: u64,
    is_input: bool,
    /// How it rests now.
    way: usize,
    rests: [Option<Rest>; WAYS],
    /// From each to each, in nanoseconds.
    times: [[u32; WAYS]; WAYS],
}

/// Three things a driver does, and three an output does.
const WAYS: usize = 9;
/// A time that has not been worked out.
const NOT_YET: u32 = u32::MAX;

/// The tables of all nodes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Quick {
    /// By node; `None` for one that is solved each time. Empty where the tables do not hold.
    places: Vec<Option<Place>>,
    /// What the pins draw from the supply, in picoamperes so that a running sum stays exact.
    supply_pico: i64,
    /// What they may draw before the limit must be looked at.
    most_pico: i64,
}

fn pico(amps: f64) -> i64 {
    (amps * 1e12) as i64
}

impl SimulatedSocket {
    /// Forgets the tables.
    pub(crate) fn forget_ways(&mut self) {
        self.quick.places.clear();
    }

    /// Sets the tables up anew where they can hold, after everything was solved.
    fn learn_ways(&mut self) -> bool {
        let (Some(seated), Some(power)) = (&self.seated, self.power) else { return false };
        if seated.memory.is_none() || seated.condition != Condition::Alive || !self.stiff() {
            return false;
        }
        let mut places = Vec::with_capacity(self.nodes.len());
        for (index, node) in self.wiring.nodes.iter().enumerate() {
            let is_rail = self.wiring.rails.is_some_and(|(vcc, gnd)| vcc == index || gnd == index);
            let single = node.positions.count_ones() == 1 && !is_rail;
            places.push(match node.pins[..] {
                [pin] if single && seated.pins[usize::from(pin)].has_no_memory_of_levels() => {
                    Some(Place {
                        pin,
                        position: node.positions,
                        is_input: seated.pins[usize::from(pin)].is_input(),
                        // None yet.
                        way: WAYS,
                        rests: [None; WAYS],
                        times: [[NOT_YET; WAYS]; WAYS],
                    })
                }
                _ => None,
            });
        }
        let through = seated.through_amps(seated.vcc, seated.gnd);
        let most_pico = pico(0.999 * power.limit_amps - through);
        self.quick = Quick { places, supply_pico: 0, most_pico };
        self.sum_ways();
        true
    }

    /// Sums anew what the pins draw, after nodes were solved the long way.
    pub(crate) fn sum_ways(&mut self) {
        if !self.quick.places.is_empty() {
            self.quick.supply_pico = self.nodes.iter().map(|node| pico(node.supply_amps)).sum();
        }
    }

    /// Brings a node to its new rest by the tables; `false` where that is not possible and
    /// nothing was done.
    pub(crate) fn move_quickly(&mut self, node: usize) -> bool {
        if self.quick.places.is_empty() && !self.learn_ways() {
            return false;
        }
        let Some(Some(place)) = self.quick.places.get(node) else { return false };
        let (pin, bit, was) = (usize::from(place.pin), place.position, place.way);
        let Some(seated) = &self.seated else { return false };
        let driver = match (self.driven & bit != 0, self.high & bit != 0) {
            (false, _) => 0,
            (true, false) => 1,
            (true, true) => 2,
        };
        let drive = seated.pins[pin].drive;
        let way = 3 * driver + drive as usize;
        let rest = match place.rests[way] {
            Some(rest) => rest,
            None => self.find_rest(node, way),
        };
        self.settle_into(node, was, way, rest);
        let opposed = match driver {
            0 => false,
            1 => drive == Drive::High,
            _ => drive == Drive::Low,
        };
        if opposed || self.nodes[node].contending {
            self.look_for_a_fight(node, rest.volts);
        }
        let Some(Some(place)) = self.quick.places.get_mut(node) else { return true };
        place.way = way;
        if place.is_input
            && let Some(seated) = &mut self.seated
            && seated.pins[pin].level != rest.level
        {
            seated.take_level(pin, rest.level, self.now);
            self.next_due = seated.next_due();
        }
        if self.quick.supply_pico > self.quick.most_pico {
            self.watch_supply();
        }
        true
    }

    /// A node leaves its old rest for a new one.
    fn settle_into(&mut self, node: usize, was: usize, way: usize, rest: Rest) {
        let now = self.now;
        if self.nodes[node].due <= now && self.unsettled >> node & 1 == 1 {
            self.publish(node);
        }
        let state = self.nodes[node];
        let moved = (state.volts - rest.volts).abs() > 1e-3;
        let on_its_way = state.due > now;
        let due = if moved {
            now + self.time_between(node, was, way, rest.volts)
        } else if on_its_way {
            state.due.min(now + self.time_from(node, state.shown, rest.volts))
        } else {
            state.due
        };
        let state = &mut self.nodes[node];
        let draws = pico(state.supply_amps);
        state.due = due;
        state.volts = rest.volts;
        state.floating = rest.floating;
        state.supply_amps = rest.supply_amps;
        if moved {
            self.unsettled |= 1 << node;
        }
        self.quick.supply_pico += pico(rest.supply_amps) - draws;
    }

    fn branches_at(&mut self, node: usize) -> Vec<Branch> {
        let mut branches = std::mem::take(&mut self.scratch);
        branches.clear();
        let rails = self.seated.as_ref().map_or((0.0, 0.0), |seated| (seated.vcc, seated.gnd));
        self.station_branches(node, &mut branches);
        self.pin_branches(node, rails, &mut branches);
        branches
    }

    fn find_rest(&mut self, node: usize, way: usize) -> Rest {
        let branches = self.branches_at(node);
        let volts = solve(&branches, self.nodes[node].volts);
        let draws = |branch: &&Branch| matches!(branch.end, End::Vcc | End::Feed);
        let supply_amps = branches.iter().filter(draws).map(|branch| branch.at(volts).0).sum();
        let floating = is_floating(&branches, volts);
        self.scratch = branches;
        let place = self.quick.places.get_mut(node).and_then(Option::as_mut);
        let level = match (&place, &self.seated) {
            (Some(place), Some(seated)) => {
                seated.judge(&seated.pins[usize::from(place.pin)], volts, floating)
            }
            _ => Level::Undefined,
        };
        let rest = Rest { volts, floating, supply_amps, level };
        if let Some(place) = place {
            place.rests[way] = Some(rest);
        }
        rest
    }

    fn time_between(&mut self, node: usize, was: usize, way: usize, volts: f64) -> u64 {
        let from = self.nodes[node].volts;
        let known = self.quick.places[node].as_mut().and_then(|place| {
            let start = place.rests.get(was).copied().flatten()?;
            (start.volts == from).then(|| &mut place.times[was][way])
        });
        match known {
            Some(&mut time) if time != NOT_YET => time.into(),
            Some(_) => {
                let time = self.time_from(node, from, volts);
                if let Some(place) = &mut self.quick.places[node] {
                    place.times[was][way] = u32::try_from(time).unwrap_or(NOT_YET);
                }
                time
            }
            None => self.time_from(node, from, volts),
        }
    }

    fn time_from(&mut self, node: usize, from: f64, volts: f64) -> u64 {
        let branches = self.branches_at(node);
        let farads = self.fixture.node_farads;
        let seconds = settling_seconds(&branches, from, volts, farads, self.shows());
        self.scratch = branches;
        (seconds * 1e9).ceil() as u64
    }
}
