//! Programs that the station holds itself, and the requests about them.

#[path = "../../engine/tests/ideal/mod.rs"]
mod ideal;
mod made;

use dipsift_pins::Positions;
use dipsift_station::{Identity, Press, Station, Stored};
use dipsift_stored::{Memory, MemoryFault, Sector, Verdict};
use dipsift_wire::*;
use ideal::{Ideal, Trip, capabilities, header, inputs, truth_table};
use made::{Made, blob};
use std::cell::Cell;
use std::rc::Rc;

const GO: u8 = 0;
const NO_GO: u8 = 1;
const NOT_DECIDED: u8 = 2;
const NEXT: u8 = 3;

/// Memory in words, that tells what is done to it, and may fail.
#[derive(Clone, Default)]
struct Words {
    words: Rc<Cell<[[Option<u32>; 32]; 2]>>,
    written: Rc<Cell<u32>>,
    fails: Rc<Cell<bool>>,
}

impl Memory for Words {
    fn words(&self) -> usize {
        32
    }
    fn read(&self, sector: Sector, word: usize) -> u32 {
        self.words.get()[sector as usize][word].unwrap_or(u32::MAX)
    }
    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault> {
        self.written.set(self.written.get() + 1);
        if self.fails.get() {
            return Err(MemoryFault);
        }
        let mut words = self.words.get();
        assert_eq!(words[sector as usize][word], None, "programmed without being erased");
        words[sector as usize][word] = Some(value);
        self.words.set(words);
        Ok(())
    }
    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault> {
        let mut words = self.words.get();
        words[sector as usize] = [None; 32];
        self.words.set(words);
        Ok(())
    }
}

type TestStation = Station<Ideal, 256, Words>;

const HEALTH: Health = Health { clock: Clock::Internal, brown_out: Some(3), stack_free: None };

fn station(programs: &'static [u8], memory: &Words) -> TestStation {
    let identity = Identity {
        commit: "0000000".try_into().unwrap(),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities: capabilities(),
        health: HEALTH,
    };
    Station::with_stored(Ideal::default(), identity, Stored::new(programs, memory.clone()))
}

fn ask(station: &mut TestStation, sequence: u16, ask: Ask) -> Answer {
    let mut buffer = [0; MAX_FRAME];
    let frame = encode_request(&Request { sequence, ask }, &mut buffer).unwrap();
    let (mut input, mut answers) = (Accumulator::new(), Vec::new());
    station.receive(frame, &mut |bytes| {
        for &byte in bytes {
            if let Some(message) = input.push(byte) {
                answers.push(decode_reply(message.unwrap()).unwrap().answer);
            }
        }
    });
    assert_eq!(answers.len(), 1);
    answers.remove(0)
}

fn name(text: &str) -> heapless::String<MAX_NAME> {
    text.try_into().unwrap()
}

fn arm(station: &mut TestStation, text: &str) -> Answer {
    ask(station, 100, Ask::Arm(Some(name(text))))
}

/// The gate's function table in two windows, behind an unpowered phase that measures a voltage.
fn gate(bounds: (u16, u16)) -> Vec<Made> {
    let unpowered = Header { power: None, ..header() };
    let measure = vec![Step::Voltage { pin: 14 }];
    let steps = truth_table();
    let (first, second) = steps.split_at(5);
    vec![
        Made {
            next: [NEXT, NOT_DECIDED, NOT_DECIDED, NOT_DECIDED],
            voltages: vec![bounds],
            header: unpowered,
            windows: vec![measure],
            march: None,
        },
        Made {
            next: [GO, NO_GO, NO_GO, NOT_DECIDED],
            voltages: Vec::new(),
            header: header(),
            windows: vec![first.to_vec(), second.to_vec()],
            march: None,
        },
    ]
}

/// Any voltage.
const ANY: (u16, u16) = (0, u16::MAX);

