//! An ideal socket for tests: levels without currents, a virtual clock, and a quad NAND gate or a
//! memory.
//!
//! The gate sits in a 14-pin package with pin 1 in position 1: inputs 1 2, 4 5, 9 10, 12 13;
//! outputs 3, 6, 8, 11; ground 7; supply 14.

#![allow(dead_code)] // every test uses another part of it

pub mod memory;

use dipsift_pins::{
    Clock, Connection, Keepers, Microamps, Millivolts, Moves, Nanoseconds, Positions, Rail, Socket,
    Supply, SupplyFault,
};
use dipsift_wire::{Capabilities, Header, Kind, Pins, Power, Rail as WireRail, Step, Voltage};
use embedded_hal::delay::DelayNs;
use memory::Memory;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// When the supply trips.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trip {
    Never,
    AtOnce,
    /// After this many calls of `apply` since it was connected.
    AfterApplies(u32),
    /// After this many partial changes and samples since it was connected.
    AfterMoves(u32),
}

#[derive(Clone, Debug)]
pub struct Ideal {
    pub driven: Positions,
    pub high: Positions,
    /// The levels that drivers have or would have.
    pub latched: Positions,
    /// Instead of the gate.
    pub memory: Option<Memory>,
    /// How long a partial change takes.
    pub move_ns: u64,
    pub keepers: Keepers,
    pub connection: Option<Connection>,
    pub now: u64,
    /// Time that passes outside of the station's hardware, on the line, is added to it.
    pub outside: Arc<AtomicU64>,
    pub trip: Trip,
    /// Positions that are stuck at a level, whatever drives them.
    pub stuck_low: Positions,
    pub stuck_high: Positions,
    /// How often levels, power and rails were changed, and how often positions were read.
    pub applies: u32,
    pub samples: u32,
    pub connects: u32,
    /// Every change of the keepers, in order.
    pub kept: Vec<Keepers>,
    pub applies_at_connect: u32,
    /// Partial changes and samples since it was connected.
    pub moves: u32,
    pub current_ua: u32,
    /// Whether the supply switches stick.
    pub sticks: bool,
}

impl Default for Ideal {
    fn default() -> Self {
        Self {
            // Whatever a board finds at start: the station has to release it.
            driven: Positions::ALL,
            high: Positions::ALL,
            latched: Positions::ALL,
            memory: None,
            move_ns: 0,
            keepers: Keepers { light: Rail::High, firm: Rail::Low },
            connection: None,
            now: 0,
            outside: Arc::default(),
            trip: Trip::Never,
            stuck_low: Positions::NONE,
            stuck_high: Positions::NONE,
            applies: 0,
            samples: 0,
            connects: 0,
            kept: Vec::new(),
            applies_at_connect: 0,
            moves: 0,
            current_ua: 8_000,
            sticks: false,
        }
    }
}

const GATES: [(u8, u8, u8); 4] = [(1, 2, 3), (4, 5, 6), (35, 36, 34), (38, 39, 37)];

impl Ideal {
    /// Whether everything is released, unpowered and without keepers.
    pub fn is_safe(&self) -> bool {
        self.connection.is_none() && self.driven.is_empty() && self.keepers == Keepers::OFF
    }

    fn powered(&self) -> bool {
        self.connection
            .is_some_and(|connection| connection.feed.contains(40) && connection.ground.contains(7))
    }

    /// Nanoseconds since the start.
    fn time(&self) -> u64 {
        self.now + self.outside.load(Ordering::Relaxed)
    }

    /// Shows the memory what the drivers do.
    fn show_memory(&mut self) {
        let now = self.time();
        if let Some(memory) = &mut self.memory {
            memory.change(self.driven, self.high, now);
        }
    }

    fn assert_not_supplied(&self, positions: Positions) {
        if let Some(connection) = self.connection {
            let supplied = connection.feed | connection.ground;
            assert!(!supplied.overlaps(positions), "supplied: {supplied:?} {positions:?}");
        }
    }

