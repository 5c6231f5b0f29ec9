//! Every way out ends with nothing driven, fed, grounded or kept and the rail discharged; each is
//! made to happen while a chip is powered and driven. A panic is no way out: the image has none,
//! which `firmware/build` checks.

mod support;

use dipsift_emulated::Reset;
use dipsift_simulator::{Chip, Defect};
use dipsift_wire::{Answer, Ask, ResetCause};
use support::talk::Talk;

/// The current limit of the programs, in microamperes.
const LIMIT: u32 = 100_000;
/// From over-current to supply off.
const CUT_LIMIT_NS: u64 = 20_000;

fn powered() -> Talk {
    let mut talk = Talk::new();
    assert!(talk.is_safe() && talk.line.machine().board().is_bleeding());
    assert!(matches!(talk.power(LIMIT), Some(Answer::Ran(_))));
    assert!(talk.is_powered());
    assert!(talk.line.machine().board().fixture().socket().voltage(40) > 4.9);
    // The supply, a feed, a ground, keepers, eight inputs: what must go is there.
    let pins = talk.line.machine().board().unsafe_pins();
    assert_eq!(pins.len(), 12, "{pins:?}");
    assert!(!talk.line.machine().board().is_bleeding());
    talk
}

/// Runs until the state is safe; returns how long that took.
fn until_safe(talk: &mut Talk, milliseconds: u64) -> u64 {
    let start = talk.line.machine().nanoseconds();
    while !talk.is_safe() {
        talk.machine().run(1_000).expect("the board runs");
        let passed = talk.line.machine().nanoseconds() - start;
        assert!(passed < milliseconds * 1_000_000, "not safe after {passed} ns");
    }
    let passed = talk.line.machine().nanoseconds() - start;
    // It stays safe, and the board answers, too.
    talk.run_ms(20);
    assert!(talk.is_safe(), "{:?}", talk.line.machine().board().unsafe_pins());
    assert!(talk.line.machine().board().is_bleeding());
    passed
}

fn after_reset(talk: &mut Talk, reset: Reset, cause: ResetCause) {
    talk.start();
    let machine = talk.line.machine();
    assert_eq!(machine.last_reset(), reset);
    // A reset makes all pins inputs; the image does not rely on that where it still runs.
    let left = machine.left_at_reset();
    assert_eq!(left.is_empty(), reset == Reset::Software, "{left:?}");
    assert_eq!(talk.hello().reset, cause);
    assert!(talk.is_safe());
    // The cause is told of one start only.
    talk.machine().reset(Reset::Pin).expect("the board starts");
    assert!(talk.is_safe());
    talk.start();
    assert_eq!(talk.hello().reset, ResetCause::Pin);
}

#[test]
fn silence() {
    let mut talk = powered();
    talk.run_ms(190);
    assert!(talk.is_powered());
    talk.run_ms(15);
    assert!(talk.is_safe());
    let status = talk.status();
    assert_eq!((status.silences, status.powered), (1, false));
    assert_eq!(talk.line.machine().counts().resets, 0);
}

#[test]
fn abort() {
    let mut talk = powered();
    assert_eq!(talk.ask(Ask::Off), Some(Answer::Off));
    assert!(talk.is_safe());
    let mut talk = powered();
    talk.hello();
    assert!(talk.is_safe());
}

#[test]
fn reset_pin() {
    let mut talk = powered();
    talk.machine().reset(Reset::Pin).expect("the board starts");
    // At once: reset makes all pins inputs.
    assert!(talk.is_safe());
    until_safe(&mut talk, 1);
    after_reset(&mut talk, Reset::Pin, ResetCause::Pin);
}

#[test]
fn watchdog() {
    let mut talk = powered();
    talk.machine().hang().expect("it hangs");
    talk.run_ms(500);
    assert!(!talk.is_safe());
    println!("watchdog: safe after {} ns", until_safe(&mut talk, 600) + 500_000_000);
    after_reset(&mut talk, Reset::Watchdog, ResetCause::Watchdog);
}

#[test]
fn hard_fault() {
    let mut talk = powered();
    talk.machine().derail().expect("it derails");
    println!("undefined instruction: safe after {} ns", until_safe(&mut talk, 1));
    assert_eq!(talk.line.machine().counts().faults, 1);
    after_reset(&mut talk, Reset::Software, ResetCause::Fault);
}

#[test]
fn jump_to_nowhere() {
    let mut talk = powered();
    talk.machine().go_astray().expect("it goes astray");
    println!("jump to nowhere: safe after {} ns", until_safe(&mut talk, 1));
    assert_eq!(talk.line.machine().counts().faults, 1);
    after_reset(&mut talk, Reset::Software, ResetCause::Fault);
}

#[test]
fn read_from_nowhere() {
    let mut talk = powered();
    // ldr r0, [r0]
    talk.machine().execute(0x6800, 0x6000_0000).expect("it goes there");
    println!("read from nowhere: safe after {} ns", until_safe(&mut talk, 1));
    assert_eq!(talk.line.machine().counts().faults, 1);
    after_reset(&mut talk, Reset::Software, ResetCause::Fault);
}

