//! Memories checked with the bench: the verdicts of the plain simulator, board time, and what must
//! hold meanwhile.

mod support;

use dipsift_bench::Outcome;
use dipsift_bench::memory::{MarchWish, MemoryRun, MemoryWish, march_program};
use dipsift_emulated::Sources;
use dipsift_link::Transport;
use dipsift_simulator::Defect;
use dipsift_tests::desk::{chip, library};
use dipsift_wire::{Answer, Ask};
use std::ops::ControlFlow;
use support::button::{GO, NO_GO, arm, press};
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
    good("4416", &own("any(w0); up(r0,w1); down(r1)"), 1_500.0);
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
        let words: Vec<u32> = run.failing.iter().map(|(address, _)| *address).collect();
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

/// A march of the image's stored set, started by the button.
#[test]
fn a_press_marches_a_6264() {
    let mut talk = Talk::new();
    talk.machine().board_mut().skip_idle_rounds(true);
    let part = library().part("6264").expect("a 6264");
    let prepared = Desk::new(3).bench.prepare(part, part.made[0]).expect("it can be marched");
    arm(&mut talk, &prepared.name);
    for (phrase, lamps) in [(None, GO), (Some("cell 8191 bit 7 stuck at 0"), NO_GO), (None, GO)] {
        let defects: Vec<Defect> =
            phrase.iter().map(|phrase| phrase.parse().expect("a phrase")).collect();
        let chip = chip(&prepared, &defects, 9).expect("it can be made");
        let socket = talk.machine().board_mut().fixture_mut().socket_mut();
        socket.insert(chip, &defects).expect("it fits");
        assert_eq!(press(&mut talk), lamps, "{phrase:?}");
        assert!(talk.is_safe());
    }
    let counts = talk.line.machine().counts();
    assert_eq!((counts.faults, counts.resets), (0, 0));
    let counters = talk.line.machine().board().fixture().socket().counters();
    assert_eq!((counters.contention_events, counters.memory_violations), (0, 0));
}