    /// The level without the chip; a position that nothing pulls floats high, as a TTL input
    /// does.
    fn pulled(&self, position: u8) -> bool {
        if self.driven.contains(position) {
            return self.high.contains(position);
        }
        match (self.keepers.firm, self.keepers.light) {
            (Rail::High, _) => true,
            (Rail::Low, _) => false,
            (Rail::Off, light) => light != Rail::Low,
        }
    }
}

impl Socket for Ideal {
    type Drive = (Positions, Positions);
    type Compare = (Positions, Positions);
    type Sample = Positions;

    fn prepare_drive(&self, driven: Positions, high: Positions) -> Self::Drive {
        (driven, high)
    }

    fn prepare_compare(&self, compared: Positions, high: Positions) -> Self::Compare {
        (compared, high)
    }

    fn apply(&mut self, &(driven, high): &Self::Drive) {
        if let Some(connection) = self.connection {
            let supplied = connection.feed | connection.ground;
            assert!(!supplied.overlaps(driven), "supplied and driven: {supplied:?} {driven:?}");
        }
        assert!(high.without(driven).is_empty());
        (self.driven, self.high) = (driven, high);
        self.latched = self.latched.without(driven) | high;
        self.applies += 1;
        self.show_memory();
    }

    fn sample(&mut self) -> Positions {
        self.samples += 1;
        self.moves += 1;
        let mut high = Positions::NONE;
        for position in 1..=40 {
            if self.pulled(position) {
                high |= Positions::one(position);
            }
        }
        if let Some(memory) = &self.memory {
            let (chip, levels) = memory.outputs(self.time());
            high = high.without(chip) | levels;
        } else if self.powered() {
            for (a, b, y) in GATES {
                if !self.driven.contains(y) {
                    let level = !(self.pulled(a) && self.pulled(b));
                    high = high.without(Positions::one(y));
                    high |= if level { Positions::one(y) } else { Positions::NONE };
                }
            }
            high |= Positions::one(40);
            high = high.without(Positions::one(7));
        }
        (high | self.stuck_high).without(self.stuck_low)
    }

    fn differing(&self, sample: &Positions, &(compared, high): &Self::Compare) -> Positions {
        (*sample ^ high) & compared
    }

    fn high(&self, sample: &Positions) -> Positions {
        *sample
    }

    fn keep(&mut self, keepers: Keepers) {
        self.kept.push(keepers);
        self.keepers = keepers;
    }

    fn release(&mut self) {
        self.driven = Positions::NONE;
        self.high = Positions::NONE;
        self.show_memory();
        self.keepers = Keepers::OFF;
    }
}

impl Ideal {
    fn has_tripped(&self) -> bool {
        match self.trip {
            Trip::Never => false,
            Trip::AtOnce => true,
            Trip::AfterApplies(count) => self.applies - self.applies_at_connect >= count,
            Trip::AfterMoves(count) => self.moves >= count,
        }
    }
}

impl Moves for Ideal {
    type Levels = (Positions, Positions);
    type Directions = Positions;

    const NO_LEVELS: Self::Levels = (Positions::NONE, Positions::NONE);

    fn prepare_levels(&self, positions: Positions, high: Positions) -> Self::Levels {
        (positions, high & positions)
    }

    fn join(first: Self::Levels, second: Self::Levels) -> Self::Levels {
        assert!(!first.0.overlaps(second.0), "both set a position");
        (first.0 | second.0, first.1 | second.1)
    }

    fn set(&mut self, &(positions, high): &Self::Levels) {
        self.assert_not_supplied(positions);
        self.latched = self.latched.without(positions) | high;
        self.high = self.latched & self.driven;
        self.moves += 1;
        self.now += self.move_ns;
        self.show_memory();
    }

    fn prepare_directions(&self, driven: Positions) -> Positions {
        driven
    }

    fn direct(&mut self, &driven: &Positions) {
        self.assert_not_supplied(driven);
        (self.driven, self.high) = (driven, self.latched & driven);
        self.moves += 1;
        self.now += self.move_ns;
        self.show_memory();
    }

    fn is_tripped(&self) -> bool {
        self.has_tripped()
    }

