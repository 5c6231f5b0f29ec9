//! Marches on ideal memories.

mod ideal;

use dipsift_engine::{Engine, STALL_NS};
use dipsift_wire::{Ended, MarchSetup, Marched, Miss, Move, Pins, Place, Summary};
use ideal::memory::{
    Bit, C_MINUS, Fault, INTERVAL_NS, Memory, dynamic_setup, march_header, socket, static_setup,
};
use ideal::{Ideal, Trip, capabilities, pins};

struct Bench {
    hardware: Ideal,
    engine: Box<Engine<Ideal, 256>>,
}

impl Bench {
    fn begin(hardware: Ideal, setup: &MarchSetup) -> Self {
        let mut bench = Self { hardware, engine: Box::new(Engine::new()) };
        bench.engine.begin(&mut bench.hardware, &march_header(), &capabilities()).unwrap();
        bench.engine.march(&mut bench.hardware, setup).unwrap();
        assert_eq!(bench.hardware.connects, 0, "powered too early");
        bench
    }

    fn proceed(&mut self) -> Marched {
        self.engine.proceed(&mut self.hardware).unwrap()
    }

    /// Runs to the end; between two pieces `between` passes.
    fn finish(&mut self, mut between: impl FnMut(&mut Self)) -> (Summary, Vec<Miss>) {
        let mut misses = Vec::new();
        loop {
            let marched = self.proceed();
            misses.extend(marched.misses);
            if let Some(summary) = marched.summary {
                assert_eq!(marched.operations, summary.steps);
                assert!(self.hardware.is_safe());
                assert!(!self.engine.is_open());
                return (summary, misses);
            }
            assert!(self.hardware.connection.is_some());
            between(self);
        }
    }
}

fn run(memory: Memory, setup: &MarchSetup) -> (Summary, Vec<Miss>) {
    Bench::begin(socket(memory), setup).finish(|_| {})
}

/// The catalogue's shapes: every order, repeated reads, long elements. The forms are those in
/// print: Nair 1979 (MATS, MATS+), van de Goor 1991 (MATS++, X, Y), Marinescu 1982 (C-), Suk and
/// Reddy 1981 (A, B), Hamdioui, van de Goor and Rodgers 2002 (SS).
const MARCHES: [(&str, &str, u32); 9] = [
    ("MATS", "any(w0);any(r0,w1);any(r1)", 4),
    ("MATS+", "any(w0);up(r0,w1);down(r1,w0)", 5),
    ("MATS++", "any(w0);up(r0,w1);down(r1,w0,r0)", 6),
    ("X", "any(w0);up(r0,w1);down(r1,w0);any(r0)", 6),
    ("Y", "any(w0);up(r0,w1,r1);down(r1,w0,r0);any(r0)", 8),
    ("C-", C_MINUS, 10),
    ("A", "any(w0);up(r0,w1,w0,w1);up(r1,w0,w1);down(r1,w0,w1,w0);down(r0,w1,w0)", 15),
    ("B", "any(w0);up(r0,w1,r1,w0,r0,w1);up(r1,w0,w1);down(r1,w0,w1,w0);down(r0,w1,w0)", 17),
    (
        "SS",
        "any(w0);up(r0,r0,w0,r0,w1);up(r1,r1,w1,r1,w0);down(r0,r0,w0,r0,w1);\
         down(r1,r1,w1,r1,w0);any(r0)",
        22,
    ),
];

/// The unusual way: a move that does nothing keeps the cycles from the quick form.
fn unusual(mut setup: MarchSetup) -> MarchSetup {
    for cycle in [&mut setup.read, &mut setup.write] {
        cycle.insert(0, Move::Set { pins: Pins::NONE, high: Pins::NONE }).unwrap();
    }
    setup
}