fn held() -> &'static [u8] {
    blob(&[("4116", 1, Vec::new()), ("7400", 0, gate(ANY)), ("74LS00", 0, gate((1, 2)))])
}

fn press(station: &mut TestStation) -> Press {
    let press = station.press(|_| true);
    assert!(station.hardware().is_safe());
    press
}

#[test]
fn what_is_held_is_listed_page_by_page() {
    let mut station = station(held(), &Words::default());
    let Answer::Stored(page) = ask(&mut station, 1, Ask::Stored { from: 0 }) else { panic!() };
    assert_eq!(page.count, 3);
    let seen: Vec<_> =
        page.parts.iter().map(|part| (part.name.as_str(), part.kind, part.runnable)).collect();
    assert_eq!(seen, [("4116", 1, false), ("7400", 0, true), ("74LS00", 0, true)]);
    for (from, rest) in [(1, 2), (3, 0), (u16::MAX, 0)] {
        let Answer::Stored(page) = ask(&mut station, 2, Ask::Stored { from }) else { panic!() };
        assert_eq!((page.count, page.parts.len()), (3, rest));
    }
    let names: Vec<String> = (0..40).map(|number| format!("part {number:02}")).collect();
    let many: Vec<_> = names.iter().map(|name| (name.as_str(), 9, Vec::new())).collect();
    let mut station = self::station(blob(&many), &Words::default());
    for (from, count) in [(0, MAX_PAGE), (16, MAX_PAGE), (32, 8)] {
        let Answer::Stored(page) = ask(&mut station, 3, Ask::Stored { from }) else { panic!() };
        assert_eq!((page.count, page.parts.len()), (40, count));
        assert_eq!(page.parts[0].name.as_str(), names[usize::from(from)]);
    }
}

#[test]
fn what_is_armed_outlives_a_reset() {
    let memory = Words::default();
    let mut station = station(held(), &memory);
    assert_eq!(ask(&mut station, 1, Ask::Armed), Answer::Armed(None));
    let armed = Answer::Armed(Some(Armed { name: name("7400"), held: true }));
    assert_eq!(arm(&mut station, "7400"), armed);
    let mut station = self::station(held(), &memory);
    assert_eq!(ask(&mut station, 1, Ask::Armed), armed);
    // Another image that holds no such program.
    let gone = Answer::Armed(Some(Armed { name: name("7400"), held: false }));
    for other in [blob(&[("7400", 1, Vec::new())]), &[], b"dsst damaged"] {
        let mut station = self::station(other, &memory);
        assert_eq!(ask(&mut station, 1, Ask::Armed), gone);
        assert_eq!(press(&mut station), Press::Nothing);
    }
    assert_eq!(ask(&mut station, 2, Ask::Arm(None)), Answer::Armed(None));
    assert_eq!(ask(&mut self::station(held(), &memory), 3, Ask::Armed), Answer::Armed(None));
}

#[test]
fn what_cannot_be_armed_is_refused_and_changes_nothing() {
    let memory = Words::default();
    let mut station = station(held(), &memory);
    arm(&mut station, "7400");
    let written = memory.written.get();
    for text in ["4116", "7401", "", "74"] {
        assert_eq!(arm(&mut station, text), Answer::Refused(Refusal::UnknownStored), "{text:?}");
    }
    assert_eq!(memory.written.get(), written);
    memory.fails.set(true);
    assert_eq!(arm(&mut station, "74LS00"), Answer::Refused(Refusal::Memory));
    let armed = Answer::Armed(Some(Armed { name: name("7400"), held: true }));
    assert_eq!(ask(&mut station, 9, Ask::Armed), armed);
}

