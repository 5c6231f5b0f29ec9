//! What a step, a byte, a masked interrupt and an over-current may take: printed, and bounded.

mod support;

use dipsift_emulated::Sources;
use dipsift_language::Family;
use dipsift_link::Transport;
use dipsift_tests::desk::library;
use dipsift_wire::{Answer, Ask, Pins, Step, Window, push_step};
use std::time::Instant;
use support::desk::{Desk, family};
use support::line;
use support::talk::{Talk, header};

/// Instructions and cycles of a step: the window's steps are alike, so that the median between
/// two applications is one round of them.
fn round(talk: &mut Talk, name: &str, steps: &[Step]) -> (u64, u64) {
    let mut header = header(100_000);
    header.settle_ns = 0;
    assert_eq!(talk.ask(Ask::Begin(header)), Some(Answer::Began));
    let mut window = Window { index: 0, last: true, code: Default::default() };
    for _ in 0..40 {
        for step in steps {
            push_step(step, &mut window.code).expect("it fits");
        }
    }
    talk.machine().trace_applications();
    let Some(Answer::Ran(ran)) = talk.ask(Ask::Window(window)) else { panic!("it did not run") };
    assert!(ran.summary.is_some());
    let traced = talk.machine().trace_applications();
    let middle = |of: &dyn Fn((u64, u64)) -> u64| {
        let mut gaps: Vec<u64> = traced.windows(2).map(|pair| of(pair[1]) - of(pair[0])).collect();
        assert!(gaps.len() >= 39, "{name}: {} applications", traced.len());
        gaps.sort_unstable();
        gaps[gaps.len() / 2]
    };
    let (instructions, cycles) = (middle(&|at| at.0), middle(&|at| at.1));
    println!(
        "{name}: {instructions} instructions, {cycles} cycles, {} ns without settling",
        cycles * 1_000 / 168
    );
    (instructions, cycles)
}

/// Instructions of a step beyond its waits.
const STEP_LIMIT: u64 = 250;
/// Instructions of a byte. At 1 Mbaud a byte comes every 1,680 cycles.
const BYTE_LIMIT: f64 = 150.0;
/// How long the processor may take no interrupt.
const MASKED_LIMIT_NS: u64 = 10_000;

#[test]
fn instructions_of_steps() {
    let mut talk = Talk::new();
    let pins = Pins::one(1).with(2, true);
    let drive = Step::Drive { pins, high: Pins::one(1) };
    let other = Step::Drive { pins, high: Pins::one(2) };
    // Pin 3 is high as long as one of its inputs is low.
    let expect = Step::Expect { pins: Pins::one(3), high: Pins::one(3) };
    let (alone, _) = round(&mut talk, "drive", &[drive, other]);
    let (both, _) = round(&mut talk, "drive and expect", &[drive, expect, other, expect]);
    let (pulse, _) =
        round(&mut talk, "pulse, per edge", &[drive, Step::Pulse { pin: 1, times: 2 }]);
    let expect = both - alone;
    println!("expect: {expect} instructions");
    for (name, instructions) in [("drive", alone), ("expect", expect), ("pulse", pulse)] {
        assert!(instructions <= STEP_LIMIT, "{name}: {instructions} of {STEP_LIMIT} instructions");
    }
}

/// Rounds of the idle loop and instructions, over a time.
fn rounds(talk: &mut Talk, run: impl FnOnce(&mut Talk)) -> (u64, u64) {
    let before = (talk.line.machine().board().watchdog_fed(), talk.line.machine().counts());
    run(talk);
    let machine = talk.line.machine();
    let instructions = machine.counts().instructions - before.1.instructions;
    (machine.board().watchdog_fed() - before.0, instructions)
}

/// The processor never sleeps: what bytes cost is what is missing from its idle rounds.
#[test]
fn instructions_of_a_byte() {
    let mut talk = Talk::new();
    let (idle, instructions) = rounds(&mut talk, |talk| talk.run_ms(50));
    let round = instructions as f64 / idle as f64;
    const BYTES: usize = 4_000;
    // As a frame that is too long: each byte is stored, then dropped.
    let mut random = 7_u32;
    let bytes: Vec<u8> = (0..BYTES)
        .map(|_| {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            1 + (random >> 24) as u8 % 255
        })
        .collect();
    let (busy, instructions) = rounds(&mut talk, |talk| {
        talk.line.send(&bytes).expect("the line is there");
        talk.run_ms(50);
    });
    let each = (instructions as f64 - busy as f64 * round) / BYTES as f64;
    println!("idle round: {round:.0} instructions; byte received: {each:.1} instructions");
    assert!(each > 1.0, "the bytes were not looked at");
    assert!(each <= BYTE_LIMIT, "{each:.1} of {BYTE_LIMIT} instructions");
}

