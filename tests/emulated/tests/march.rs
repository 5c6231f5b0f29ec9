//! Memories marched by the image: the verdicts of the plain simulator, what an operation takes, and
//! what must hold of the pins meanwhile.

mod support;

use dipsift_bench::Outcome;
use dipsift_bench::memory::{MarchWish, MemoryRun, MemoryWish, march_program};
use dipsift_emulated::Sources;
use dipsift_link::Transport;
use dipsift_simulator::Defect;
use dipsift_tests::desk::{chip, library};
use dipsift_wire::{Answer, Ask, Element, MarchSetup, Move, Operation, Order};
use std::ops::ControlFlow;
use support::desk::Desk;
use support::line;
use support::talk::Talk;

fn own(notation: &str) -> MemoryWish {
    let march = dipsift_march::March::read(notation).expect("a march");
    MemoryWish { march: MarchWish::Own { name: None, march }, ..MemoryWish::default() }
}

/// What a check took: nanoseconds of the board.
fn check(desk: &mut Desk, number: &str, wish: &MemoryWish, defects: &[&str]) -> (MemoryRun, u64) {
    let part = library().part(number).expect("the part is in the library");
    let prepared = desk.bench.prepare(part, part.made[0]).unwrap_or_else(|refused| {
        panic!("{number}: {:?}", refused.sentences);
    });
    let defects: Vec<Defect> =
        defects.iter().map(|phrase| phrase.parse().expect("a phrase")).collect();
    let chip = chip(&prepared, &defects, 9).expect("it can be made");
    let socket = desk.machine().board_mut().fixture_mut().socket_mut();
    socket.insert(chip, &defects).expect("it fits");
    let since = desk.machine().nanoseconds();
    let run = desk.bench.check_memory(&prepared, wish, false, &mut |_| ControlFlow::Continue(()));
    let took = desk.machine().nanoseconds() - since;
    desk.machine().board_mut().fixture_mut().socket_mut().remove();
    (run, took)
}

fn good(number: &str, wish: &MemoryWish, limit_ms: f64) {
    let mut desk = Desk::on(line(3, Sources::default()));
    let (run, took) = check(&mut desk, number, wish, &[]);
    let report = &run.report;
    let ms = took as f64 * 1e-6;
    println!(
        "{number}: {} operations, board time {ms:.1} ms with the line, {:.0} ns each",
        report.steps,
        took as f64 / f64::from(report.steps)
    );
    assert_eq!(report.outcome, Outcome::Go, "{number}: {:?}", report.sentences);
    let counters = desk.counters();
    assert_eq!((counters.contention_events, counters.memory_violations), (0, 0), "{number}");
    assert!(desk.machine().board().fixture().is_safe());
    let counts = desk.machine().counts();
    assert_eq!((counts.faults, counts.resets, counts.interrupts), (0, 0, 0));
    assert!(ms <= limit_ms, "{number}: {ms:.1} of {limit_ms} ms");
}

#[test]
fn small_static_memories() {
    for (number, limit_ms) in [("2102", 100.0), ("2114", 100.0), ("7489", 50.0)] {
        good(number, &MemoryWish::default(), limit_ms);
    }
}

#[test]
fn a_6264() {
    good("6264", &MemoryWish::default(), 400.0);
}

/// March C- with four backgrounds in at most a second of board time.
#[test]
fn a_62256_within_a_second() {
    good("62256", &MemoryWish::default(), 1_000.0);
}

#[test]
fn dynamic_memories() {
    good("4416", &own("any(w0); up(r0,w1); down(r1)"), 1_000.0);
    good("4164", &own("any(w0); up(r0,w1); down(r1)"), 2_000.0);
    good("41256", &own("any(w0); any(r0)"), 4_000.0);
}

#[test]
fn failures_are_told_where_they_are() {
    for (number, address, bit) in [("2102", 1023, 0), ("6264", 5000, 3), ("4164", 300, 0)] {
        let mut desk = Desk::new(3);
        let wish = own("any(w0); up(r0,w1); down(r1)");
        let phrase = format!("cell {address} bit {bit} stuck at 1");
        let (run, _) = check(&mut desk, number, &wish, &[&phrase]);
        assert_eq!(run.report.outcome, Outcome::NoGo, "{number}");
        // The station counts rows above columns, the simulator columns above rows.
        let at = if number == "4164" { (address & 0xFF) << 8 | address >> 8 } else { address };
        let words: Vec<u32> = run.misses.iter().map(|miss| miss.address).collect();
        assert!(!words.is_empty() && words.iter().all(|&word| word == at), "{number}: {words:?}");
    }
}

