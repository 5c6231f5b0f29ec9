//! Requests one by one, to leave a program open.

use dipsift_emulated::{Line, Machine, Sources};
use dipsift_language::Family;
use dipsift_link::Transport;
use dipsift_simulator::{Chip, Defect};
use dipsift_tests::desk::library;
use dipsift_wire::{
    Accumulator, Answer, Ask, Header, Hello, Kind, MAX_FRAME, Pins, Power, Rail, Request, Status,
    Step, VERSIONS, Voltage, Window, decode_reply, encode_request, push_step,
};
use std::sync::Arc;
use std::time::Duration;

/// A talk with the board.
pub struct Talk {
    pub line: Line,
    sequence: u16,
}

/// A 7400 fed with 5 V, its inputs driven, the light keepers on.
pub fn header(limit_ua: u32) -> Header {
    let power = Power { feed: Pins::one(14), ground: Pins::one(7), voltage: Voltage::V5, limit_ua };
    Header {
        kind: Kind::Vector,
        pins: 14,
        shift: 0,
        power: Some(power),
        settle_ns: 1_000,
        keeper_ns: 1_000,
        capture: false,
    }
}

impl Talk {
    /// With a board that has started and holds a good 7400.
    pub fn new() -> Self {
        let mut talk = Self { line: super::line(5, Sources::default()), sequence: 100 };
        talk.insert("7400", Family::Standard, &[]);
        talk
    }

    /// Puts a chip into the socket in place of the one before, its pin 1 in position 1.
    pub fn insert(&mut self, number: &str, family: Family, defects: &[Defect]) {
        let part = library().part(number).expect("the part is in the library");
        let chip = Chip::new(Arc::clone(part), family, 7).expect("it has a package");
        let socket = self.machine().board_mut().fixture_mut().socket_mut();
        socket.insert(chip, defects).expect("it fits");
    }

    pub fn machine(&mut self) -> &mut Machine {
        self.line.machine_mut()
    }

    /// Whether nothing is fed, grounded, driven or kept, at the socket and in the registers.
    pub fn is_safe(&self) -> bool {
        let board = self.line.machine().board();
        board.fixture().is_safe() && board.unsafe_pins().is_empty()
    }

    pub fn is_powered(&self) -> bool {
        self.line.machine().board().fixture().is_powered()
    }

    pub fn run_ms(&mut self, milliseconds: u64) {
        self.machine().run(milliseconds * 1_000_000).expect("the board runs");
    }

    /// Waits until the image has started.
    pub fn start(&mut self) {
        super::started(self.machine());
    }

    /// Asks once, and waits half a second for the answer.
    pub fn ask(&mut self, ask: Ask) -> Option<Answer> {
        self.send(ask);
        self.answer()
    }

    /// Asks and does not wait.
    pub fn send(&mut self, ask: Ask) {
        self.sequence += 1;
        let mut buffer = [0; MAX_FRAME];
        let request = Request { sequence: self.sequence, ask };
        let frame = encode_request(&request, &mut buffer).expect("it fits").to_vec();
        self.line.send(&frame).expect("the line is there");
    }

    /// Waits half a second for the answer to what was asked last.
    pub fn answer(&mut self) -> Option<Answer> {
        let until = self.line.now() + Duration::from_millis(500);
        let mut input = Accumulator::new();
        while self.line.now() < until {
            let mut byte = [0];
            let left = until.saturating_sub(self.line.now());
            if self.line.receive(&mut byte, left).expect("the board runs") == 0 {
                break;
            }
            if let Some(Ok(message)) = input.push(byte[0]) {
                let reply = decode_reply(message).expect("a reply");
                if reply.sequence == self.sequence {
                    return Some(reply.answer);
                }
            }
        }
        None
    }

    /// Leaves a program open: powered, driven, kept.
    pub fn power(&mut self, limit_ua: u32) -> Option<Answer> {
        assert_eq!(self.ask(Ask::Begin(header(limit_ua))), Some(Answer::Began));
        let mut window = Window { index: 0, last: false, code: Default::default() };
        let inputs = [1, 2, 4, 5, 9, 10, 12, 13];
        let pins = inputs.into_iter().fold(Pins::NONE, |set, pin| set.with(pin, true));
        for step in [
            Step::Keep { light: Rail::High, firm: Rail::Off },
            Step::Drive { pins, high: Pins::one(1) },
        ] {
            push_step(&step, &mut window.code).expect("it fits");
        }
        self.ask(Ask::Window(window))
    }

    /// Sends the open program's next window, which waits, and does not wait itself.
    pub fn wait_in_window(&mut self, nanoseconds: u32) {
        let mut window = Window { index: 1, last: false, code: Default::default() };
        push_step(&Step::Wait { ns: nanoseconds }, &mut window.code).expect("it fits");
        self.send(Ask::Window(window));
    }

    pub fn hello(&mut self) -> Hello {
        match self.ask(Ask::Hello(VERSIONS)) {
            Some(Answer::Hello(hello)) => hello,
            other => panic!("{other:?} for a hello"),
        }
    }

    pub fn status(&mut self) -> Status {
        match self.ask(Ask::Status) {
            Some(Answer::Status(status)) => status,
            other => panic!("{other:?} for a status"),
        }
    }
}
