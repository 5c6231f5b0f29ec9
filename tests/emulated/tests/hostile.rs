//! Garbage, truncated, maximal and hostile frames without a pause: the board answers the next good
//! frame, powers nothing that no checked program asked for, and meets no fault.

mod support;

use dipsift_emulated::{Line, PowerOn};
use dipsift_link::Transport;
use dipsift_nucleo_f429zi::fixture::CURRENT_MAX;
use dipsift_nucleo_f429zi::map::{FEED_POSITIONS, GROUND_POSITIONS};
use dipsift_pins::{Positions, Voltage as Volts};
use dipsift_simulator::position_of;
use dipsift_wire::{
    Accumulator, Answer, Ask, Header, Kind, MAX_CODE, MAX_FRAME, Pins, Power, Request, Step,
    VERSIONS, Voltage, Window, decode_reply, encode_request, push_step,
};
use std::time::{Duration, Instant};

/// Bytes that are sent, in two halves side by side; `DIPSIFT_HOSTILE_BYTES` overrides it.
const BYTES: usize = 10_000_000;
/// Bytes between two good frames.
const BURST: usize = 20_000;
/// How long the answer to a good frame may take.
const PATIENCE: Duration = Duration::from_millis(100);
/// How long before the power a program must have come in: a window lasts 200 ms at most, and a
/// buffer of windows may wait before it.
const RECENT_NS: u64 = 1_000_000_000;

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

    /// A request of another kind; the armed program moves now and then.
    fn other(&mut self) -> Ask {
        match self.below(7) {
            0 => Ask::Off,
            1 => Ask::Status,
            2 => Ask::Stored { from: self.next() as u16 },
            3 => Ask::Armed,
            4 => Ask::Health,
            5 => Ask::Arm(["", "74LS00", "74LS04", "no such part"][self.below(4)].try_into().ok()),
            _ => Ask::Arm(None),
        }
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

/// What a header's power asks for, if the fixture can do it and the program is one to be accepted.
fn asked(header: &Header) -> Option<PowerOn> {
    let power = header.power?;
    let place = |pins: Pins| {
        (1..=header.pins).filter(|&pin| pins.contains(pin)).try_fold(Positions::NONE, |set, pin| {
            Some(set | Positions::one(position_of(pin, header.pins, header.shift, false)?))
        })
    };
    let (feed, ground) = (place(power.feed)?, place(power.ground)?);
    let can =
        feed.without(FEED_POSITIONS).is_empty() && ground.without(GROUND_POSITIONS).is_empty();
    if !can || feed.overlaps(ground) || power.limit_ua > CURRENT_MAX.0 {
        return None;
    }
    let voltage = if power.voltage == Voltage::V5 { Volts::V5 } else { Volts::V3_3 };
    Some(PowerOn { feed, ground, voltage })
}

/// What is sent without a pause, and what it asks for if it arrives as it is.
struct Piece {
    bytes: Vec<u8>,
    asks: Option<(Vec<u8>, PowerOn)>,
}

impl Piece {
    fn new(bytes: Vec<u8>) -> Self {
        Self { bytes, asks: None }
    }

    fn begin(sequence: u16, header: Header) -> Self {
        let asked = asked(&header);
        let bytes = frame(sequence, Ask::Begin(header));
        Self { asks: asked.map(|asked| (bytes.clone(), asked)), bytes }
    }

    fn any(random: &mut Random, sequence: &mut u16) -> Self {
        *sequence = sequence.wrapping_add(1 + (random.below(8) == 0) as u16);
        let mut next = match random.below(15) {
            0 | 1 => Self::new((0..random.below(2_000)).map(|_| random.next() as u8).collect()),
            2 | 3 => Self::new(vec![1 + random.below(255) as u8; MAX_FRAME + random.below(3_000)]),
            4..=7 => Self::begin(*sequence, random.header()),
            8 | 9 => {
                let mut next = Self::begin(*sequence, random.good_header());
                *sequence = sequence.wrapping_add(1);
                let (last, code) = (random.below(3) == 0, random.good_code());
                let window = Ask::Window(Window { index: 0, last, code });
                next.bytes.extend(frame(*sequence, window));
                next
            }
            10 => Self::new(frame(*sequence, random.other())),
            _ => {
                let (index, last) = (random.below(3) as u32, random.below(4) == 0);
                let window = Window { index, last, code: random.code() };
                Self::new(frame(*sequence, Ask::Window(window)))
            }
        };
        match random.below(6) {
            0 => next.bytes.truncate(random.below(next.bytes.len() + 1)),
            1 if !next.bytes.is_empty() => {
                let at = random.below(next.bytes.len());
                next.bytes[at] ^= 1 << random.below(8);
            }
            _ => {}
        }
        // What was damaged asks for nothing.
        next.asks = next.asks.filter(|(begin, _)| next.bytes.starts_with(begin));
        next
    }
}

#[test]
fn a_first_half_of_hostile_bytes() {
    hostile_bytes(2);
}

#[test]
fn a_second_half_of_hostile_bytes() {
    hostile_bytes(3);
}

/// Waits for the greeting that answers this; returns how long it took from when the last byte of
/// the question had come in.
fn greeted(line: &mut Line, sequence: u16) -> Duration {
    line.send(&[0]).expect("the line is there");
    line.send(&frame(sequence, Ask::Hello(VERSIONS))).expect("the line is there");
    let start = Duration::from_nanos(line.sent_by());
    let mut input = Accumulator::new();
    loop {
        let passed = line.now().saturating_sub(start);
        assert!(passed < PATIENCE, "no answer");
        let mut byte = [0];
        let count = line.receive(&mut byte, PATIENCE).expect("the board runs");
        if count == 1
            && let Some(Ok(message)) = input.push(byte[0])
            && let Ok(reply) = decode_reply(message)
            && reply.sequence == sequence
            && matches!(reply.answer, Answer::Hello(_))
        {
            return line.now().saturating_sub(start);
        }
    }
}

fn hostile_bytes(seed: u64) {
    let bytes = std::env::var("DIPSIFT_HOSTILE_BYTES")
        .map_or(BYTES, |bytes| bytes.parse().expect("a number of bytes"));
    let bytes = bytes / 2;
    let mut line = support::quick_line(11);
    let mut random = Random(seed);
    let mut sequence = 0_u16;
    // When it has come in, and what it asks for.
    let mut asked: Vec<(u64, PowerOn)> = Vec::new();
    let (mut sent, mut good, mut slowest, mut programs, mut powered) = (0, 0, Duration::ZERO, 0, 0);
    let began = Instant::now();
    while sent < bytes {
        let mut burst = 0;
        while burst < BURST {
            let piece = Piece::any(&mut random, &mut sequence);
            line.send(&piece.bytes).expect("the line is there");
            burst += piece.bytes.len();
            if let Some((_, power_on)) = piece.asks {
                programs += 1;
                asked.push((line.sent_by(), power_on));
            }
        }
        sent += burst;
        while line.is_sending() {
            line.machine_mut().run(1_000_000).expect("the board runs");
            line.arrived();
        }
        sequence = sequence.wrapping_add(1);
        slowest = slowest.max(greeted(&mut line, sequence));
        good += 1;
        let machine = line.machine();
        let board = machine.board();
        assert!(board.fixture().is_safe() && board.unsafe_pins().is_empty(), "after a hello");
        let counts = machine.counts();
        assert_eq!((counts.faults, counts.resets), (0, 0), "after {sent} bytes");
        assert_eq!(board.received().lost, 0, "after {sent} bytes");
        for (at, power_on) in &board.fixture().power_ons()[powered..] {
            let asked = asked.iter().any(|(came, asked)| {
                asked == power_on && (at.saturating_sub(RECENT_NS)..=*at).contains(came)
            });
            assert!(asked, "nobody has asked for {power_on:?} at {at} ns");
        }
        powered = board.fixture().power_ons().len();
        let old = machine.nanoseconds().saturating_sub(2 * RECENT_NS);
        asked.retain(|&(came, _)| came > old);
    }
    let machine = line.machine();
    println!(
        "{sent} bytes in {:.0} s, in {:.0} s of the board's; {good} good frames answered, slowest \
         after {slowest:?}; {powered} times powered by {programs} programs that ask for power; \
         longest in the buffer {} bytes",
        began.elapsed().as_secs_f64(),
        machine.nanoseconds() as f64 * 1e-9,
        machine.board().received().longest,
    );
    assert!(powered > good / 2, "hardly a hostile program got as far as power");
    assert!(machine.board().received().stored >= sent as u64);
}