#[test]
fn a_read_only_part_is_read_out() {
    let mut desk = Desk::new(3);
    let part = library().part("2716").expect("a 2716");
    let prepared = desk.bench.prepare(part, part.made[0]).expect("it can be read");
    let contents: Vec<u8> = (0..2048_u32).map(|at| (at * 7 + (at >> 8)) as u8).collect();
    let chip = chip(&prepared, &[], 9).expect("it can be made").programmed(&contents);
    desk.machine().board_mut().fixture_mut().socket_mut().insert(chip, &[]).expect("it fits");
    let wish = MemoryWish::default();
    let run = desk.bench.check_memory(&prepared, &wish, false, &mut |_| ControlFlow::Continue(()));
    assert_eq!(run.report.outcome, Outcome::Go, "{:?}", run.report.sentences);
    assert!(run.words.iter().map(|&word| word as u8).eq(contents));
}

/// Without its waits.
fn hurried(setup: &MarchSetup) -> MarchSetup {
    let bare = |cycle: &[Move]| {
        cycle.iter().filter(|step| !matches!(step, Move::Wait { .. })).copied().collect()
    };
    MarchSetup { read: bare(&setup.read), write: bare(&setup.write), ..setup.clone() }
}

/// The shape of March C- with ones alone: each operation takes what it takes there, and an empty
/// socket passes it, since the keepers pull all outputs high. So no wait is needed, and what is
/// left is what the operations themselves take.
fn ones() -> Vec<Element> {
    use Operation::{R1, W1};
    let each = |order, operations: &[Operation]| Element::Each {
        order,
        operations: operations.iter().copied().collect(),
    };
    vec![
        each(Order::Any, &[W1]),
        each(Order::Up, &[R1, W1]),
        each(Order::Up, &[R1, W1]),
        each(Order::Down, &[R1, W1]),
        each(Order::Down, &[R1, W1]),
        each(Order::Any, &[R1]),
    ]
}

/// Instructions of an operation at most, averaged over the whole march with its changes of
/// direction, beyond the waits that data sheets ask for. The dynamic ones have no limit in print.
const STATIC_LIMIT: f64 = 60.0;
const STROBED_LIMIT: f64 = 400.0;

/// Operations, instructions and cycles of a march on an empty socket.
fn run(talk: &mut Talk, header: dipsift_wire::Header, setup: &MarchSetup) -> [u64; 3] {
    assert_eq!(talk.ask(Ask::Begin(header)), Some(Answer::Began));
    assert_eq!(talk.ask(Ask::March(setup.clone())), Some(Answer::Began));
    let before = talk.line.machine().counts();
    loop {
        let Some(Answer::Marched(marched)) = talk.ask(Ask::Proceed) else { panic!("no march") };
        assert!(marched.misses.is_empty(), "{:?}", marched.misses.first());
        if marched.summary.is_some() {
            let after = talk.line.machine().counts();
            return [
                marched.operations.into(),
                after.instructions - before.instructions,
                after.cycles - before.cycles,
            ];
        }
    }
}

#[test]
fn instructions_of_an_operation() {
    let mut failed = Vec::new();
    for number in ["2102", "2114", "6264", "62256", "4164", "41256"] {
        let mut talk = Talk::new();
        talk.machine().board_mut().fixture_mut().socket_mut().remove();
        let part = library().part(number).expect("the part is in the library");
        let mut desk = Desk::new(3);
        let prepared = desk.bench.prepare(part, part.made[0]).expect("it can be marched");
        let (header, setup) =
            march_program(&prepared, &MemoryWish::default()).expect("it is marched");
        let mut setup = hurried(&setup);
        setup.elements = ones().into_iter().collect();
        setup.words = setup.words.min(8_192);
        let limit = if setup.strobed.is_some() { STROBED_LIMIT } else { STATIC_LIMIT };
        // What surrounds the march, the power-up and the line, is the same with one background and
        // with several: it falls out of the difference.
        let mut of = |backgrounds: usize| {
            setup.backgrounds = std::iter::repeat_n(0, backgrounds).collect();
            run(&mut talk, header, &setup)
        };
        let (few, many) = (of(1), of(5));
        let [operations, instructions, cycles] =
            [0, 1, 2].map(|index: usize| (many[index] - few[index]) as f64);
        let (each, ns) = (instructions / operations, cycles / operations / 0.168);
        println!("{number}: {each:.1} instructions, {ns:.0} ns an operation without its waits");
        if !(10.0..=limit).contains(&each) {
            failed.push(format!("{number}: {each:.1} of {limit}"));
        }
    }
    assert!(failed.is_empty(), "{failed:?}");
}