#[test]
fn an_image_without_programs_and_a_damaged_one_are_told_apart() {
    let none = Page { count: 0, parts: heapless::Vec::new() };
    let mut empty = station(&[], &Words::default());
    assert_eq!(ask(&mut empty, 1, Ask::Stored { from: 0 }), Answer::Stored(none));
    assert_eq!(arm(&mut empty, "7400"), Answer::Refused(Refusal::UnknownStored));
    let mut bytes = held().to_vec();
    bytes[40] ^= 1;
    let mut damaged = station(bytes.leak(), &Words::default());
    let refused = Answer::Refused(Refusal::DamagedStored);
    assert_eq!(ask(&mut damaged, 1, Ask::Stored { from: 0 }), refused);
    assert_eq!(arm(&mut damaged, "7400"), refused);
    // Nothing is what even a damaged image can arm.
    assert_eq!(ask(&mut damaged, 2, Ask::Arm(None)), Answer::Armed(None));
}

#[test]
fn nothing_is_written_while_the_socket_is_powered() {
    let memory = Words::default();
    let mut station = station(held(), &memory);
    // An open, powered program ends before anything is written.
    assert_eq!(ask(&mut station, 1, Ask::Begin(header())), Answer::Began);
    let window = Window { index: 0, last: false, code: heapless::Vec::new() };
    ask(&mut station, 2, Ask::Window(window));
    assert!(station.hardware().connection.is_some());
    arm(&mut station, "7400");
    assert!(station.hardware().is_safe());
    assert!(memory.written.get() > 0);
    // Switches that do not open: nothing is written.
    let written = memory.written.get();
    station.hardware_mut().sticks = true;
    assert_eq!(ask(&mut station, 3, Ask::Begin(header())), Answer::Began);
    let window = Window { index: 0, last: false, code: heapless::Vec::new() };
    ask(&mut station, 4, Ask::Window(window));
    assert_eq!(arm(&mut station, "74LS00"), Answer::Refused(Refusal::Powered));
    assert_eq!(memory.written.get(), written);
}

#[test]
fn a_press_runs_the_armed_program_and_says_what_it_found() {
    let mut station = station(held(), &Words::default());
    assert_eq!(press(&mut station), Press::Nothing, "nothing is armed");
    arm(&mut station, "7400");
    assert_eq!(press(&mut station), Press::Ran(Verdict::Go));
    station.hardware_mut().stuck_low = Positions::one(3);
    assert_eq!(press(&mut station), Press::Ran(Verdict::NoGo));
    // Fails in the second window only.
    station.hardware_mut().stuck_low = Positions::NONE;
    station.hardware_mut().stuck_high = Positions::one(3);
    assert_eq!(press(&mut station), Press::Ran(Verdict::NoGo));
    station.hardware_mut().stuck_high = Positions::NONE;
    station.hardware_mut().trip = Trip::AtOnce;
    assert_eq!(press(&mut station), Press::Ran(Verdict::NotDecided));
    station.hardware_mut().trip = Trip::AfterApplies(2);
    assert_eq!(press(&mut station), Press::Ran(Verdict::NoGo));
    assert_eq!(
        ask(&mut station, 9, Ask::Status),
        Answer::Status(Status { trips: 2, ..Status::default() })
    );
    station.hardware_mut().trip = Trip::Never;
    arm(&mut station, "74LS00");
    let connects = station.hardware().connects;
    assert_eq!(press(&mut station), Press::Ran(Verdict::NotDecided), "the voltage is elsewhere");
    assert_eq!(station.hardware().connects, connects, "and nothing is powered then");
}

#[test]
fn a_press_between_the_windows_of_a_host_does_nothing() {
    let mut station = station(held(), &Words::default());
    arm(&mut station, "7400");
    assert_eq!(ask(&mut station, 1, Ask::Begin(header())), Answer::Began);
    assert_eq!(station.press(|_| true), Press::Busy);
    let mut code = heapless::Vec::new();
    truth_table().iter().for_each(|step| push_step(step, &mut code).unwrap());
    let window = Window { index: 0, last: true, code };
    match ask(&mut station, 2, Ask::Window(window)) {
        Answer::Ran(Ran { summary: Some(summary), .. }) => assert_eq!(summary.failures, 0),
        other => panic!("{other:?}"),
    }
    assert_eq!(press(&mut station), Press::Ran(Verdict::Go));
}

