//! Marches by requests, over a line that takes its time.

#[path = "../../engine/tests/ideal/mod.rs"]
mod ideal;

use dipsift_station::{Identity, Station};
use dipsift_wire::*;
use ideal::memory::{
    Bit, C_MINUS, Fault, INTERVAL_NS, Memory, dynamic_setup, march_header, socket, static_setup,
};
use ideal::{Ideal, capabilities, header};
use std::sync::atomic::Ordering;

/// Ten bits at a megabit a second.
const BYTE_NS: u64 = 10_000;

fn station(memory: Memory) -> Station<Ideal> {
    let identity = Identity {
        commit: "0000000".try_into().unwrap(),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities: capabilities(),
        health: Health { clock: Clock::Virtual, brown_out: None, stack_free: None },
    };
    Station::new(socket(memory), identity)
}

fn frame(sequence: u16, ask: Ask) -> Vec<u8> {
    let mut buffer = [0; MAX_FRAME];
    encode_request(&Request { sequence, ask }, &mut buffer).unwrap().to_vec()
}

/// Sends bytes to the station, each of which takes its time, and takes what comes back, which
/// takes its time too.
fn transfer(station: &mut Station<Ideal>, bytes: &[u8]) -> Option<Answer> {
    let outside = station.hardware().outside.clone();
    let (mut input, mut answer) = (Accumulator::new(), None);
    let mut out = |bytes: &[u8]| {
        for &byte in bytes {
            outside.fetch_add(BYTE_NS, Ordering::Relaxed);
            if let Some(message) = input.push(byte) {
                answer = Some(decode_reply(message.unwrap()).unwrap().answer);
            }
        }
    };
    for &byte in bytes {
        station.receive(&[byte], &mut out);
        station.hardware().outside.fetch_add(BYTE_NS, Ordering::Relaxed);
    }
    answer
}

fn ask(station: &mut Station<Ideal>, sequence: u16, ask: Ask) -> Answer {
    transfer(station, &frame(sequence, ask)).unwrap()
}

/// Lets time pass with nothing on the line.
fn idle(station: &mut Station<Ideal>, ms: u64) {
    for _ in 0..ms * 4 {
        station.hardware_mut().now += 250_000;
        station.poll();
    }
}

/// A march that has been set up; its last sequence number is 2.
fn begun(memory: Memory, setup: MarchSetup) -> Station<Ideal> {
    let mut station = station(memory);
    assert_eq!(ask(&mut station, 1, Ask::Begin(march_header())), Answer::Began);
    assert_eq!(ask(&mut station, 2, Ask::March(setup)), Answer::Began);
    assert!(station.hardware().is_safe());
    station
}

#[test]
fn a_dynamic_memory_is_refreshed_while_its_failures_are_told() {
    let mut memory = Memory::dynamic_ram();
    let stuck = |address| Fault::StuckAt { cell: Bit { address, bit: 0 }, value: true };
    memory.array.faults.extend((0..256).map(stuck));
    let mut station = begun(memory, dynamic_setup(C_MINUS));
    let (mut sequence, mut replies, mut misses) = (2, 0, 0);
    let summary = loop {
        sequence += 1;
        match ask(&mut station, sequence, Ask::Proceed) {
            Answer::Marched(Marched { misses: new, summary, .. }) => {
                misses += new.len();
                if let Some(summary) = summary {
                    break summary;
                }
            }
            other => panic!("{other:?}"),
        }
        // The host thinks.
        idle(&mut station, 40);
        replies += 1;
    };
    // Every read of 0 fails, three times each cell.
    assert_eq!((summary.ended, summary.failures, misses), (Ended::Complete, 3 * 256, 3 * 256));
    assert!(replies > 3 * 256 / MAX_MISSES, "{replies}");
    let dynamic = station.hardware().memory.as_ref().unwrap().dynamic();
    assert!(dynamic.longest_gap <= INTERVAL_NS.into(), "{} ns", dynamic.longest_gap);
    assert!(dynamic.longest_low <= 10_000, "{} ns", dynamic.longest_low);
    assert!(station.hardware().is_safe());
}

#[test]
fn silence_ends_a_march() {
    let mut station = begun(Memory::dynamic_ram(), dynamic_setup("any(w0);pause(1000);any(r0)"));
    assert!(matches!(ask(&mut station, 3, Ask::Proceed), Answer::Marched(_)));
    idle(&mut station, 190);
    assert!(station.hardware().connection.is_some());
    idle(&mut station, 20);
    assert!(station.hardware().is_safe());
    assert_eq!(ask(&mut station, 4, Ask::Proceed), Answer::Refused(Refusal::OutOfOrder));
}

