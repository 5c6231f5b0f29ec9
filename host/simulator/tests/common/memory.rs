//! A memory in the socket, driven by hand as a station would.

use super::parts;
use dipsift_language::{Library, Part, PinId, Role};
use dipsift_pins::{
    Connection, Keepers, Microamps, Positions, Rail, Socket, Supply, SupplyFault, Voltage,
};
use dipsift_simulator::{Chip, Counters, Defect, SimulatedSocket, position_of};
use embedded_hal::delay::DelayNs;
use std::sync::Arc;

/// How long a position takes to rest: five times 270 ohm and 60 pF for a driver, and an output of
/// this family five times 600 ohm and 60 pF at most.
pub const SETTLE_NS: u32 = 200;

pub fn part(number: &str) -> Arc<Part> {
    let (library, errors) = Library::of_texts([("parts", parts::TEXT)]);
    assert!(errors.is_empty(), "{errors:?}");
    library.part(number).unwrap().clone()
}

/// A powered memory and what the bench does at it.
pub struct MemoryBench {
    pub socket: SimulatedSocket,
    part: Arc<Part>,
    shift: u8,
    driven: Positions,
    high: Positions,
    address: Vec<u64>,
    data_in: Vec<u64>,
    data_out: Vec<u64>,
    controls: [Positions; 3],
    /// How long reads and writes last.
    pub access_ns: u32,
}

impl MemoryBench {
    pub fn new(number: &str, defects: &[&str]) -> Self {
        Self::seeded(number, defects, 1)
    }

    pub fn seeded(number: &str, defects: &[&str], seed: u64) -> Self {
        let part = part(number);
        let family = part.made[0];
        Self::with(Chip::new(part, family, seed).unwrap(), defects, seed)
    }

    pub fn with(chip: Chip, defects: &[&str], seed: u64) -> Self {
        let mut bench = Self::unpowered(chip, defects, seed);
        bench.idle();
        bench.power().unwrap();
        bench
    }

    pub fn unpowered(chip: Chip, defects: &[&str], seed: u64) -> Self {
        let part = chip.part().clone();
        let memory = part.memory.clone().unwrap();
        let shift = chip.shift();
        let mut socket = SimulatedSocket::new(seed);
        let defects: Vec<Defect> = defects.iter().map(|phrase| phrase.parse().unwrap()).collect();
        socket.insert(chip, &defects).unwrap();
        let mut bench = Self {
            socket,
            part,
            shift,
            driven: Positions::NONE,
            high: Positions::NONE,
            address: vec![],
            data_in: vec![],
            data_out: vec![],
            controls: [Positions::NONE; 3],
            access_ns: memory.grades.iter().map(|grade| grade.1).min().unwrap(),
        };
        let places = |pins: &[PinId]| -> Vec<u64> {
            pins.iter().rev().map(|&pin| bench.of(pin).bits()).collect()
        };
        let groups = [places(&memory.address), places(&memory.data_in), places(&memory.data_out)];
        [bench.address, bench.data_in, bench.data_out] = groups;
        bench
    }

    fn of(&self, pin: PinId) -> Positions {
        let package = &self.part.packages[0];
        let pins = package.pins.len() as u8;
        package.numbers(pin).fold(Positions::NONE, |set, number| {
            set | Positions::one(position_of(number, pins, self.shift, false).unwrap())
        })
    }

    fn named(&self, name: &str) -> Positions {
        self.of(self.part.pin_named(name).unwrap())
    }

    fn with_role(&self, role: Role) -> Positions {
        let of_role = |&id: &PinId| self.part.pin(id).role == role;
        self.part.pin_ids().filter(of_role).fold(Positions::NONE, |set, id| set | self.of(id))
    }

    pub fn power(&mut self) -> Result<(), SupplyFault> {
        let connection = Connection {
            feed: self.with_role(Role::Supply),
            ground: self.with_role(Role::Ground),
            voltage: Voltage::V5,
            limit: Microamps(150_000),
        };
        self.socket.keep(Keepers { light: Rail::High, firm: Rail::Off });
        self.socket.connect(&connection)
    }

    pub fn counters(&self) -> Counters {
        self.socket.counters()
    }