#[test]
fn a_check_that_is_broken_off_says_nothing_of_the_chip() {
    let mut station = station(held(), &Words::default());
    arm(&mut station, "7400");
    let mut ticks = 0;
    let press = station.press(|hardware| {
        ticks += 1;
        assert!(hardware.connection.is_some(), "between the two windows");
        false
    });
    assert_eq!((press, ticks), (Press::Ran(Verdict::NotDecided), 1));
    assert!(station.hardware().is_safe());
}

#[test]
fn programs_that_the_engine_refuses_power_nothing() {
    type Change = fn(&mut Made);
    let wrong: [(&str, Change); 4] = [
        ("fed and grounded", |phase| {
            let power = phase.header.power.as_mut().unwrap();
            power.ground = power.feed;
        }),
        ("too much current", |phase| {
            phase.header.power.as_mut().unwrap().limit_ua = u32::MAX;
        }),
        ("supplied and driven", |phase| {
            let pins = Pins::one(14);
            phase.windows[0] = vec![Step::Drive { pins, high: pins }];
        }),
        ("too long", |phase| phase.windows[0] = vec![Step::Wait { ns: 300_000_000 }]),
    ];
    for (what, change) in wrong {
        let mut phases = gate(ANY);
        change(&mut phases[1]);
        let mut station = station(blob(&[("7400", 0, phases)]), &Words::default());
        arm(&mut station, "7400");
        assert_eq!(press(&mut station), Press::Ran(Verdict::NotDecided), "{what}");
        assert_eq!(station.hardware().connects, 0, "{what}");
    }
}

#[test]
fn a_last_phase_that_points_further_decides_nothing() {
    let mut phases = gate(ANY);
    phases[1].next = [NEXT; 4];
    let mut station = station(blob(&[("7400", 0, phases)]), &Words::default());
    arm(&mut station, "7400");
    assert_eq!(press(&mut station), Press::Ran(Verdict::NotDecided));
}

#[test]
fn health_is_told_and_changes_nothing() {
    let mut station = station(held(), &Words::default());
    ask(&mut station, 1, Ask::Begin(header()));
    assert_eq!(ask(&mut station, 2, Ask::Health), Answer::Health(HEALTH));
    station.health_mut().stack_free = Some(5_000);
    let expected = Health { stack_free: Some(5_000), ..HEALTH };
    assert_eq!(ask(&mut station, 3, Ask::Health), Answer::Health(expected));
    // Neither do lists and what is armed.
    ask(&mut station, 4, Ask::Stored { from: 0 });
    ask(&mut station, 5, Ask::Armed);
    let drive = Step::Drive { pins: inputs(), high: inputs() };
    let mut code = heapless::Vec::new();
    push_step(&drive, &mut code).unwrap();
    let window = Window { index: 0, last: true, code };
    assert!(matches!(ask(&mut station, 6, Ask::Window(window)), Answer::Ran(_)));
}

/// A host of version 1: it greets with its own range, reads the version range of whatever comes,
/// and asks nothing that is newer.
#[test]
fn a_host_of_version_1_finds_what_it_knows() {
    let mut station = station(held(), &Words::default());
    let range = VersionRange { min: 1, max: 1 };
    match ask(&mut station, 1, Ask::Hello(range)) {
        Answer::Hello(hello) => assert_eq!(hello.versions.common(range), Some(1)),
        other => panic!("{other:?}"),
    }
    assert_eq!(ask(&mut station, 2, Ask::Begin(header())), Answer::Began);
    assert!(matches!(ask(&mut station, 3, Ask::Status), Answer::Status(_)));
    assert_eq!(ask(&mut station, 4, Ask::Off), Answer::Off);
}