/// Times at 168 MHz, from the emulation's cycles: a whole check with a host over the line at
/// 1 Mbaud, and the same chip checked by the button alone. The limits are for what goes wrong.
#[test]
fn board_times() {
    for (number, name, host_limit_ms, button_limit_ms) in [
        ("7400", "74LS00", 20.0, 5.0),
        ("74181", "74LS181", 60.0, 15.0),
        ("4040", "4040B", 300.0, 100.0),
    ] {
        let part = library().part(number).expect("the part is in the library");
        let family = family(part);
        let mut desk = Desk::on(line(3, Sources::default()));
        let (before, since) = (desk.machine().counts(), desk.machine().nanoseconds());
        let report = desk.check(part, family, &[], 9, false).expect("it can be checked");
        let ms = (desk.machine().nanoseconds() - since) as f64 * 1e-6;
        let instructions = desk.machine().counts().instructions - before.instructions;
        println!(
            "{number} {}: {} steps, {instructions} instructions, {ms:.1} ms with the line",
            family.word(),
            report.steps
        );
        assert!(ms < host_limit_ms, "{number}: {ms:.1} of {host_limit_ms} ms");

        let mut talk = Talk::new();
        talk.insert(number, if name.ends_with('B') { Family::B } else { Family::Ls }, &[]);
        let armed = talk.ask(Ask::Arm(name.try_into().ok()));
        assert!(matches!(armed, Some(Answer::Armed(Some(_)))), "{name}: {armed:?}");
        talk.machine().press(true);
        while !talk.is_powered() {
            talk.machine().run(10_000).expect("the board runs");
        }
        let start = talk.line.machine().nanoseconds();
        let mut end = start;
        // The power comes more than once; the green lamp ends it.
        while talk.line.machine().board().lamps() != [true, false, false] {
            talk.machine().run(10_000).expect("the board runs");
            end = talk.line.machine().nanoseconds();
            assert!(end < start + 1_000_000_000, "{name} is not go");
        }
        let ms = (end - start) as f64 * 1e-6;
        println!("{name} by the button: {ms:.2} ms from power to verdict");
        assert!(ms < button_limit_ms, "{name}: {ms:.2} of {button_limit_ms} ms");
    }
}

/// Over a whole check, and over a trip with its handler.
#[test]
fn interrupts_off() {
    let part = library().part("7490").expect("the part is in the library");
    let mut desk = Desk::new(3);
    desk.machine().board_mut().watch_masks();
    desk.check(part, family(part), &[], 9, false).expect("it can be checked");
    let check = desk.machine().board_mut().watch_masks();
    let mut talk = Talk::new();
    talk.machine().board_mut().watch_masks();
    talk.power(2_000);
    assert_eq!(talk.line.machine().counts().interrupts, 1);
    let trip = talk.machine().board_mut().watch_masks();
    for (name, cycles) in [("a check", check), ("a trip", trip)] {
        let ns = cycles * 1_000 / 168;
        println!("{name}: no interrupt for at most {ns} ns");
        assert!(ns <= MASKED_LIMIT_NS, "{name}: {ns} of {MASKED_LIMIT_NS} ns");
    }
    assert!(trip > 0, "the handler was not seen");
}

#[test]
fn speed_of_the_emulation() {
    let mut talk = Talk::new();
    let before = talk.line.machine().counts();
    let start = Instant::now();
    talk.run_ms(500);
    let seconds = start.elapsed().as_secs_f64();
    let after = talk.line.machine().counts();
    println!(
        "idle loop: {:.1} M instructions/s, {:.1} M cycles/s of 168",
        (after.instructions - before.instructions) as f64 / seconds * 1e-6,
        (after.cycles - before.cycles) as f64 / seconds * 1e-6
    );
    // Half a second at 168 MHz, to the length of a block.
    assert!((after.cycles - before.cycles).abs_diff(84_000_000) < 1_000);
}