#[test]
fn a_good_memory_passes_every_march() {
    for (name, notation, length) in MARCHES {
        for separate in [false, true] {
            for any_down in [false, true] {
                let setup = MarchSetup { any_down, ..static_setup(separate, notation) };
                for setup in [setup.clone(), unusual(setup)] {
                    let mut bench = Bench::begin(socket(Memory::static_ram(separate)), &setup);
                    let (summary, misses) = bench.finish(|_| {});
                    assert_eq!(summary.ended, Ended::Complete, "{name}");
                    assert_eq!((summary.failures, misses.len()), (0, 0), "{name}");
                    assert_eq!(summary.steps, length * 16 * 3, "{name}");
                    assert_eq!(u64::from(summary.steps), setup.operations());
                    let writes = bench.hardware.memory.unwrap().writes;
                    let per_word =
                        (notation.matches("w0").count() + notation.matches("w1").count()) as u64;
                    assert_eq!(writes, per_word * 16 * 3, "{name}");
                }
            }
        }
        let (summary, _) = run(Memory::dynamic_ram(), &dynamic_setup(notation));
        assert_eq!((summary.ended, summary.failures), (Ended::Complete, 0), "{name}");
        assert_eq!(summary.steps, length * 256, "{name}");
    }
}

/// All faults of a class on the cells of two words and two bits.
fn stuck() -> Vec<Fault> {
    cells().flat_map(|cell| [false, true].map(|value| Fault::StuckAt { cell, value })).collect()
}

fn transitions() -> Vec<Fault> {
    cells().flat_map(|cell| [false, true].map(|to| Fault::Transition { cell, to })).collect()
}

/// Between cells of different words.
fn idempotent() -> Vec<Fault> {
    let mut faults = Vec::new();
    for aggressor in cells() {
        for victim in cells().filter(|victim| victim.address != aggressor.address) {
            for (to, value) in [(false, false), (false, true), (true, false), (true, true)] {
                faults.push(Fault::Idempotent { aggressor, to, victim, value });
            }
        }
    }
    faults
}

fn cells() -> impl Iterator<Item = Bit> {
    [3, 9, 14].into_iter().flat_map(|address| [0, 2].map(|bit| Bit { address, bit }))
}

/// How many of the faults are found whatever the cells held at power-up and whichever way "any"
/// runs, with one background.
fn found(notation: &str, faults: &[Fault]) -> usize {
    let setup = MarchSetup {
        backgrounds: heapless::Vec::from_slice(&[0]).unwrap(),
        ..static_setup(false, notation)
    };
    let finds = |fault: &Fault| {
        [0, 0xf].into_iter().all(|content| {
            [false, true].into_iter().all(|any_down| {
                let mut memory = Memory::static_ram(false);
                memory.array.words.fill(content);
                memory.array.faults.push(*fault);
                let setup = MarchSetup { any_down, ..setup.clone() };
                run(memory, &setup).0.failures > 0
            })
        })
    };
    faults.iter().filter(|&fault| finds(fault)).count()
}

/// The claims of van de Goor, "Using March Tests to Test SRAMs", IEEE Design & Test of Computers
/// 10 (1993) no. 1, pages 8 to 14: which classes a march finds wholly.
#[test]
fn faults_are_found_where_the_theory_says() {
    let (stuck, transitions, idempotent) = (stuck(), transitions(), idempotent());
    let march = |wanted: &str| MARCHES.iter().find(|(name, ..)| *name == wanted).unwrap().1;
    for (name, _, _) in MARCHES {
        assert_eq!(found(march(name), &stuck), stuck.len(), "{name}");
    }
    for name in ["MATS++", "X", "Y", "C-", "A", "B"] {
        assert_eq!(found(march(name), &transitions), transitions.len(), "{name}");
    }
    for name in ["C-", "A", "B"] {
        assert_eq!(found(march(name), &idempotent), idempotent.len(), "{name}");
    }
    // A fall that fails is seen by neither; a march without a read after its last write of 0
    // cannot see it.
    assert_eq!(found(march("MATS"), &transitions), transitions.len() / 2);
    assert_eq!(found(march("MATS+"), &transitions), transitions.len() / 2);
    // The share of March X is 4 of 8 and that of MATS+ 3 of 8, by direction, value and order.
    assert_eq!(found(march("X"), &idempotent), idempotent.len() * 4 / 8);
    assert_eq!(found(march("MATS+"), &idempotent), idempotent.len() * 3 / 8);
}