/// The stack spoilt in the middle of a window, so that its functions return to nowhere. Whether
/// that faults or hangs depends on what lies there: it is safe within the watchdog's time.
#[test]
fn spoilt_stack() {
    let mut talk = powered();
    talk.wait_in_window(150_000_000);
    talk.run_ms(50);
    assert!(talk.is_powered());
    talk.machine().spoil_stack().expect("it is spoilt");
    println!("spoilt stack: safe after {} ns", until_safe(&mut talk, 1_200));
    talk.run_ms(1_200);
    assert!(talk.is_safe() && talk.line.machine().counts().resets >= 1);
    talk.hello();
}

#[test]
fn stack_exhausted() {
    let mut talk = powered();
    talk.machine().exhaust_stack().expect("the stack runs out");
    println!("stack: safe after {} ns", until_safe(&mut talk, 1));
    assert_eq!(talk.line.machine().counts().faults, 1);
    after_reset(&mut talk, Reset::Software, ResetCause::Fault);
}

#[test]
fn sagging_supply() {
    let mut talk = powered();
    talk.machine().sag(true);
    println!("sag: safe after {} ns", until_safe(&mut talk, 1));
    after_reset(&mut talk, Reset::Software, ResetCause::BrownOut);
}

#[test]
fn brown_out_and_power_cut() {
    let mut talk = powered();
    talk.machine().reset(Reset::BrownOut).expect("the board starts");
    assert!(talk.is_safe());
    talk.start();
    after_reset(&mut talk, Reset::BrownOut, ResetCause::BrownOut);
    let mut talk = powered();
    talk.machine().power_cycle().expect("the board starts");
    assert!(talk.is_safe());
    talk.start();
    after_reset(&mut talk, Reset::PowerOn, ResetCause::PowerOn);
}

#[test]
fn failing_clock() {
    let mut talk = powered();
    talk.machine().lose_clock();
    println!("clock: safe after {} ns", until_safe(&mut talk, 1));
    after_reset(&mut talk, Reset::Software, ResetCause::Fault);
    assert!(talk.hello().commit.ends_with("~hsi"));
}

/// A 7400 takes more than 2 mA: the converter's watch cuts the supply.
#[test]
fn over_current() {
    let mut talk = Talk::new();
    let answer = talk.power(2_000);
    assert!(matches!(&answer, Some(Answer::Ran(ran)) if ran.summary.is_some()), "{answer:?}");
    assert!(talk.is_safe());
    let status = talk.status();
    assert_eq!((status.trips, status.powered), (1, false));
    let machine = talk.line.machine();
    assert_eq!((machine.counts().interrupts, machine.counts().resets), (1, 0));
    assert_eq!(machine.board().fixture().power_ons().len(), 1);
    assert_eq!(machine.board().fixture().socket().counters().trips, 0, "the limiter acted first");
    // The next program is as good as the first.
    assert!(matches!(talk.power(LIMIT), Some(Answer::Ran(_))));
    assert!(talk.is_powered());
}

/// A chip that takes more than the limit in the middle of a window, where only the interrupt can
/// help: how long the watch takes. The rest is switched off when the window ends.
#[test]
fn over_current_later() {
    let mut talk = Talk::new();
    assert!(matches!(talk.power(40_000), Some(Answer::Ran(_))));
    assert!(talk.is_powered());
    talk.wait_in_window(100_000_000);
    talk.run_ms(20);
    assert!(talk.is_powered());
    let part = dipsift_tests::desk::library().part("7400").expect("the part is there").clone();
    let chip = Chip::new(part, dipsift_language::Family::Standard, 1).expect("it has a package");
    let fixture = talk.machine().board_mut().fixture_mut();
    // All outputs are high, and leak to ground.
    let defects = [3, 6, 8, 11].map(|pin| Defect::Leaky { pin, ohms: 100 });
    fixture.socket_mut().insert(chip, &defects).expect("it fits");
    let start = talk.line.machine().nanoseconds();
    while talk.is_powered() {
        talk.machine().run(100).expect("the board runs");
        assert!(talk.line.machine().nanoseconds() < start + 1_000_000, "still powered");
    }
    let passed = talk.line.machine().nanoseconds() - start;
    println!("over-current: supply off after {passed} ns");
    assert!(passed <= CUT_LIMIT_NS, "{passed} of {CUT_LIMIT_NS} ns");
    until_safe(&mut talk, 100);
    assert!(!talk.line.machine().board().fixture().is_limited());
    assert_eq!(talk.line.machine().counts().interrupts, 1);
}

/// A short while powered: the hardware limiter acts, and its signal reaches the image.
#[test]
fn limiter() {
    let mut talk = powered();
    let fixture = talk.machine().board_mut().fixture_mut();
    let part = dipsift_tests::desk::library().part("7400").expect("the part is there").clone();
    let chip = Chip::new(part, dipsift_language::Family::Standard, 1).expect("it has a package");
    fixture.socket_mut().insert(chip, &[Defect::SupplyShorted]).expect("it fits");
    println!("limiter: safe after {} ns", until_safe(&mut talk, 1));
    assert!(talk.line.machine().board().fixture().is_limited());
    assert!(talk.line.machine().counts().interrupts >= 1);
    assert!(!talk.status().powered);
}

#[test]
fn button() {
    let mut talk = powered();
    talk.machine().press(true);
    println!("button: safe after {} ns", until_safe(&mut talk, 1));
    assert_eq!(talk.line.machine().counts().resets, 0);
    assert!(!talk.status().powered);
}
