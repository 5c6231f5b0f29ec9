//! What a memory holds, read out.

mod ideal;

use dipsift_engine::Engine;
use dipsift_wire::{Ended, MAX_WORDS, MarchFlaw, MarchSetup, Refusal, Words};
use ideal::memory::{
    C_MINUS, INTERVAL_NS, Memory, dynamic_setup, march_header, socket, static_setup,
};
use ideal::{Ideal, Trip, capabilities};

struct Bench {
    hardware: Ideal,
    engine: Box<Engine<Ideal, 16>>,
}

impl Bench {
    fn begin(hardware: Ideal, setup: &MarchSetup) -> Self {
        let mut bench = Self { hardware, engine: Box::new(Engine::new()) };
        bench.engine.begin(&mut bench.hardware, &march_header(), &capabilities()).unwrap();
        bench.engine.march(&mut bench.hardware, setup).unwrap();
        bench
    }

    fn read(&mut self, first: u32, count: u16) -> Result<Words, Refusal> {
        let result = self.engine.read_out(&mut self.hardware, first, count);
        let goes_on = matches!(&result, Ok(Words { summary: None, .. }));
        assert_eq!(self.engine.is_open(), goes_on);
        assert_eq!(self.hardware.is_safe(), !goes_on);
        result
    }

    fn proceed(&mut self) -> Result<(), Refusal> {
        self.engine.proceed(&mut self.hardware).map(|_| ())
    }
}

/// A memory that is only read, and what it holds.
fn programmed() -> (Memory, MarchSetup, Vec<u16>) {
    let mut memory = Memory::static_ram(true);
    let words: Vec<u16> = (0..16).map(|address| (address * 7 + 3) & 0xf).collect();
    memory.array.words.clone_from(&words);
    let mut setup = static_setup(true, "up(r0)");
    setup.data_in.clear();
    setup.write.clear();
    setup.elements.clear();
    (memory, setup, words)
}

#[test]
fn words_come_in_their_order() {
    let (memory, setup, words) = programmed();
    let mut bench = Bench::begin(socket(memory), &setup);
    let first = bench.read(0, 5).unwrap();
    assert_eq!((first.words.as_slice(), first.summary), (&words[..5], None));
    // Again, and elsewhere.
    assert_eq!(bench.read(3, 4).unwrap().words, words[3..7]);
    let last = bench.read(7, 9).unwrap();
    assert_eq!(last.words, words[7..]);
    let summary = last.summary.expect("it was the last");
    assert_eq!((summary.ended, summary.steps, summary.failures), (Ended::Complete, 18, 0));
    assert_eq!((summary.current_min_ua, summary.current_max_ua), (8_000, 8_000));
    assert_eq!(bench.hardware.connects, 1);
    assert_eq!(bench.hardware.memory.unwrap().writes, 0);
    assert_eq!(bench.engine.read_out(&mut socket(Memory::static_ram(true)), 0, 1), {
        Err(Refusal::OutOfOrder)
    });
}

#[test]
fn there_must_be_such_words() {
    let (memory, setup, _) = programmed();
    for (first, count) in
        [(0, 0), (0, 17), (16, 1), (u32::MAX, 1), (u32::MAX, u16::MAX), (0, MAX_WORDS as u16 + 1)]
    {
        let mut bench = Bench::begin(socket(memory.clone()), &setup);
        assert_eq!(bench.read(first, count), Err(Refusal::March(MarchFlaw::Words)), "{first}");
        assert_eq!(bench.hardware.connects, 0);
        // Powered, too.
        let mut bench = Bench::begin(socket(memory.clone()), &setup);
        bench.read(0, 1).unwrap();
        assert_eq!(bench.read(first, count), Err(Refusal::March(MarchFlaw::Words)), "{first}");
    }
}

