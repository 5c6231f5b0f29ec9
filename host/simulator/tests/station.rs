//! The whole station on the simulated socket, in memory and over a pseudo terminal.
#![cfg(unix)]

mod common;

use common::p7400;
use dipsift_language::Family;
use dipsift_link::{Link, LinkError, Serial};
use dipsift_pins::Supply;
use dipsift_simulator::{Chip, Served, SimulatedSocket};
use dipsift_wire::{
    Ask, Header, Kind, MAX_FRAME, Nature, Pins, Power, Request, SILENCE_MS, Step, Voltage, Window,
    encode_request, push_step,
};
use serialport::{SerialPort, TTYPort};
use std::io::{Read, Write};
use std::thread::sleep;
use std::time::Duration;

const INPUTS: [u8; 8] = [1, 2, 4, 5, 9, 10, 12, 13];
const OUTPUTS: [u8; 4] = [3, 6, 8, 11];

fn header() -> Header {
    let (feed, ground) = (Pins::one(14), Pins::one(7));
    Header {
        kind: Kind::Vector,
        pins: 14,
        shift: 0,
        power: Some(Power { feed, ground, voltage: Voltage::V5, limit_ua: 150_000 }),
        settle_ns: 1_000,
        keeper_ns: 10_000,
        capture: false,
    }
}

/// All four gates through the NAND table (TI SDLS025B), with the inputs compared too.
fn table() -> Vec<Step> {
    let inputs: Pins = INPUTS.into_iter().collect();
    let outputs: Pins = OUTPUTS.into_iter().collect();
    let mut steps =
        vec![Step::Keep { light: dipsift_wire::Rail::Off, firm: dipsift_wire::Rail::High }];
    for row in 0..4_u8 {
        let high: Pins = INPUTS
            .into_iter()
            .enumerate()
            .filter(|(index, _)| row >> (index % 2) & 1 == 1)
            .map(|(_, pin)| pin)
            .collect();
        steps.push(Step::Drive { pins: inputs, high });
        let seen = if row == 3 { high } else { Pins(high.0 | outputs.0) };
        steps.push(Step::Expect { pins: Pins(inputs.0 | outputs.0), high: seen });
    }
    steps
}

fn served(defects: &[&str]) -> Served {
    let served = Served::start(SimulatedSocket::new(1)).unwrap();
    let chip = Chip::new(p7400(), Family::Standard, 1).unwrap();
    let defects: Vec<_> = defects.iter().map(|phrase| phrase.parse().unwrap()).collect();
    served.insert(chip, &defects).unwrap();
    served
}

#[test]
fn a_good_chip_passes_over_a_pseudo_terminal() {
    let served = served(&[]);
    let mut link = Link::open(Serial::open(served.path()).unwrap()).unwrap();
    assert_eq!(link.hello().nature, Nature::Simulated);
    let summary = link.run(&header(), &table()).unwrap().summary;
    assert_eq!((summary.failures, summary.steps), (0, 9));
    assert!((4_000..30_000).contains(&summary.current_max_ua), "{} µA", summary.current_max_ua);
    assert_eq!(served.counters().contention_events, 0);
    assert_eq!(served.counters().doubtful_samples, 0);
    assert!(!served.station().socket().connected());
}

#[test]
fn the_chip_can_be_changed_between_programs() {
    let served = served(&["pin 6 stuck high"]);
    let mut link = Link::open(Serial::open(served.path()).unwrap()).unwrap();
    let summary = link.run(&header(), &table()).unwrap().summary;
    assert_eq!(summary.failures, 1);
    assert_eq!(summary.pins.iter().map(|count| count.pin).collect::<Vec<_>>(), [6]);
    served.insert(Chip::new(p7400(), Family::Ls, 2).unwrap(), &[]).unwrap();
    assert_eq!(link.run(&header(), &table()).unwrap().summary.failures, 0);
    served.remove();
    // The firm keepers hold every output high: it is missed in the row that wants it low.
    assert_eq!(link.run(&header(), &table()).unwrap().summary.failures, 1);
}

#[test]
fn real_silence_switches_the_chip_off() {
    let served = served(&[]);
    let mut line = TTYPort::open(&serialport::new(served.path(), 115_200)).unwrap();
    line.set_timeout(Duration::from_secs(2)).unwrap();
    let mut code = heapless::Vec::new();
    for step in table() {
        push_step(&step, &mut code).unwrap();
    }
    let window = Ask::Window(Window { index: 0, last: false, code });
    for (sequence, ask) in [(1, Ask::Begin(header())), (2, window)] {
        let mut frame = [0; MAX_FRAME];
        line.write_all(encode_request(&Request { sequence, ask }, &mut frame).unwrap()).unwrap();
        let mut reply = vec![];
        while reply.last() != Some(&0) {
            let mut byte = [0];
            line.read_exact(&mut byte).unwrap();
            reply.push(byte[0]);
        }
    }
    assert!(served.station().socket().connected(), "the program goes on");
    sleep(Duration::from_millis(u64::from(SILENCE_MS) + 100));
    assert!(!served.station().socket().connected());
}

#[test]
fn a_host_that_left_is_no_trouble_for_the_next() {
    let served = served(&[]);
    for _ in 0..3 {
        let mut link = Link::open(Serial::open(served.path()).unwrap()).unwrap();
        assert_eq!(link.run(&header(), &table()).unwrap().summary.failures, 0);
    }
    let path = served.path().to_owned();
    drop(served);
    let opened = Serial::open(&path).map(Link::open);
    assert!(matches!(opened, Err(LinkError::Open { .. }) | Ok(Err(_))));
}