#[test]
fn a_failure_names_its_read() {
    let mut memory = Memory::static_ram(false);
    memory.array.faults.push(Fault::StuckAt { cell: Bit { address: 9, bit: 2 }, value: false });
    let setup = static_setup(false, C_MINUS);
    let (summary, misses) = run(memory, &setup);
    // Ones are expected there by the two reads of 1 in the backgrounds 0000 and 0011, and by the
    // three reads of 0 in 0101.
    assert_eq!(summary.failures, 2 + 3 + 2);
    let first = Miss { element: 2, operation: 0, background: 0, address: 9, seen: 0b1011 };
    assert_eq!(misses[0], first);
    assert_eq!(misses.len(), 7);
    assert_eq!(misses[2].background, 1);
    assert_eq!((misses[2].element, misses[2].seen), (1, 0b0001));
    assert_eq!((misses[6].element, misses[6].seen), (4, 0b1000));
    assert_eq!(setup.expected(&first), Some(0b1111));
    let failure = setup.failure(&first).unwrap();
    assert_eq!(failure.place, Place::March { element: 2, operation: 0, background: 0, address: 9 });
    assert_eq!(failure.pins, pins(&[11]));
    assert_eq!((failure.expected, failure.seen), (pins(&[9, 10, 11, 12]), pins(&[9, 10, 12])));
    // The summary says the same.
    assert_eq!(summary.first[0], failure);
    assert_eq!(summary.pins.len(), 1);
    assert_eq!((summary.pins[0].pin, summary.pins[0].low, summary.pins[0].high), (11, 7, 0));
}

/// A memory in which every read fails stops the march after nearly every reply's room.
#[test]
fn it_goes_on_exactly_where_it_stopped() {
    for setup in [static_setup(true, C_MINUS), unusual(static_setup(true, C_MINUS))] {
        let bad = || {
            let mut memory = Memory::static_ram(true);
            let dead = |address| {
                let value = address % 2 == 1;
                (0..4).map(move |bit| Fault::StuckAt { cell: Bit { address, bit }, value })
            };
            memory.array.faults.extend((0..16).flat_map(dead));
            memory
        };
        let mut replies = 0;
        let mut bench = Bench::begin(socket(bad()), &setup);
        let (summary, misses) = bench.finish(|_| replies += 1);
        assert!(replies >= 3, "{replies}");
        assert_eq!(summary.ended, Ended::Complete);
        // Each read of a word whose bits should not all be what they are stuck at.
        let mut expected = Vec::new();
        for (background, &word) in (0..).zip(&setup.backgrounds) {
            for (element, down, operation, inverted) in
                [(1, 0, 0, 0), (2, 0, 0, 1), (3, 1, 0, 0), (4, 1, 0, 1), (5, 0, 0, 0)]
            {
                for index in 0..16 {
                    let address = if down == 1 { 15 - index } else { index };
                    let seen = if address % 2 == 1 { 0xf } else { 0 };
                    let want = if inverted == 1 { !word & 0xf } else { word };
                    if seen != want {
                        expected.push(Miss { element, operation, background, address, seen });
                    }
                }
            }
        }
        assert_eq!(misses, expected);
        assert_eq!(summary.failures as usize, expected.len());
        assert_eq!(u64::from(summary.steps), setup.operations());
    }
}

#[test]
fn it_ends_at_as_many_failures_as_wanted() {
    for most_failures in [1, 2, 5, 63, 64, 65, 200] {
        let mut memory = Memory::static_ram(false);
        let cell = Bit { address: 5, bit: 0 };
        memory.array.faults.push(Fault::StuckAt { cell, value: true });
        let setup = MarchSetup {
            most_failures,
            ..static_setup(false, "any(w0);up(r0,r0,r0,r0,r0,r0);down(r0,r0,r0,r0,r0,r0)")
        };
        let (summary, misses) = run(memory, &setup);
        // Two backgrounds want 0 in bit 0 (0000) or 1 (0101, 0011): only the first fails.
        let all = 12;
        let ended = if most_failures <= all { Ended::Failures } else { Ended::Complete };
        assert_eq!(summary.ended, ended);
        // All operations at the address that reached the number have run.
        let count = if most_failures <= all { most_failures.div_ceil(6) * 6 } else { all };
        assert_eq!(misses.len() as u32, count);
        assert_eq!(summary.failures, count);
    }
}