#[test]
fn a_memory_is_read_out_or_marched() {
    let (memory, setup, _) = programmed();
    // There is no march.
    let mut bench = Bench::begin(socket(memory.clone()), &setup);
    assert_eq!(bench.proceed(), Err(Refusal::OutOfOrder));
    assert_eq!(bench.hardware.connects, 0);
    // There is one, but it is being read.
    let march = || socket(Memory::static_ram(false));
    let setup = static_setup(false, C_MINUS);
    let mut bench = Bench::begin(march(), &setup);
    bench.read(0, 1).unwrap();
    assert_eq!(bench.proceed(), Err(Refusal::OutOfOrder));
    assert!(bench.hardware.is_safe());
    assert_eq!(bench.hardware.memory.unwrap().writes, 0);
    // There is one, and it has begun.
    let mut bench = Bench::begin(march(), &static_setup(false, "any(w0);pause(100);any(r0)"));
    bench.proceed().unwrap();
    assert_eq!(bench.read(0, 1), Err(Refusal::OutOfOrder));
    // None is set up, or no program is open.
    let mut engine = Engine::<Ideal, 16>::new();
    let mut hardware = march();
    assert_eq!(engine.read_out(&mut hardware, 0, 1), Err(Refusal::OutOfOrder));
    engine.begin(&mut hardware, &march_header(), &capabilities()).unwrap();
    assert_eq!(engine.read_out(&mut hardware, 0, 1), Err(Refusal::OutOfOrder));
}

#[test]
fn a_trip_ends_it() {
    let (memory, setup, words) = programmed();
    let mut bench = Bench::begin(Ideal { trip: Trip::AtOnce, ..socket(memory.clone()) }, &setup);
    let read = bench.read(0, 16).unwrap();
    assert!(read.words.is_empty());
    assert_eq!(read.summary.unwrap().ended, Ended::TrippedAtPowerUp);
    // A word that is read while the supply goes is not told. Its cycle is four moves.
    for moves in 0..4 {
        let trip = Trip::AfterMoves(3 * 4 + moves);
        let mut bench = Bench::begin(Ideal { trip, ..socket(memory.clone()) }, &setup);
        let read = bench.read(0, 16).unwrap();
        let summary = read.summary.unwrap();
        assert_eq!(summary.ended, Ended::Tripped { step: summary.steps });
        assert_eq!(read.words.len() as u32, summary.steps);
        assert!((2..=3).contains(&read.words.len()), "{moves}: {}", read.words.len());
        assert!(words.starts_with(&read.words));
    }
    // Between two read-outs.
    let mut bench = Bench::begin(socket(memory), &setup);
    bench.read(0, 4).unwrap();
    bench.hardware.trip = Trip::AtOnce;
    let read = bench.read(4, 12).unwrap();
    assert!(read.words.is_empty());
    assert_eq!(read.summary.unwrap().ended, Ended::Tripped { step: 4 });
}

#[test]
fn a_dynamic_memory_stays_refreshed() {
    let memory = Memory::dynamic_ram();
    let words = memory.array.words.clone();
    let setup = MarchSetup { elements: Default::default(), ..dynamic_setup(C_MINUS) };
    let mut bench = Bench::begin(socket(memory), &setup);
    let mut read = Vec::new();
    let summary = loop {
        let new = bench.read(read.len() as u32, 32).unwrap();
        read.extend(new.words);
        if let Some(summary) = new.summary {
            break summary;
        }
        assert!(bench.engine.needs_tending());
        for _ in 0..50 {
            bench.hardware.now += 400_000;
            bench.engine.tend(&mut bench.hardware);
        }
    };
    assert_eq!(read, words);
    assert_eq!((summary.ended, summary.steps), (Ended::Complete, 256));
    let memory = bench.hardware.memory.unwrap();
    let dynamic = memory.dynamic();
    assert!(dynamic.longest_gap <= INTERVAL_NS.into(), "{} ns", dynamic.longest_gap);
    assert!(dynamic.row_cycles >= 8 + 256);
}

/// Shared and separate data pins, and a strobed address, by few and by many.
#[test]
fn words_are_read_out_as_they_are() {
    for (memory, setup) in [
        (Memory::static_ram(false), static_setup(false, "")),
        (Memory::static_ram(true), static_setup(true, "")),
        (Memory::dynamic_ram(), dynamic_setup("")),
    ] {
        let mut memory = memory;
        let mask = setup.word();
        let held: Vec<u16> = (0..setup.words as u16).map(|at| (at * 7 + 3) & mask).collect();
        memory.array.words.iter_mut().zip(&held).for_each(|(word, &held)| *word = held);
        for count in [1, 5, 128] {
            let mut bench = Bench::begin(socket(memory.clone()), &setup);
            let mut words: Vec<u16> = Vec::new();
            let summary = loop {
                let (first, left) = (words.len() as u32, setup.words - words.len() as u32);
                let read = bench.read(first, left.min(count) as u16).unwrap();
                words.extend(read.words);
                if let Some(summary) = read.summary {
                    break summary;
                }
            };
            assert_eq!(words, held, "by {count}");
            assert_eq!((summary.ended, summary.steps), (Ended::Complete, setup.words));
        }
    }
}