    fn apply(&mut self) {
        let drive = self.socket.prepare_drive(self.driven, self.high);
        self.socket.apply(&drive);
    }

    fn drive(&mut self, pins: Positions, high: Positions) {
        self.driven |= pins;
        self.high = self.high.without(pins) | high.and(pins);
        self.apply();
    }

    /// All controls inactive, address low, data released.
    pub fn idle(&mut self) {
        for pin in self.part.pin_ids() {
            let entry = self.part.pin(pin);
            if entry.role == Role::Input {
                let pins = self.of(pin);
                self.driven |= pins;
                if entry.name.starts_with('/') {
                    self.high |= pins;
                }
            }
        }
        self.apply();
    }

    /// Drives one pin, by its name.
    pub fn set(&mut self, name: &str, high: bool) {
        let pins = self.named(name);
        self.drive(pins, if high { pins } else { Positions::NONE });
    }

    fn spread(places: &[u64], value: u32) -> (Positions, Positions) {
        let (mut all, mut high) = (0, 0);
        for (bit, place) in places.iter().enumerate() {
            all |= place;
            high |= place * u64::from(value >> bit & 1);
        }
        (Positions::from_bits(all), Positions::from_bits(high))
    }

    pub fn set_address(&mut self, address: u32) {
        let (all, high) = Self::spread(&self.address, address);
        self.drive(all, high);
    }

    pub fn set_data(&mut self, data: u32) {
        let (all, high) = Self::spread(&self.data_in, data);
        self.drive(all, high);
    }

    /// Releases shared data pins.
    pub fn release_data(&mut self) {
        let (all, _) = Self::spread(&self.data_out, 0);
        self.driven = self.driven.without(all);
        self.high = self.high.and(self.driven);
        self.apply();
    }

    pub fn wait(&mut self, ns: u32) {
        self.socket.delay_ns(ns);
    }

    pub fn wait_ms(&mut self, ms: u32) {
        self.socket.delay_ms(ms);
    }

    pub fn data(&mut self) -> u32 {
        let sample = self.socket.sample();
        let levels = self.socket.high(&sample).bits();
        let bits = self.data_out.iter().enumerate();
        bits.fold(0, |word, (bit, place)| word | u32::from(levels & place != 0) << bit)
    }

    /// Writes a word to a static part with its controls `/CS` and `/WE`.
    pub fn write(&mut self, address: u32, data: u32) {
        self.set_address(address);
        self.wait(20);
        self.set("/WE", false);
        self.set("/CS", false);
        self.set_data(data);
        self.wait(self.access_ns);
        self.set("/WE", true);
        self.set("/CS", true);
        self.wait(20);
        self.release_data();
    }

    /// Reads a word of a static part.
    pub fn read(&mut self, address: u32) -> u32 {
        self.set_address(address);
        self.set("/CS", false);
        self.wait(self.access_ns + SETTLE_NS);
        let data = self.data();
        self.set("/CS", true);
        self.wait(self.access_ns);
        data
    }

    /// Prepares the controls of a part with `/CS`, `/OE` and `/WE` for the cycles below.
    pub fn select_as_a_station(&mut self) {
        let pins = ["/CS", "/OE", "/WE"].map(|name| self.named(name));
        self.controls = pins;
    }

    fn control(&mut self, which: usize, high: bool) {
        let pins = self.controls[which];
        self.drive(pins, if high { pins } else { Positions::NONE });
    }

    /// Reads the addressed word: select, enable, wait, sample, and back.
    pub fn read_cycle(&mut self) -> u32 {
        self.control(0, false);
        self.control(1, false);
        self.wait(self.access_ns + SETTLE_NS);
        let data = self.data();
        self.control(1, true);
        self.control(0, true);
        self.wait(self.access_ns / 2);
        data
    }

    /// Writes the addressed word: data, select, pulse, and back.
    pub fn write_cycle(&mut self, data: u32) {
        self.set_data(data);
        self.control(0, false);
        self.control(2, false);
        self.wait(self.access_ns);
        self.control(2, true);
        self.control(0, true);
        self.release_data();
    }

    pub fn words(&self) -> u32 {
        self.part.memory.as_ref().unwrap().words
    }
}