/// Cells that forget a little after their interval: they keep their data as long as every row is
/// refreshed in time. The row strobe's longest time is a rule that the simulated chip counts.
#[test]
fn a_dynamic_memory_is_refreshed_whatever_the_line_does() {
    let mut talk = Talk::new();
    let part = library().part("4164").expect("a 4164");
    let mut desk = Desk::new(3);
    let prepared = desk.bench.prepare(part, part.made[0]).expect("it can be marched");
    let wish = own("any(w1); any(r1)");
    let (header, setup) = march_program(&prepared, &wish).expect("it is marched");
    // 256 rows in 4 ms (TI TMS4164 data sheet; from memory).
    let defects: Vec<Defect> = [0, 1, 100, 127, 128, 255]
        .map(|row| format!("cell {row} bit 0 leaks in 4 ms").parse().expect("a phrase"))
        .into_iter()
        .collect();
    let chip = chip(&prepared, &defects, 9).expect("it can be made");
    talk.machine().board_mut().fixture_mut().socket_mut().insert(chip, &defects).expect("it fits");
    assert_eq!(talk.ask(Ask::Begin(header)), Some(Answer::Began));
    assert_eq!(talk.ask(Ask::March(setup)), Some(Answer::Began));
    let mut random = 9_u32;
    let mut pieces = 0;
    loop {
        // Noise before each request: whole frames of it with wrong CRCs, at the line's full rate.
        let noise: Vec<u8> = (0..400)
            .map(|_| {
                random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (random >> 24) as u8
            })
            .chain([0])
            .collect();
        talk.line.send(&noise).expect("the line is there");
        // A late host, within the silence limit.
        talk.run_ms(if pieces % 2 == 0 { 100 } else { 5 });
        let Some(Answer::Marched(marched)) = talk.ask(Ask::Proceed) else { panic!("no march") };
        pieces += 1;
        assert!(marched.misses.is_empty(), "after {pieces} pieces: {:?}", marched.misses.first());
        if let Some(summary) = marched.summary {
            assert_eq!(summary.failures, 0);
            break;
        }
    }
    assert!(pieces >= 3, "{pieces} pieces");
    let counters = talk.line.machine().board().fixture().socket().counters();
    assert_eq!(counters.memory_violations, 0);
    assert!(talk.is_safe());
}

/// A trip in the middle of a march: the supply is off within the limit of any other program, and
/// nothing is driven afterwards.
#[test]
fn a_trip_ends_a_march() {
    let mut talk = Talk::new();
    let part = library().part("6264").expect("a 6264");
    let mut desk = Desk::new(3);
    let prepared = desk.bench.prepare(part, part.made[0]).expect("it can be marched");
    let (header, setup) =
        march_program(&prepared, &own("any(w0); pause(150ms); any(r0)")).expect("it is marched");
    let insert = |talk: &mut Talk, phrases: &[&str]| {
        let defects: Vec<Defect> =
            phrases.iter().map(|phrase| phrase.parse().expect("a phrase")).collect();
        let chip = chip(&prepared, &defects, 9).expect("it can be made");
        let socket = talk.machine().board_mut().fixture_mut().socket_mut();
        socket.insert(chip, &defects).expect("it fits");
    };
    insert(&mut talk, &[]);
    assert_eq!(talk.ask(Ask::Begin(header)), Some(Answer::Began));
    assert_eq!(talk.ask(Ask::March(setup)), Some(Answer::Began));
    assert!(matches!(talk.ask(Ask::Proceed), Some(Answer::Marched(_))));
    assert!(talk.is_powered());
    // The chip breaks down while it is marched.
    insert(&mut talk, &["supply shorted"]);
    let start = talk.line.machine().nanoseconds();
    while talk.is_powered() {
        talk.machine().run(1_000).expect("the board runs");
        assert!(talk.line.machine().nanoseconds() < start + 20_000, "still powered");
    }
    talk.run_ms(1);
    assert!(talk.is_safe(), "{:?}", talk.line.machine().board().unsafe_pins());
}