#[test]
fn pieces_are_short_and_pauses_exact() {
    let notation = "any(w1);pause(120);up(r1,w0);pause(7);down(r0)";
    let mut bench = Bench::begin(socket(Memory::static_ram(false)), &static_setup(false, notation));
    let started = bench.hardware.now;
    loop {
        let before = bench.hardware.now;
        let marched = bench.proceed();
        let took = bench.hardware.now - before;
        assert!(took <= 55_000_000, "a piece took {took} ns");
        if let Some(summary) = marched.summary {
            assert_eq!(summary.failures, 0);
            break;
        }
        bench.hardware.now += 10_000_000;
    }
    let took = bench.hardware.now - started;
    // Time between pieces counts: three backgrounds of 127 ms, and little else.
    let pauses = 3 * 127_000_000;
    assert!((pauses..pauses + 30_000_000).contains(&took), "{took}");
}

#[test]
fn too_little_time_is_seen() {
    let setup = static_setup(false, C_MINUS);
    let slow = Memory { access_ns: 400, ..Memory::static_ram(false) };
    assert!(run(slow, &setup).0.failures > 0);
    let slow = Memory { pulse_ns: 400, ..Memory::static_ram(false) };
    assert!(run(slow, &setup).0.failures > 0);
}

#[test]
fn a_trip_ends_it() {
    let setup = static_setup(false, C_MINUS);
    let mut bench =
        Bench::begin(Ideal { trip: Trip::AtOnce, ..socket(Memory::static_ram(false)) }, &setup);
    let (summary, _) = bench.finish(|_| {});
    assert_eq!((summary.ended, summary.steps), (Ended::TrippedAtPowerUp, 0));
    // Its levels are applied once, at the beginning.
    let trip = Trip::AfterApplies(1);
    let mut bench = Bench::begin(Ideal { trip, ..socket(Memory::static_ram(false)) }, &setup);
    let (summary, misses) = bench.finish(|_| {});
    assert_eq!((summary.ended, misses.len()), (Ended::Tripped { step: 0 }, 0));
}

/// Wherever the supply trips, the station ends the operations at the address in progress and moves
/// no pin at another one. A write of the usual form is five moves, a read three and the address
/// one, after one for the upper part; of the unusual form they are eight and six, since each stage
/// is one and driving and releasing another.
#[test]
fn a_trip_ends_it_at_the_address_in_progress() {
    for (notation, quick_moves, unusual_moves) in
        [("up(w0)", 6, 8), ("down(w0,r0,w1,r1)", 17, 28), ("up(w0,w1,w0)", 16, 24)]
    {
        let quick = static_setup(false, notation);
        for (setup, start, address) in
            [(quick.clone(), 1, quick_moves), (unusual(quick), 0, unusual_moves)]
        {
            let operations = setup.operations() as u32 / 3 / 16;
            for moves in start + 1..=start + 16 * address {
                let trip = Trip::AfterMoves(moves);
                let hardware = Ideal { trip, ..socket(Memory::static_ram(false)) };
                let mut bench = Bench::begin(hardware, &setup);
                let (summary, _) = bench.finish(|_| {});
                let addresses = (moves - start).div_ceil(address);
                assert_eq!(bench.hardware.moves, start + addresses * address, "{notation} {moves}");
                assert_eq!(summary.ended, Ended::Tripped { step: addresses * operations });
            }
        }
    }
    // With the pause and the cycles that wake it 75 moves; a refresh of three comes between.
    for moves in 76..600 {
        let trip = Trip::AfterMoves(moves);
        let hardware = Ideal { trip, ..socket(Memory::dynamic_ram()) };
        let mut bench = Bench::begin(hardware, &dynamic_setup("up(w0,r0)"));
        let (summary, _) = bench.finish(|_| {});
        assert_eq!(summary.ended, Ended::Tripped { step: summary.steps });
        let late = bench.hardware.moves - moves;
        assert!(late < 14 + 3, "{late} moves after a trip at {moves}");
    }
}

/// A pause without refresh is the time that each row goes without: all rows are refreshed at its
/// beginning, and again at its end. A memory that holds for a little longer keeps its data.
#[test]
fn a_pause_without_refresh_is_what_each_row_goes_without() {
    let pause = |ms, holds_ns| {
        let setup = dynamic_setup(&format!("any(w1);rest({ms});any(r1)"));
        run(Memory::holding(holds_ns), &setup).0.failures
    };
    assert_eq!(pause(20, 20_200_000), 0);
    assert_eq!(pause(20, 19_900_000), 256);
}

