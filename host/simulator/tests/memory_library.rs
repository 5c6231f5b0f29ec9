//! Every memory of the library works in the socket, driven by nothing but its description.

use dipsift_language::{Class, Library, Machine, Memory, NodeId, Part, PinId, Role, Word};
use dipsift_pins::{Connection, Keepers, Microamps, Positions, Rail, Socket, Supply, Voltage};
use dipsift_simulator::{Chip, Fixture, SimulatedSocket, position_of};
use embedded_hal::delay::DelayNs;
use std::sync::Arc;

/// Longer than any output of any family takes to bring a position to rest: a firm keeper of
/// 2.2 kilohm behind an open collector takes five times 60 pF of it.
const SETTLE_NS: u32 = 1_000;

/// Levels of the control pins that bring a state about.
struct States {
    control: Vec<PinId>,
    idle: u32,
    read: u32,
    write: Option<u32>,
}

fn states(part: &Part, memory: &Memory) -> States {
    let busy = |pin: &PinId| {
        [&memory.address, &memory.data_in, &memory.data_out, &memory.strobes]
            .iter()
            .any(|pins| pins.contains(pin))
    };
    let control: Vec<PinId> =
        part.pin_ids().filter(|pin| part.pin(*pin).role == Role::Input && !busy(pin)).collect();
    let holds = |levels: u32, strobed: bool, node: Option<NodeId>| {
        let Some(node) = node else { return false };
        let mut machine = Machine::new(Arc::new(part.network.clone()), part.pins.len());
        for (bit, &pin) in control.iter().enumerate() {
            machine.apply(pin, Word::all(levels >> bit & 1 == 1));
        }
        for &pin in &memory.strobes {
            machine.apply(pin, Word::all(!strobed));
        }
        machine.settle();
        machine.node(node) == Word::HIGH
    };
    let all = 0..1 << control.len();
    let (reads, writes) = (memory.read, memory.write);
    let avoided = |levels| part.avoid.iter().any(|&node| holds(levels, true, Some(node)));
    // Nothing is active, whatever the strobes do; the most pins of it high, as most are active low.
    let idle = all
        .clone()
        .filter(|&levels| !holds(levels, memory.strobes.is_empty(), reads))
        .filter(|&levels| !holds(levels, true, writes) && !holds(levels, true, memory.latch))
        .filter(|&levels| !avoided(levels))
        .max_by_key(|levels| levels.count_ones())
        .unwrap();
    let nearest = |wanted: &dyn Fn(u32) -> bool| {
        all.clone()
            .filter(|&levels| wanted(levels))
            .min_by_key(|levels| (levels ^ idle).count_ones())
    };
    let read = nearest(&|levels| {
        holds(levels, true, reads) && !holds(levels, true, writes) && !avoided(levels)
    });
    let write = nearest(&|levels| holds(levels, true, writes));
    States { idle, read: read.unwrap(), write, control }
}

struct Desk {
    socket: SimulatedSocket,
    part: Arc<Part>,
    memory: Memory,
    states: States,
    pins: u8,
    shift: u8,
    driven: Positions,
    high: Positions,
}

impl Desk {
    fn of(&self, pin: PinId) -> Positions {
        self.part.packages[0].numbers(pin).fold(Positions::NONE, |set, number| {
            set | Positions::one(position_of(number, self.pins, self.shift, false).unwrap())
        })
    }

    fn with_role(&self, roles: &[Role]) -> Positions {
        self.part
            .pin_ids()
            .filter(|&id| roles.contains(&self.part.pin(id).role))
            .fold(Positions::NONE, |set, id| set | self.of(id))
    }

    fn put(&mut self, pins: &[PinId], value: u32) {
        for (bit, &pin) in pins.iter().rev().enumerate() {
            self.set(pin, value >> bit & 1 == 1);
        }
    }

    fn set(&mut self, pin: PinId, high: bool) {
        let pins = self.of(pin);
        self.driven |= pins;
        self.high = if high { self.high | pins } else { self.high.without(pins) };
    }

    fn state(&mut self, levels: u32) {
        for (bit, pin) in self.states.control.clone().into_iter().enumerate() {
            self.set(pin, levels >> bit & 1 == 1);
        }
    }

    fn go(&mut self, ns: u32) {
        let drive = self.socket.prepare_drive(self.driven, self.high);
        self.socket.apply(&drive);
        self.socket.delay_ns(ns);
    }

    fn strobe(&mut self, which: usize, active: bool) {
        self.set(self.memory.strobes[which], !active);
    }

    fn address(&mut self, row: u32, column: u32) {
        let memory = self.memory.clone();
        self.put(&memory.address, row);
        if !memory.strobes.is_empty() {
            self.go(100);
            self.strobe(0, true);
            self.go(100);
            let pins = if memory.column.is_empty() { &memory.address } else { &memory.column };
            self.put(pins, column);
        }
        self.go(100);
    }

    fn rest(&mut self) {
        self.state(self.states.idle);
        for strobe in 0..self.memory.strobes.len() {
            self.strobe(strobe, false);
        }
        self.go(300);
    }

