//! What the operations of a march may take on the board: printed, and bounded.

mod support;

use dipsift_emulated::Counts;
use std::ops::ControlFlow;
use support::memory::{Subject, counters, link};

/// Instructions of an operation on a 6264, beyond what the data sheet's waits need.
const OPERATION_LIMIT: f64 = 60.0;
/// March C- with four backgrounds on a 62256.
const LARGE_LIMIT_MS: f64 = 1_000.0;

/// Instructions beyond waits, and nanoseconds.
struct Spent {
    instructions: f64,
    ns: f64,
}

/// What a march of so many words takes, with power-up and set-up.
fn spent(subject: &Subject, words: u32) -> (f64, Spent) {
    let mut subject = subject.clone();
    subject.setup.words = words;
    subject.setup.backgrounds.truncate(1);
    let mut link = link(&subject, subject.chip(&[]), &[]);
    let state = |link: &mut dipsift_link::Link<dipsift_emulated::Line>| -> (Counts, u64) {
        let machine = link.transport_mut().machine();
        (machine.counts(), machine.nanoseconds())
    };
    let (before, since) = state(&mut link);
    let run = link.march(&subject.header, &subject.setup, &mut |_| ControlFlow::Continue(()));
    let (after, until) = state(&mut link);
    let summary = run.expect("it runs").summary;
    assert_eq!(summary.failures, 0);
    let all = after.instructions - before.instructions;
    let waiting = after.waiting - before.waiting;
    let ns = (until - since) as f64;
    (f64::from(summary.steps), Spent { instructions: (all - waiting) as f64, ns })
}

/// The mean of an operation of March C-, between a march of some words and one of twice as many,
/// so that power-up and set-up do not count.
fn mean(subject: &Subject, words: u32) -> Spent {
    let ((few, small), (many, large)) = (spent(subject, words / 2), spent(subject, words));
    let operations = many - few;
    Spent {
        instructions: (large.instructions - small.instructions) / operations,
        ns: (large.ns - small.ns) / operations,
    }
}

#[test]
fn operations() {
    for (number, words) in [
        ("2102", 1_024),
        ("2114", 1_024),
        ("6264", 8_192),
        ("62256", 8_192),
        ("4164", 8_192),
        ("41256", 8_192),
    ] {
        let subject = Subject::new(number);
        let Spent { instructions, ns } = mean(&subject, words);
        println!("{number}: {instructions:.1} instructions beyond waits, {ns:.0} ns an operation");
        if number == "6264" {
            assert!(instructions <= OPERATION_LIMIT, "{instructions:.1} of {OPERATION_LIMIT}");
        }
        assert!(instructions > 20.0, "{instructions:.1} instructions make no operation");
    }
}

#[test]
fn a_large_static_memory() {
    let subject = Subject::new("62256");
    assert_eq!((subject.setup.words, subject.setup.backgrounds.len()), (32_768, 4));
    let mut link = link(&subject, subject.chip(&[]), &[]);
    let start = link.transport_mut().machine().nanoseconds();
    let (mut sent, mut pieces) = (0, 0);
    let run = link.march(&subject.header, &subject.setup, &mut |progress| {
        pieces += 1;
        sent = progress.failures;
        ControlFlow::Continue(())
    });
    let summary = run.expect("it runs").summary;
    let ms = (link.transport_mut().machine().nanoseconds() - start) as f64 * 1e-6;
    println!("62256: {} operations in {ms:.0} ms, {pieces} pieces", summary.steps);
    assert_eq!((summary.failures, summary.steps, sent), (0, 10 * 4 * 32_768, 0));
    let counters = counters(&mut link);
    assert_eq!((counters.contention_events, counters.memory_violations), (0, 0));
    assert!(ms <= LARGE_LIMIT_MS, "{ms:.0} of {LARGE_LIMIT_MS} ms");
    // No traffic for single cells.
    assert!(pieces <= 30, "{pieces} pieces");
}