/// A host that takes its time, a station that is busy as long as it may be, and failures on the
/// way: no row is ever left alone for longer than it may be, and no strobe is low for long.
#[test]
fn refresh_is_never_late() {
    let mut memory = Memory::dynamic_ram();
    let dead = |address| Fault::StuckAt { cell: Bit { address, bit: 0 }, value: true };
    memory.array.faults.extend((0..200).map(dead));
    let setup = MarchSetup {
        backgrounds: heapless::Vec::from_slice(&[0, 1]).unwrap(),
        ..dynamic_setup("any(w0);pause(70);up(r0,w1);up(r1,w0);down(r0,w1);pause(3);any(r1)")
    };
    let mut bench = Bench::begin(socket(memory), &setup);
    let mut busy_ns = 1_000;
    let mut replies = 0;
    let (summary, _) = bench.finish(|bench| {
        replies += 1;
        assert!(bench.engine.needs_tending());
        for _ in 0..40 {
            busy_ns = (busy_ns * 7 + 13_000) % u64::from(STALL_NS);
            bench.hardware.now += busy_ns;
            bench.engine.tend(&mut bench.hardware);
        }
    });
    assert_eq!(summary.ended, Ended::Complete);
    assert!(summary.failures > 200 && replies > 5, "{summary:?} {replies}");
    let memory = bench.hardware.memory.unwrap();
    let dynamic = memory.dynamic();
    assert!(dynamic.longest_gap <= INTERVAL_NS.into(), "{} ns", dynamic.longest_gap);
    assert!(dynamic.longest_gap > u64::from(INTERVAL_NS) / 2, "refresh is too eager to prove much");
    assert!(dynamic.longest_low <= 10_000, "{} ns", dynamic.longest_low);
    assert!(!bench.engine.needs_tending());
}

#[test]
fn a_dynamic_memory_is_woken() {
    let mut bench = Bench::begin(socket(Memory::dynamic_ram()), &dynamic_setup("any(w0);any(r0)"));
    let before = bench.hardware.now;
    bench.finish(|_| {});
    let memory = bench.hardware.memory.unwrap();
    // A millisecond for the supply, then the pause.
    assert!(memory.dynamic().first_cycle.unwrap() >= before + 1_000_000 + 200_000);
    // Eight to wake it, sixteen rows, then at least the operations.
    assert!(memory.dynamic().row_cycles >= 8 + 16 + 512);
}

#[test]
fn a_rest_without_refresh_tells_what_a_row_holds() {
    let march = |holds_ns: u64, notation: &str| {
        let mut memory = Memory::dynamic_ram();
        if let ideal::memory::Form::Dynamic(dynamic) = &mut memory.form {
            dynamic.holds_ns = holds_ns;
        }
        run(memory, &dynamic_setup(notation)).0.failures
    };
    assert_eq!(march(30_000_000, "any(w1);pause(60);any(r1)"), 0);
    assert_eq!(march(30_000_000, "any(w1);rest(20);any(r1)"), 0);
    assert_eq!(march(30_000_000, "any(w1);rest(40);any(r1)"), 256);
}

#[test]
fn words_need_not_fill_their_address() {
    let setup = MarchSetup { words: 11, ..static_setup(false, C_MINUS) };
    let mut memory = Memory::static_ram(false);
    memory.array.faults.push(Fault::StuckAt { cell: Bit { address: 11, bit: 0 }, value: true });
    let (summary, _) = run(memory, &setup);
    assert_eq!((summary.failures, summary.steps), (0, 10 * 11 * 3));
}

#[test]
fn a_memory_may_be_only_read() {
    let mut memory = Memory::static_ram(true);
    memory.array.words.fill(0xf);
    memory.array.words[6] = 0xd;
    let mut setup = static_setup(true, "up(r1)");
    setup.data_in.clear();
    setup.write.clear();
    setup.control = pins(&[5, 6]);
    setup.backgrounds.truncate(1);
    let (summary, misses) = run(memory, &setup);
    assert_eq!(summary.failures, 1);
    assert_eq!((misses[0].address, misses[0].seen), (6, 0xd));
}