    fn ticks(&mut self) -> u32 {
        self.time() as u32
    }

    fn prepare_wait(&self, ns: u32) -> u32 {
        ns
    }

    fn wait(&mut self, ticks: u32) {
        self.now += u64::from(ticks);
    }
}

impl Supply for Ideal {
    fn connect(&mut self, connection: &Connection) -> Result<(), SupplyFault> {
        assert!(self.is_safe(), "connected while something is driven or kept");
        let capabilities = capabilities();
        let possible = connection.feed.without(Positions::from_bits(capabilities.feed)).is_empty()
            && connection.ground.without(Positions::from_bits(capabilities.ground)).is_empty()
            && !connection.feed.overlaps(connection.ground);
        assert!(possible, "an impossible connection came through: {connection:?}");
        if self.trip == Trip::AtOnce {
            return Err(SupplyFault::Tripped);
        }
        self.connection = Some(*connection);
        self.connects += 1;
        self.applies_at_connect = self.applies;
        self.moves = 0;
        Ok(())
    }

    fn disconnect(&mut self) {
        assert!(self.driven.is_empty(), "drivers would feed the chip");
        if !self.sticks {
            self.connection = None;
        }
    }

    fn connected(&self) -> bool {
        self.connection.is_some()
    }

    fn tripped(&mut self) -> bool {
        self.has_tripped()
    }

    fn current(&mut self) -> Microamps {
        Microamps(if self.connection.is_some() { self.current_ua } else { 0 })
    }

    fn voltage_at(&mut self, position: u8) -> Option<Millivolts> {
        let volts = if self.powered() && position == 40 { 5_000 } else { 12 };
        Positions::from_bits(capabilities().feed).contains(position).then_some(Millivolts(volts))
    }
}

impl DelayNs for Ideal {
    fn delay_ns(&mut self, ns: u32) {
        self.now += u64::from(ns);
    }
}

impl Clock for Ideal {
    fn now(&mut self) -> Nanoseconds {
        Nanoseconds(self.time())
    }
}

pub fn capabilities() -> Capabilities {
    Capabilities {
        feed: 1 << 0 | 1 << 4 | 1 << 39,
        ground: 1 << 6 | 1 << 7 | 1 << 19,
        v3_3: true,
        v5: true,
        light_keeper_ohms: 22_000,
        firm_keeper_ohms: 2_200,
        series_ohms: 270,
        drive_mv: 3_300,
        current_max_ua: 200_000,
        current_step_ua: 50,
        window_bytes: 1_024,
        window_steps: 256,
        step_ns: 100,
        sample_ns: 100,
        kinds: 3,
    }
}

/// A powered program on the gate.
pub fn header() -> Header {
    Header {
        kind: Kind::Vector,
        pins: 14,
        shift: 0,
        power: Some(Power {
            feed: Pins::one(14),
            ground: Pins::one(7),
            voltage: Voltage::V5,
            limit_ua: 100_000,
        }),
        settle_ns: 1_000,
        keeper_ns: 10_000,
        capture: false,
    }
}

pub fn pins(numbers: &[u8]) -> Pins {
    numbers.iter().copied().collect()
}

/// All inputs of the gate.
pub fn inputs() -> Pins {
    pins(&[1, 2, 4, 5, 9, 10, 12, 13])
}

/// The gate's function table, every gate at once: both inputs 00, 01, 10, 11.
pub fn truth_table() -> Vec<Step> {
    let (a, b, y) = (pins(&[1, 4, 9, 12]), pins(&[2, 5, 10, 13]), pins(&[3, 6, 8, 11]));
    let mut steps = vec![Step::Keep { light: WireRail::High, firm: WireRail::Off }];
    for (high, output) in [(Pins::NONE, y), (b, y), (a, y), (Pins(a.0 | b.0), Pins::NONE)] {
        steps.push(Step::Drive { pins: inputs(), high });
        steps.push(Step::Expect { pins: Pins(y.0 | inputs().0), high: Pins(output.0 | high.0) });
    }
    steps
}
