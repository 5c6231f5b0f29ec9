//! Small parts built by hand, so that these tests stand on the model types alone, and a bench
//! that speaks of package pins.
#![allow(dead_code)] // every test file uses its own share

pub mod memory;
pub mod parts;

use dipsift_language::{
    Driver, Edge, Family, Network, Node, NodeId, Output, Package, PackageKind, Part, Pin, PinId,
    Register, Role, Rule, StateId,
};
use dipsift_pins::{
    Connection, Keepers, Microamps, Positions, Rail, Socket, Supply, SupplyFault, Voltage,
};
use dipsift_simulator::{Chip, Defect, SimulatedSocket, position_of};
use embedded_hal::delay::DelayNs;
use std::sync::Arc;

/// A part with its pin list; `-` is not connected, VCC and GND are the supplies. Every other pin
/// is an input of one unit load until something drives it.
pub struct Maker {
    part: Part,
}

impl Maker {
    pub fn new(number: &str, pins: &str) -> Self {
        let mut part = Part {
            number: number.into(),
            title: "a part for tests".into(),
            sources: vec!["invented".into()],
            made: Family::ALL.to_vec(),
            packages: vec![],
            pins: vec![],
            network: Network::default(),
            steady: vec![],
            avoid: vec![],
            memory: None,
            limit_ma: None,
            notes: vec![],
            untested: vec![],
        };
        let mut at = vec![];
        for name in pins.split_whitespace() {
            if name == "-" {
                at.push(None);
                continue;
            }
            let role = match name {
                "VCC" => Role::Supply,
                "GND" => Role::Ground,
                _ => Role::Input,
            };
            at.push(Some(PinId(part.pins.len() as u16)));
            part.pins.push(Pin {
                name: name.into(),
                role,
                output: None,
                schmitt: false,
                load_tenths: 10,
            });
        }
        part.packages.push(Package { kind: PackageKind::Dip, families: vec![], pins: at });
        Self { part }
    }

    pub fn load(mut self, name: &str, tenths: u16) -> Self {
        let id = self.part.pin_named(name).unwrap();
        self.part.pins[usize::from(id.0)].load_tenths = tenths;
        self
    }

    pub fn schmitt(mut self, name: &str) -> Self {
        let id = self.part.pin_named(name).unwrap();
        self.part.pins[usize::from(id.0)].schmitt = true;
        self
    }

    pub fn node(&mut self, node: Node) -> NodeId {
        self.part.network.nodes.push(node);
        NodeId(self.part.network.nodes.len() as u32 - 1)
    }

    pub fn input(&mut self, name: &str) -> NodeId {
        let id = self.part.pin_named(name).unwrap();
        self.node(Node::Pin(id))
    }

    pub fn nand(&mut self, a: &str, b: &str) -> NodeId {
        let (a, b) = (self.input(a), self.input(b));
        let and = self.node(Node::And(a, b));
        self.node(Node::Not(and))
    }

    pub fn not(&mut self, node: NodeId) -> NodeId {
        self.node(Node::Not(node))
    }

    pub fn drive(&mut self, name: &str, kind: Output, value: NodeId, enable: Option<NodeId>) {
        let id = self.part.pin_named(name).unwrap();
        let pin = &mut self.part.pins[usize::from(id.0)];
        pin.output = Some(kind);
        if pin.role == Role::Input && kind != Output::ThreeState {
            pin.role = Role::Output;
        }
        self.part.network.drivers.push(Driver { pin: id, value, enable });
    }

    pub fn output_only(&mut self, name: &str) {
        let id = self.part.pin_named(name).unwrap();
        self.part.pins[usize::from(id.0)].role = Role::Output;
    }

    pub fn both_ways(&mut self, name: &str) {
        let id = self.part.pin_named(name).unwrap();
        self.part.pins[usize::from(id.0)].role = Role::Bidirectional;
    }

    pub fn register(&mut self, name: &str, rules: Vec<Rule>) {
        self.part.network.registers.push(Register { name: name.into(), rules });
    }

    pub fn done(self) -> Arc<Part> {
        Arc::new(self.part)
    }
}

/// Quad NAND, pinout of the 7400 (TI SDLS025B).
pub fn p7400() -> Arc<Part> {
    quad_nand("7400", Output::TotemPole)
}

/// Quad NAND with open collectors in the pinout of the 7400.
pub fn p7403() -> Arc<Part> {
    quad_nand("7403", Output::OpenCollector)
}

fn quad_nand(number: &str, kind: Output) -> Arc<Part> {
    let mut maker = Maker::new(number, "1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC");
    for n in 1..=4 {
        let value = maker.nand(&format!("{n}A"), &format!("{n}B"));
        maker.drive(&format!("{n}Y"), kind, value, None);
    }
    maker.done()
}

/// Quad bus buffer, three-state, enabled by a low level.
pub fn p74125() -> Arc<Part> {
    let mut maker = Maker::new("74125", "/1G 1A 1Y /2G 2A 2Y GND 3Y 3A /3G 4Y 4A /4G VCC");
    for n in 1..=4 {
        let value = maker.input(&format!("{n}A"));
        let gate = maker.input(&format!("/{n}G"));
        let enable = maker.not(gate);
        let name = format!("{n}Y");
        maker.drive(&name, Output::ThreeState, value, Some(enable));
        maker.output_only(&name);
    }
    maker.done()
}

