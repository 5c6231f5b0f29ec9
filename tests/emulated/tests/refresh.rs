//! Dynamic memories at their pins: whatever the host and the line do, no row strobe is low for more
//! than 10 µs and every row is refreshed within its interval.

mod support;

use dipsift_link::Transport;
use dipsift_wire::{Answer, Ask, Element, Ended, Marched, Operation, Order, SILENCE_MS};
use support::memory::{C_MINUS, Subject, elements};
use support::strobes::{Strobes, strobes};
use support::talk::Talk;

/// The longest row strobe of such memories (JEDEC Standard 21-C, tRAS; from memory).
const LOW_LIMIT_NS: u64 = 10_000;

/// A talk with a board that holds the memory, its march set up.
fn begun(subject: &Subject) -> Talk {
    let mut talk = Talk::new();
    subject.insert(talk.machine(), subject.chip(&[]), &[]);
    assert_eq!(talk.ask(Ask::Begin(subject.header)), Some(Answer::Began));
    assert_eq!(talk.ask(Ask::March(subject.setup.clone())), Some(Answer::Began));
    talk.machine().trace_pins();
    talk
}

fn checked(subject: &Subject, talk: &mut Talk, name: &str) -> Strobes {
    assert!(talk.is_safe());
    let seen = strobes(subject, &talk.machine().trace_pins());
    let interval = u64::from(subject.setup.refresh.as_ref().expect("it has one").interval_ns);
    println!(
        "{name}: {} strobes, low for at most {} ns, a row alone for at most {} of {interval} ns",
        seen.count, seen.longest_low, seen.longest_gap
    );
    let rows = usize::from(subject.setup.refresh.as_ref().expect("it has one").rows);
    assert_eq!(seen.rows, rows);
    assert!(seen.longest_low > 0 && seen.longest_low <= LOW_LIMIT_NS, "{seen:?}");
    assert!(seen.longest_gap > interval / 4 && seen.longest_gap <= interval, "{seen:?}");
    let counters = talk.line.machine().board().fixture().socket().counters();
    assert_eq!((counters.contention_events, counters.memory_violations), (0, 0));
    seen
}

/// Bytes that are no frame, but end like one.
fn garbage(seed: u32, count: usize) -> Vec<u8> {
    let mut random = seed;
    let mut bytes: Vec<u8> = (0..count)
        .map(|_| {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (random >> 24) as u8
        })
        .collect();
    bytes.push(0);
    bytes
}

/// Runs to the end; `between` passes before each piece. Yields how many reads failed.
fn finish(talk: &mut Talk, mut between: impl FnMut(&mut Talk, usize)) -> usize {
    let mut failures = 0;
    for piece in 0.. {
        between(talk, piece);
        match talk.answer() {
            Some(Answer::Marched(Marched { misses, summary, .. })) => {
                failures += misses.len();
                if let Some(summary) = summary {
                    assert_eq!(summary.ended, Ended::Complete);
                    assert_eq!(summary.failures as usize, failures);
                    break;
                }
            }
            other => panic!("{other:?}"),
        }
        assert!(talk.is_powered());
    }
    failures
}

/// A march whose every read fails, so that there is much to reply, while bytes come in all the
/// time and the host takes as long as it may.
fn troubled(number: &str) {
    let mut subject = Subject::new(number);
    subject.setup.words = 600;
    subject.setup.elements =
        elements(&[(Order::Up, &[Operation::W0]), (Order::Down, &[Operation::R1, Operation::R1])]);
    let mut talk = begun(&subject);
    let failures = finish(&mut talk, |talk, piece| {
        if piece % 4 == 3 {
            // Before the request too, for as long as it may be late.
            talk.line.send(&garbage(piece as u32, 3_000)).expect("the line is there");
            talk.run_ms(u64::from(SILENCE_MS) - 15);
        }
        talk.send(Ask::Proceed);
        if piece % 2 == 1 {
            talk.line.send(&garbage(piece as u32, 2_000)).expect("the line is there");
        }
    });
    assert_eq!(failures, 1_200);
    checked(&subject, &mut talk, number);
    assert!(talk.status().bad_frames > 0);
}

#[test]
fn ram_64k_by_1_in_trouble() {
    troubled("4164");
}

#[test]
fn ram_256k_by_1_in_trouble() {
    troubled("41256");
}

/// A march with a pause keeps what was written, and ends.
#[test]
fn ram_16k_by_4_with_a_pause() {
    let mut subject = Subject::new("4416");
    subject.setup.words = 2_048;
    let mut march = elements(&C_MINUS);
    march.insert(1, Element::Pause { ms: 60, refresh: true }).expect("there is room");
    subject.setup.elements = march;
    subject.setup.backgrounds.truncate(1);
    let mut talk = begun(&subject);
    let failures = finish(&mut talk, |talk, _| talk.send(Ask::Proceed));
    assert_eq!(failures, 0);
    checked(&subject, &mut talk, "4416");
}
