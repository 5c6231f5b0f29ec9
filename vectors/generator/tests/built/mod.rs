//! Parts put together in code, without the reader.

use dipsift_language::{
    Driver, Edge, Family, Network, Node, NodeId, Output, Package, PackageKind, Part, Pin, PinId,
    Register, Role, Rule, StateId,
};
use std::sync::Arc;

pub struct Builder {
    part: Part,
}

impl Builder {
    /// From a pin list: `name` is an input, `name=` an output, `name%` a three-state output,
    /// `name!` an open collector, `name<>` a bidirectional pin, `-` not connected; VCC, GND.
    pub fn new(number: &str, pins: &str) -> Self {
        let mut part = Part {
            number: number.to_owned(),
            title: "built in a test".to_owned(),
            sources: vec![],
            made: vec![Family::Standard],
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
        let mut at = Vec::new();
        for word in pins.split_whitespace() {
            let name = word.trim_end_matches(['=', '%', '!', '<', '>']);
            if name == "-" {
                at.push(None);
                continue;
            }
            let (role, output) = match &word[name.len()..] {
                "=" => (Role::Output, Some(Output::TotemPole)),
                "%" => (Role::Output, Some(Output::ThreeState)),
                "!" => (Role::Output, Some(Output::OpenCollector)),
                "<>" => (Role::Bidirectional, Some(Output::ThreeState)),
                _ if name == "VCC" => (Role::Supply, None),
                _ if name == "GND" => (Role::Ground, None),
                _ => (Role::Input, None),
            };
            at.push(Some(PinId(part.pins.len() as u16)));
            let name = name.to_owned();
            part.pins.push(Pin { name, role, output, schmitt: false, load_tenths: 10 });
        }
        part.packages.push(Package { kind: PackageKind::Dip, families: vec![], pins: at });
        Self { part }
    }

    pub fn node(&mut self, node: Node) -> NodeId {
        self.part.network.nodes.push(node);
        NodeId(self.part.network.nodes.len() as u32 - 1)
    }

    pub fn pin(&mut self, name: &str) -> NodeId {
        let id = self.part.pin_named(name).expect("a pin of the list");
        self.node(Node::Pin(id))
    }

    pub fn not(&mut self, a: NodeId) -> NodeId {
        self.node(Node::Not(a))
    }

    pub fn and(&mut self, a: NodeId, b: NodeId) -> NodeId {
        self.node(Node::And(a, b))
    }

    pub fn register(&mut self, name: &str) -> (StateId, NodeId) {
        self.part.network.registers.push(Register { name: name.to_owned(), rules: vec![] });
        let state = StateId(self.part.network.registers.len() as u32 - 1);
        (state, self.node(Node::State(state)))
    }

    pub fn when(&mut self, state: StateId, condition: NodeId, value: NodeId) {
        let rules = &mut self.part.network.registers[state.0 as usize].rules;
        rules.push(Rule::While { condition, value });
    }

    pub fn on(&mut self, state: StateId, edge: Edge, clock: NodeId, value: NodeId) {
        let rules = &mut self.part.network.registers[state.0 as usize].rules;
        rules.push(Rule::On { clock, edge, condition: None, value });
    }

    pub fn drive(&mut self, name: &str, value: NodeId, enable: Option<NodeId>) {
        let pin = self.part.pin_named(name).expect("a pin of the list");
        self.part.network.drivers.push(Driver { pin, value, enable });
    }

    pub fn part(self) -> Arc<Part> {
        Arc::new(self.part)
    }
}

/// Four 2-input NAND gates; the output kind is `=` or `!`.
pub fn nands(number: &str, kind: &str) -> Arc<Part> {
    let mut b =
        Builder::new(number, &"1A 1B 1Y* 2A 2B 2Y* GND 3Y* 3A 3B 4Y* 4A 4B VCC".replace('*', kind));
    for n in 1..=4 {
        let (a, c) = (b.pin(&format!("{n}A")), b.pin(&format!("{n}B")));
        let both = b.and(a, c);
        let y = b.not(both);
        b.drive(&format!("{n}Y"), y, None);
    }
    b.part()
}

/// Two D flip-flops with clear, the second output of each missing.
pub fn flip_flops() -> Arc<Part> {
    let mut b = Builder::new("2D", "1D 1CLK /1CLR 1Q= GND 2Q= /2CLR 2CLK 2D VCC");
    for n in 1..=2 {
        let clear = b.pin(&format!("/{n}CLR"));
        let clear = b.not(clear);
        let zero = b.node(Node::Zero);
        let (clock, data) = (b.pin(&format!("{n}CLK")), b.pin(&format!("{n}D")));
        let (state, q) = b.register(&format!("{n}Q"));
        b.when(state, clear, zero);
        b.on(state, Edge::Rise, clock, data);
        b.drive(&format!("{n}Q"), q, None);
    }
    b.part()
}

/// A ripple counter of `bits` stages with clear, clocked at the falling edge.
pub fn ripple_counter(bits: usize) -> Arc<Part> {
    let pins: Vec<String> = (0..bits).map(|bit| format!("Q{bit}=")).collect();
    let mut list = format!("CLK CLR {} GND VCC", pins.join(" "));
    if bits % 2 == 1 {
        list = list.replace(" GND", " - GND");
    }
    let mut b = Builder::new(&format!("ripple{bits}"), &list);
    let clear = b.pin("CLR");
    let zero = b.node(Node::Zero);
    let mut clock = b.pin("CLK");
    for bit in 0..bits {
        let (state, q) = b.register(&format!("Q{bit}"));
        let next = b.not(q);
        b.when(state, clear, zero);
        b.on(state, Edge::Fall, clock, next);
        b.drive(&format!("Q{bit}"), q, None);
        clock = q;
    }
    b.part()
}

/// A transceiver of four bits.
pub fn transceiver() -> Arc<Part> {
    let mut b = Builder::new("4XCVR", "DIR A1<> A2<> A3<> A4<> GND B4<> B3<> B2<> B1<> /G VCC");
    let dir = b.pin("DIR");
    let off = b.pin("/G");
    let on = b.not(off);
    let other = b.not(dir);
    let to_b = b.and(on, dir);
    let to_a = b.and(on, other);
    for n in 1..=4 {
        let (a, c) = (b.pin(&format!("A{n}")), b.pin(&format!("B{n}")));
        b.drive(&format!("A{n}"), c, Some(to_a));
        b.drive(&format!("B{n}"), a, Some(to_b));
    }
    b.part()
}