/// Octal bus transceiver.
pub fn p74245() -> Arc<Part> {
    let pins = "DIR A1 A2 A3 A4 A5 A6 A7 A8 GND B8 B7 B6 B5 B4 B3 B2 B1 /G VCC";
    let mut maker = Maker::new("74245", pins);
    let (dir, gate) = (maker.input("DIR"), maker.input("/G"));
    let (back, on) = (maker.not(dir), maker.not(gate));
    let to_b = maker.node(Node::And(on, dir));
    let to_a = maker.node(Node::And(on, back));
    for n in 1..=8 {
        let (a, b) = (format!("A{n}"), format!("B{n}"));
        let (at_a, at_b) = (maker.input(&a), maker.input(&b));
        maker.drive(&b, Output::ThreeState, at_a, Some(to_b));
        maker.drive(&a, Output::ThreeState, at_b, Some(to_a));
        maker.both_ways(&a);
        maker.both_ways(&b);
    }
    maker.done()
}

/// A D flip-flop without preset or clear.
pub fn flip_flop() -> Arc<Part> {
    let mut maker = Maker::new("FLIP", "D CLK Q GND - - - VCC");
    let (clock, value) = (maker.input("CLK"), maker.input("D"));
    maker.register("Q", vec![Rule::On { clock, edge: Edge::Rise, condition: None, value }]);
    let q = maker.node(Node::State(StateId(0)));
    maker.drive("Q", Output::TotemPole, q, None);
    maker.done()
}

/// One inverter with an input of five unit loads.
pub fn heavy() -> Arc<Part> {
    let mut maker = Maker::new("HEAVY", "A Y - GND - - - VCC").load("A", 50);
    let a = maker.input("A");
    let y = maker.not(a);
    maker.drive("Y", Output::TotemPole, y, None);
    maker.done()
}

/// A socket, and the package of the chip that the bench believes is in it.
pub struct Bench {
    pub socket: SimulatedSocket,
    pins: u8,
    driven: Positions,
    high: Positions,
}

impl Bench {
    pub fn new(part: Arc<Part>, family: Family, defects: &[&str]) -> Self {
        Self::seeded(part, family, defects, 1)
    }

    pub fn seeded(part: Arc<Part>, family: Family, defects: &[&str], seed: u64) -> Self {
        let chip = Chip::new(part, family, seed).unwrap();
        let mut socket = SimulatedSocket::new(seed);
        let pins = chip.pins();
        let defects: Vec<Defect> = defects.iter().map(|phrase| phrase.parse().unwrap()).collect();
        socket.insert(chip, &defects).unwrap();
        Self { socket, pins, driven: Positions::NONE, high: Positions::NONE }
    }

    pub fn at(&self, pin: u8) -> u8 {
        position_of(pin, self.pins, 0, false).unwrap()
    }

    fn set(&self, pins: &[u8]) -> Positions {
        pins.iter().fold(Positions::NONE, |set, &pin| set | Positions::one(self.at(pin)))
    }

    /// Feeds the last pin and grounds the one at the corner.
    pub fn power(&mut self, voltage: Voltage) -> Result<(), SupplyFault> {
        let (feed, ground) = (self.set(&[self.pins]), self.set(&[self.pins / 2]));
        let limit = Microamps(150_000);
        self.socket.connect(&Connection { feed, ground, voltage, limit })
    }

    fn apply(&mut self) {
        let drive = self.socket.prepare_drive(self.driven, self.high);
        self.socket.apply(&drive);
    }

    /// Drives pins to levels from now on, all of them in one change.
    pub fn drive(&mut self, levels: &[(u8, bool)]) {
        for &(pin, high) in levels {
            let bit = Positions::one(self.at(pin));
            self.driven |= bit;
            self.high = if high { self.high | bit } else { self.high.without(bit) };
        }
        self.apply();
    }

    pub fn release(&mut self, pins: &[u8]) {
        self.driven = self.driven.without(self.set(pins));
        self.high = self.high.and(self.driven);
        self.apply();
    }

    pub fn keep(&mut self, light: Rail, firm: Rail) {
        self.socket.keep(Keepers { light, firm });
    }

    pub fn wait_ns(&mut self, ns: u32) {
        self.socket.delay_ns(ns);
    }

    /// The level at a pin.
    pub fn level(&mut self, pin: u8) -> bool {
        let sample = self.socket.sample();
        let compare = self.socket.prepare_compare(self.set(&[pin]), Positions::NONE);
        !self.socket.differing(&sample, &compare).is_empty()
    }

    /// The settled voltage at a pin.
    pub fn volts(&self, pin: u8) -> f64 {
        self.socket.voltage(self.at(pin))
    }

    /// The voltage that the station measures at a pin with a feed switch.
    pub fn millivolts(&mut self, pin: u8) -> u16 {
        let at = self.at(pin);
        self.socket.voltage_at(at).unwrap().0
    }
}

pub fn close(measured: f64, expected: f64, within: f64) {
    assert!((measured - expected).abs() <= within, "{measured} V, expected {expected} V");
}
