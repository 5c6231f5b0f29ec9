//! What the operations of a march may take on the board: printed, and bounded.

mod support;

use dipsift_emulated::Counts;
use std::ops::ControlFlow;
use support::memory::{Subject, link};

/// Instructions of an operation on a static memory, beyond what the data sheet's waits need.
const OPERATION_LIMIT: f64 = 60.0;
/// The same of a strobed address, with refresh.
const STROBED_LIMIT: f64 = 450.0;

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
        let limit = if subject.setup.strobed.is_some() { STROBED_LIMIT } else { OPERATION_LIMIT };
        assert!(instructions <= limit, "{instructions:.1} of {limit}");
        assert!(instructions > 20.0, "{instructions:.1} instructions make no operation");
    }
}
