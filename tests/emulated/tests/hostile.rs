//! Garbage, truncated, maximal and hostile frames without a pause: the board answers the next good
//! frame, powers nothing that no checked program asked for, and meets no fault.

mod support;

use dipsift_emulated::{PowerOn, Sources};
use dipsift_link::Transport;
use dipsift_pins::{Positions, Voltage as Volts};
use dipsift_simulator::position_of;
use dipsift_wire::{
    Accumulator, Answer, Ask, Header, Kind, MAX_CODE, MAX_FRAME, Pins, Power, Request, Step,
    VERSIONS, Voltage, Window, decode_reply, encode_request, push_step,
};
use std::time::Duration;

/// Bytes that are sent, in two halves side by side; `DIPSIFT_HOSTILE_BYTES` overrides it.
const BYTES: usize = 10_000_000;
/// Bytes between two good frames.
const BURST: usize = 20_000;
/// How long the answer to a good frame may take.
const PATIENCE: Duration = Duration::from_millis(100);

/// SplitMix64.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = self.0;
        word = (word ^ word >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ word >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        word ^ word >> 31
    }

    fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit as u64) as usize
    }

    /// Any set, or just one pin.
    fn pins(&mut self) -> Pins {
        if self.below(2) == 0 { Pins(self.next()) } else { Pins::one(self.below(41) as u8) }
    }

    fn header(&mut self) -> Header {
        let power = (self.below(4) != 0).then(|| match self.below(3) {
            0 => Power {
                feed: self.pins(),
                ground: self.pins(),
                voltage: Voltage::V5,
                limit_ua: self.next() as u32,
            },
            // What the fixture can do.
            _ => Power {
                feed: Pins::one(14),
                ground: Pins::one(7),
                voltage: if self.below(2) == 0 { Voltage::V5 } else { Voltage::V3_3 },
                limit_ua: 1_000 + self.below(299_000) as u32,
            },
        });
        Header {
            kind: [Kind::Vector, Kind::March, Kind::Probe, Kind::Stored][self.below(20) / 17],
            pins: if self.below(3) == 0 { self.next() as u8 } else { 14 },
            shift: if self.below(3) == 0 { self.next() as u8 } else { 0 },
            power,
            settle_ns: self.next() as u32 >> self.below(32),
            keeper_ns: self.next() as u32 >> self.below(32),
            capture: self.below(2) == 0,
        }
    }

    /// A header that every station accepts.
    fn good_header(&mut self) -> Header {
        let header = self.header();
        let power = Some(Power {
            feed: Pins::one(14),
            ground: Pins::one(7),
            voltage: if self.below(2) == 0 { Voltage::V5 } else { Voltage::V3_3 },
            limit_ua: 1_000 + self.below(299_000) as u32,
        });
        let (settle_ns, keeper_ns) = (self.below(5_000) as u32, self.below(5_000) as u32);
        Header { kind: Kind::Vector, pins: 14, shift: 0, power, settle_ns, keeper_ns, ..header }
    }

    /// Steps that every station accepts: levels at inputs of a 7400, and what shows.
    fn good_code(&mut self) -> heapless::Vec<u8, MAX_CODE> {
        const INPUTS: [u8; 8] = [1, 2, 4, 5, 9, 10, 12, 13];
        let mut code = heapless::Vec::new();
        for _ in 0..self.below(100) {
            let pins = Pins::one(INPUTS[self.below(8)]);
            let step = match self.below(4) {
                0 => Step::Drive { pins, high: Pins::NONE },
                1 => Step::Expect { pins: Pins::one(3), high: Pins::NONE },
                _ => Step::Drive { pins, high: pins },
            };
            push_step(&step, &mut code).expect("a hundred steps fit");
        }
        code
    }

    fn code(&mut self) -> heapless::Vec<u8, MAX_CODE> {
        let mut code = heapless::Vec::new();
        for _ in 0..self.below(200) {
            let step = match self.below(9) {
                0 => Step::Drive { pins: self.pins(), high: self.pins() },
                1 => Step::Release { pins: self.pins() },
                2 => Step::Expect { pins: self.pins(), high: self.pins() },
                3 => Step::Pulse { pin: self.below(50) as u8, times: self.next() as u32 >> 20 },
                4 => Step::Wait { ns: self.next() as u32 >> self.below(32) },
                5 => Step::Voltage { pin: self.below(50) as u8 },
                6 => Step::Current,
                7 => Step::Sample,
                _ => Step::Drive { pins: Pins::one(1), high: Pins::one(1) },
            };
            if push_step(&step, &mut code).is_err() {
                break;
            }
        }
        if self.below(4) == 0 {
            while code.push(self.next() as u8).is_ok() {}
        }
        code
    }
}

