//! Over-current in the middle of a march: the supply goes and the pins are released at once, and
//! no pin is driven again but at the address in progress.

mod support;

use dipsift_emulated::PinEvent;
use dipsift_pins::Microamps;
use dipsift_wire::{Answer, Ask, Ended, Marched};
use support::memory::Subject;
use support::strobes::strobes;
use support::talk::Talk;

/// From over-current to supply off: as for programs of vectors.
const CUT_LIMIT_NS: u64 = 20_000;
/// From the supply to all drivers: both are in one handler.
const RELEASE_LIMIT_NS: u64 = 2_000;
/// How long until the whole state is safe, with the last current measured for the summary.
const SAFE_LIMIT_NS: u64 = 200_000;

/// Trips a march at some moment of its second piece, counted from about the start of the piece.
/// `again_limit_ns` is how long pins may be driven again: a read and a write at one address.
fn tripped(number: &str, again_limit_ns: u64, after_us: u64) {
    let mut subject = Subject::new(number);
    let limit_ua = 100_000;
    subject.header.power.as_mut().expect("it is powered").limit_ua = limit_ua;
    let mut talk = Talk::new();
    subject.insert(talk.machine(), subject.chip(&[]), &[]);
    assert_eq!(talk.ask(Ask::Begin(subject.header)), Some(Answer::Began));
    assert_eq!(talk.ask(Ask::March(subject.setup.clone())), Some(Answer::Began));
    assert!(matches!(talk.ask(Ask::Proceed), Some(Answer::Marched(_))));
    talk.send(Ask::Proceed);
    // The request takes its time on the line.
    talk.machine().run(1_000_000 + after_us * 1_000).expect("the board runs");
    assert!(talk.is_powered());
    talk.machine().trace_pins();
    talk.machine().board_mut().fixture_mut().load(Microamps(limit_ua + 1_000));
    let start = talk.line.machine().nanoseconds();
    let until = |talk: &mut Talk, done: &dyn Fn(&Talk) -> bool| -> u64 {
        while !done(talk) {
            talk.machine().run(50).expect("the board runs");
            assert!(talk.line.machine().nanoseconds() < start + 2_000_000, "{number}: no end");
        }
        talk.line.machine().nanoseconds() - start
    };
    let cut = until(&mut talk, &|talk| !talk.is_powered());
    let released = until(&mut talk, &|talk| talk.line.machine().board().fixture().drivers().0 == 0);
    let safe = until(&mut talk, &Talk::is_safe);
    assert!(!talk.line.machine().board().fixture().is_limited());
    assert_eq!(talk.line.machine().counts().interrupts, 1);
    let events = talk.machine().trace_pins();
    // Driven again after the release.
    let (mut again, mut since) = (0, None);
    for event in &events {
        let PinEvent::Driven { at, driven, .. } = *event else { continue };
        if at >= start + released {
            match (since, driven != 0) {
                (None, true) => since = Some(at),
                (Some(from), false) => {
                    again = again.max(at - from);
                    since = None;
                }
                _ => {}
            }
        }
    }
    assert_eq!(since, None);
    println!(
        "{number} after {after_us} us: supply off after {cut} ns, released after {released}, \
         driven again for {again}, safe after {safe}"
    );
    assert!(cut <= CUT_LIMIT_NS, "{cut} of {CUT_LIMIT_NS} ns");
    assert!(released <= cut + RELEASE_LIMIT_NS, "{released} of {cut} ns");
    assert!(again <= again_limit_ns, "{again} of {again_limit_ns} ns");
    assert!(safe <= SAFE_LIMIT_NS, "{safe} of {SAFE_LIMIT_NS} ns");
    if subject.setup.refresh.is_some() {
        let seen = strobes(&subject, &events);
        assert!(seen.longest_low <= 10_000, "{seen:?}");
    }
    match talk.answer() {
        Some(Answer::Marched(Marched { summary: Some(summary), .. })) => {
            assert!(matches!(summary.ended, Ended::Tripped { step } if step > 0), "{summary:?}");
        }
        other => panic!("{other:?}"),
    }
    assert!(talk.is_safe());
    assert_eq!(talk.status().trips, 1);
}

/// Moments all over the operations at an address.
const MOMENTS_US: [u64; 6] = [0, 7, 1_000, 1_001, 5_003, 9_999];

#[test]
fn static_memory() {
    for after_us in MOMENTS_US {
        tripped("6264", 3_000, after_us);
    }
}

#[test]
fn dynamic_memory() {
    for after_us in MOMENTS_US {
        tripped("4164", 12_000, after_us);
    }
}