#[test]
fn a_repeated_piece_is_not_run_again() {
    let mut station = begun(Memory::static_ram(false), static_setup(false, C_MINUS));
    let proceed = frame(3, Ask::Proceed);
    let first = transfer(&mut station, &proceed);
    let writes = station.hardware().memory.as_ref().unwrap().writes;
    assert!(writes > 0);
    assert_eq!(transfer(&mut station, &proceed), first);
    assert_eq!(station.hardware().memory.as_ref().unwrap().writes, writes);
}

#[test]
fn what_does_not_follow_is_refused() {
    let setup = || Ask::March(static_setup(false, C_MINUS));
    let refused = Answer::Refused(Refusal::OutOfOrder);
    // Not the next number.
    let mut station = begun(Memory::static_ram(false), static_setup(false, C_MINUS));
    assert_eq!(ask(&mut station, 4, Ask::Proceed), refused);
    assert_eq!(ask(&mut station, 5, Ask::Proceed), refused);
    // A second set-up, and one without or for another kind of program.
    let mut station = begun(Memory::static_ram(false), static_setup(false, C_MINUS));
    assert_eq!(ask(&mut station, 3, setup()), refused);
    assert_eq!(ask(&mut station, 4, setup()), refused);
    assert_eq!(ask(&mut station, 5, Ask::Begin(header())), Answer::Began);
    assert_eq!(ask(&mut station, 6, setup()), refused);
    // No set-up, and a window.
    assert_eq!(ask(&mut station, 7, Ask::Begin(march_header())), Answer::Began);
    assert_eq!(ask(&mut station, 8, Ask::Proceed), refused);
    assert_eq!(ask(&mut station, 9, Ask::Begin(march_header())), Answer::Began);
    let window = Window { index: 0, last: false, code: heapless::Vec::new() };
    assert_eq!(ask(&mut station, 10, Ask::Window(window)), refused);
    assert!(station.hardware().is_safe());
    assert_eq!(station.hardware().connects, 0);
}

#[test]
fn words_are_read_out_once_each() {
    let mut memory = Memory::dynamic_ram();
    let words: Vec<u16> = (0..256).map(|address: u16| address.count_ones() as u16 & 1).collect();
    memory.array.words.clone_from(&words);
    let setup = MarchSetup { elements: heapless::Vec::new(), ..dynamic_setup(C_MINUS) };
    let mut station = begun(memory, setup);
    let read = |first, count| frame(3 + (first / 128) as u16, Ask::ReadOut { first, count });
    let first = transfer(&mut station, &read(0, 128));
    let Some(Answer::Words(Words { words: half, summary: None })) = &first else {
        panic!("{first:?}")
    };
    assert_eq!(half, &words[..128]);
    // A repetition is answered from memory.
    let samples = station.hardware().samples;
    assert_eq!(transfer(&mut station, &read(0, 128)), first);
    assert_eq!(station.hardware().samples, samples);
    idle(&mut station, 150);
    let second = transfer(&mut station, &read(128, 128));
    let Some(Answer::Words(Words { words: half, summary: Some(summary) })) = second else {
        panic!("{second:?}")
    };
    assert_eq!(half, words[128..]);
    assert_eq!((summary.ended, summary.steps), (Ended::Complete, 256));
    assert!(station.hardware().is_safe());
    let dynamic = station.hardware().memory.as_ref().unwrap().dynamic();
    assert!(dynamic.longest_gap <= INTERVAL_NS.into(), "{} ns", dynamic.longest_gap);
    // It is over.
    let over = Answer::Refused(Refusal::OutOfOrder);
    assert_eq!(ask(&mut station, 5, Ask::ReadOut { first: 0, count: 1 }), over);
}

#[test]
fn what_cannot_be_read_out_is_refused() {
    let begin = || begun(Memory::static_ram(false), static_setup(false, C_MINUS));
    let mut station = begin();
    let words = Answer::Refused(Refusal::March(MarchFlaw::Words));
    assert_eq!(ask(&mut station, 3, Ask::ReadOut { first: 10, count: 7 }), words);
    assert!(station.hardware().is_safe());
    // Not the next number.
    let refused = Answer::Refused(Refusal::OutOfOrder);
    assert_eq!(ask(&mut begin(), 4, Ask::ReadOut { first: 0, count: 1 }), refused);
    // A trip is counted.
    let mut station = begin();
    station.hardware_mut().trip = ideal::Trip::AfterApplies(1);
    let Answer::Words(read) = ask(&mut station, 3, Ask::ReadOut { first: 0, count: 16 }) else {
        panic!("no words")
    };
    assert_eq!((read.words.len(), read.summary.unwrap().ended), (0, Ended::Tripped { step: 0 }));
    let Answer::Status(status) = ask(&mut station, 4, Ask::Status) else { panic!("no status") };
    assert_eq!((status.trips, status.powered), (1, false));
}