fn frame(sequence: u16, ask: Ask) -> Vec<u8> {
    let mut buffer = [0; MAX_FRAME];
    encode_request(&Request { sequence, ask }, &mut buffer).expect("it fits").to_vec()
}

/// What a header's power asks for, where its pins have positions.
fn asked(header: &Header) -> Option<PowerOn> {
    let power = header.power?;
    let place = |pins: Pins| {
        (1..=header.pins).filter(|&pin| pins.contains(pin)).try_fold(Positions::NONE, |set, pin| {
            Some(set | Positions::one(position_of(pin, header.pins, header.shift, false)?))
        })
    };
    Some(PowerOn {
        feed: place(power.feed)?,
        ground: place(power.ground)?,
        voltage: if power.voltage == Voltage::V5 { Volts::V5 } else { Volts::V3_3 },
    })
}

#[test]
fn a_first_half_of_hostile_bytes() {
    hostile_bytes(2);
}

#[test]
fn a_second_half_of_hostile_bytes() {
    hostile_bytes(3);
}

fn hostile_bytes(seed: u64) {
    let bytes = std::env::var("DIPSIFT_HOSTILE_BYTES")
        .map_or(BYTES, |bytes| bytes.parse().expect("a number of bytes"));
    let bytes = bytes / 2;
    let mut line = support::line(11, Sources::default());
    line.machine_mut().run(10_000_000).expect("start-up");
    let mut random = Random(seed);
    let mut sequence = 0_u16;
    let mut allowed = Vec::new();
    let (mut sent, mut answered, mut slowest) = (0, 0, Duration::ZERO);
    while sent < bytes {
        let mut burst = Vec::new();
        while burst.len() < BURST {
            sequence = sequence.wrapping_add(1 + (random.below(8) == 0) as u16);
            let mut next = match random.below(7) {
                0 => (0..random.below(2_000)).map(|_| random.next() as u8).collect(),
                1 => vec![1 + random.below(255) as u8; MAX_FRAME + random.below(3_000)],
                2 | 3 => {
                    let header = random.header();
                    allowed.extend(asked(&header));
                    frame(sequence, Ask::Begin(header))
                }
                4 => {
                    let header = random.good_header();
                    allowed.extend(asked(&header));
                    let mut frames = frame(sequence, Ask::Begin(header));
                    sequence = sequence.wrapping_add(1);
                    let (last, code) = (random.below(3) == 0, random.good_code());
                    frames.extend(frame(sequence, Ask::Window(Window { index: 0, last, code })));
                    frames
                }
                _ => {
                    let (index, last) = (random.below(3) as u32, random.below(4) == 0);
                    frame(sequence, Ask::Window(Window { index, last, code: random.code() }))
                }
            };
            match random.below(6) {
                0 => next.truncate(random.below(next.len() + 1)),
                1 if !next.is_empty() => {
                    let at = random.below(next.len());
                    next[at] ^= 1 << random.below(8);
                }
                _ => {}
            }
            burst.extend(next);
        }
        sent += burst.len();
        line.send(&burst).expect("the line is there");
        while line.is_sending() {
            line.machine_mut().run(1_000_000).expect("the board runs");
            line.arrived();
        }
        sequence = sequence.wrapping_add(1);
        line.send(&[0]).expect("the line is there");
        line.send(&frame(sequence, Ask::Hello(VERSIONS))).expect("the line is there");
        let start = line.now();
        let mut input = Accumulator::new();
        let found = loop {
            let passed = line.now() - start;
            assert!(passed < PATIENCE, "no answer after {sent} bytes");
            let mut byte = [0];
            let count = line.receive(&mut byte, PATIENCE - passed).expect("the board runs");
            if count == 1
                && let Some(Ok(message)) = input.push(byte[0])
                && let Ok(reply) = decode_reply(message)
                && reply.sequence == sequence
            {
                break reply.answer;
            }
        };
        assert!(matches!(found, Answer::Hello(_)), "{found:?}");
        slowest = slowest.max(line.now() - start);
        answered += 1;
        let machine = line.machine();
        assert!(machine.board().fixture().is_safe(), "after a hello");
        let counts = machine.counts();
        assert_eq!((counts.faults, counts.resets), (0, 0), "after {sent} bytes");
        for power_on in machine.board().fixture().power_ons() {
            assert!(allowed.contains(power_on), "nobody asked for {power_on:?}");
        }
    }
    let powered = line.machine().board().fixture().power_ons().len();
    println!(
        "{sent} bytes, {answered} good frames answered, slowest after {slowest:?}; {powered} times \
         powered by {} programs",
        allowed.len()
    );
    assert!(powered > 0, "no hostile program got as far as power");
}