    fn write(&mut self, row: u32, column: u32, word: u32) {
        let pins = self.memory.data_in.clone();
        self.address(row, column);
        self.put(&pins, word);
        self.go(1_000);
        self.state(self.states.write.unwrap());
        self.go(50);
        if !self.memory.strobes.is_empty() {
            self.strobe(1, true);
        }
        self.go(1_200);
        self.rest();
        for pin in self.memory.data_out.clone() {
            self.driven = self.driven.without(self.of(pin));
        }
        self.high = self.high.and(self.driven);
        self.go(100);
    }

    fn read(&mut self, row: u32, column: u32) -> u32 {
        self.address(row, column);
        self.state(self.states.read);
        if !self.memory.strobes.is_empty() {
            self.strobe(1, true);
        }
        let access = self.memory.grades.iter().map(|grade| grade.1).min().unwrap();
        self.go(2 * access + SETTLE_NS);
        let sample = self.socket.sample();
        let levels = self.socket.high(&sample);
        let pins = self.memory.data_out.iter().rev().enumerate();
        let word = pins.fold(0, |word, (bit, &pin)| {
            let complement = self.part.pin(pin).name.starts_with('/');
            let high = !levels.and(self.of(pin)).is_empty();
            word | u32::from(high != complement) << bit
        });
        self.rest();
        word
    }
}

/// A desk with a powered chip; `None` where the fixture cannot feed it.
fn desk(part: &Arc<Part>, contents: &[u8]) -> Option<Desk> {
    let memory = part.memory.clone()?;
    let family = part.made[0];
    let mut chip = Chip::new(part.clone(), family, 1).unwrap();
    if memory.write.is_none() {
        chip = chip.programmed(contents);
    }
    let shift = chip.natural_shift(&Fixture::default())?;
    let pins = chip.pins();
    let mut socket = SimulatedSocket::new(1);
    socket.insert(chip.at_shift(shift), &[]).unwrap();
    let states = states(part, &memory);
    let mut desk = Desk {
        socket,
        part: part.clone(),
        memory,
        states,
        pins,
        shift,
        driven: Positions::NONE,
        high: Positions::NONE,
    };
    let connection = Connection {
        feed: desk.with_role(&[Role::Supply, Role::Fed]),
        ground: desk.with_role(&[Role::Ground]),
        voltage: Voltage::V5,
        limit: Microamps(250_000),
    };
    // Open collectors of bipolar parts leak more than the light keepers give.
    let firm = if family.class() == Class::Ttl { Rail::High } else { Rail::Off };
    desk.socket.keep(Keepers { light: Rail::High, firm });
    desk.socket.connect(&connection).unwrap();
    let address = desk.memory.address.clone();
    desk.put(&address, 0);
    for pin in desk.memory.data_in.clone() {
        if !desk.memory.data_out.contains(&pin) {
            desk.set(pin, false);
        }
    }
    desk.rest();
    desk.socket.delay_ns(300_000);
    if !desk.memory.strobes.is_empty() {
        for row in 0..8 {
            desk.address(row, 0);
            desk.rest();
        }
    }
    Some(desk)
}

#[test]
fn every_memory_of_the_library_keeps_and_shows_its_words() {
    let library = Library::builtin();
    let mut seen = 0;
    let mut unfed = vec![];
    for part in library.iter() {
        let Some(memory) = &part.memory else { continue };
        if part.foreign_supplies().next().is_some() {
            continue;
        }
        let contents: Vec<u8> = (0..memory.words.min(1 << 17))
            .map(|address| (address.wrapping_mul(0x9E37_79B9) >> 21) as u8)
            .collect();
        let Some(mut desk) = desk(part, &contents) else {
            unfed.push(part.number.clone());
            continue;
        };
        let mask = u32::MAX >> (32 - memory.bits);
        let rows = 1 << memory.address.len();
        let columns = match (memory.strobes.len(), memory.column.len()) {
            (0, _) => 1,
            (_, 0) => rows,
            (_, pins) => 1 << pins,
        };
        // Every address line alone, and some at random.
        let places: Vec<(u32, u32)> = (0..40_u32)
            .map(|place| {
                let dice = place.wrapping_mul(0x85EB_CA6B) >> 3;
                let row = if place < 20 { 1_u32 << place } else { dice };
                (row % rows, (if place < 20 { row } else { dice >> 9 }) % columns)
            })
            .collect();
        let word = |&(row, column): &(u32, u32)| {
            if memory.write.is_none() {
                u32::from(contents[row as usize]) & mask
            } else {
                (row.wrapping_mul(0x9E37_79B9) ^ column.wrapping_mul(0xC2B2_AE35)) >> 11 & mask
            }
        };
        if memory.write.is_some() {
            for place in &places {
                desk.write(place.0, place.1, word(place));
            }
        }
        for place in &places {
            let read = desk.read(place.0, place.1);
            assert_eq!(read, word(place), "{} at {place:?}", part.number);
        }
        let counters = desk.socket.counters();
        let number = &part.number;
        assert_eq!(counters.contention_events, 0, "{number}");
        assert_eq!(counters.memory_violations, 0, "{number}");
        assert_eq!(counters.trips, 0, "{number}");
        assert_eq!(counters.power_ups, 1, "{number}");
        seen += 1;
    }
    assert!(seen >= 60, "{seen}; the fixture cannot feed {unfed:?}");
}
