//! How exact a march's times are at the pins, by the emulation's cycles, instruction by instruction.

mod support;

use dipsift_emulated::PinEvent;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::fixture::capabilities;
use dipsift_wire::{MarchSetup, Move, Operation, Order, Pins};
use std::ops::ControlFlow;
use support::memory::{C_MINUS, Subject, elements, link};

/// The shortest wait before a sample that makes a difference.
const FLOOR_NS: u64 = 50;
/// From the pins' last change to the first port that is read: at least this much longer than the
/// wait.
const BEFORE_NS: u64 = 30;
/// From the pins' last change to the last port that is read: at most this much longer than the
/// wait, or than the floor.
const AFTER_NS: u64 = 90;
/// A cycle at 168 MHz, in nanoseconds and rounded to them.
const CYCLE_NS: std::ops::RangeInclusive<u64> = 5..=7;

/// What happens at the pins of a memory that is much faster than its mark, from its first read on.
fn events(subject: &Subject, setup: &MarchSetup) -> Vec<PinEvent> {
    let mut link = link(subject, subject.chip(&[]).with_access_ns(1), &[]);
    link.transport_mut().machine_mut().count_by_instruction().expect("it can count");
    link.transport_mut().machine_mut().trace_pins();
    let run = link.march(&subject.header, setup, &mut |_| ControlFlow::Continue(()));
    assert!(run.expect("it runs").summary.steps > 0);
    link.transport_mut().machine_mut().trace_pins()
}

/// Where samples begin: ports E, F and D are read, one right after the other.
fn samples(events: &[PinEvent]) -> Vec<usize> {
    let port = |event: &PinEvent| match *event {
        PinEvent::Read { port, .. } => Some(port),
        PinEvent::Driven { .. } => None,
    };
    (1..events.len().saturating_sub(2))
        .filter(|&at| events[at..at + 3].iter().filter_map(port).eq([4, 5, 3]))
        .collect()
}

/// From the last change before a sample to its first and its last port, the least and the most.
fn delays(events: &[PinEvent]) -> (u64, u64) {
    let pairs = samples(events).into_iter().filter_map(|at| match events[at - 1] {
        PinEvent::Driven { at: edge, .. } => {
            Some((events[at].at() - edge, events[at + 2].at() - edge))
        }
        PinEvent::Read { .. } => None,
    });
    let pairs: Vec<(u64, u64)> = pairs.collect();
    assert!(pairs.len() >= 64, "{} samples", pairs.len());
    let first = pairs.iter().map(|pair| pair.0).min().expect("there are some");
    (first, pairs.iter().map(|pair| pair.1).max().expect("there are some"))
}

/// A short march whose wait before the sample can be chosen.
fn short(number: &str) -> (Subject, usize) {
    let mut subject = Subject::new(number);
    let setup = &mut subject.setup;
    setup.words = 64;
    setup.backgrounds.truncate(1);
    setup.elements = elements(&[(Order::Up, &[Operation::W0]), (Order::Up, &[Operation::R0])]);
    let sample = setup.read.iter().position(|step| *step == Move::Sample).expect("there is one");
    assert!(matches!(setup.read[sample - 2..sample], [Move::Set { .. }, Move::Wait { .. }]));
    (subject, sample - 1)
}

fn waited(name: &str, ns: u64, (first, last): (u64, u64)) {
    println!("{name}, wait of {ns} ns: sampled {first} to {last} ns after the change");
    assert!(first >= ns + BEFORE_NS, "{first} ns for {ns}");
    assert!(last <= ns.max(FLOOR_NS) + AFTER_NS, "{last} ns for {ns}");
}

/// The quick form of a static memory, and the general one of a dynamic memory.
#[test]
fn from_a_change_to_the_sample() {
    for number in ["6264", "4164"] {
        let (subject, wait) = short(number);
        let mut before: Option<u64> = None;
        // Waits that last a cycle longer each, then others.
        for ns in [60, 66, 72, 78, 84, 90, 0, 30, 150, 1_000] {
            let mut setup = subject.setup.clone();
            setup.read[wait] = Move::Wait { ns: ns as u32 };
            let (first, last) = delays(&events(&subject, &setup));
            waited(number, ns, (first, last));
            if (66..=90).contains(&ns) {
                let step = first - before.expect("it is not the first");
                assert!(CYCLE_NS.contains(&step), "{step} ns for a cycle");
            }
            before = Some(first);
        }
    }
}

/// The memory selected, then the address moved: the general form.
#[test]
fn from_an_address_to_the_sample() {
    let (subject, wait) = short("6264");
    for ns in [0, 30, 150] {
        let mut setup = subject.setup.clone();
        let select = setup.read[wait - 1];
        let mut read = setup.read.clone();
        read.clear();
        let rest = setup.read[wait + 1..].iter().copied();
        let moves = [select, Move::Address, Move::Wait { ns: ns as u32 }].into_iter().chain(rest);
        read.extend(moves);
        setup.read = read;
        let delays = delays(&events(&subject, &setup));
        waited("6264 by address", ns, delays);
    }
}

/// The time that outputs get to let go before anything else moves is there, though the board
/// compares meanwhile instead of waiting.
#[test]
fn from_the_end_of_a_read_to_the_next_change() {
    for number in ["6264", "62256", "2114"] {
        let mut subject = Subject::new(number);
        subject.setup.words = 64;
        subject.setup.backgrounds.truncate(1);
        subject.setup.elements = elements(&C_MINUS);
        let setup = &subject.setup;
        let [.., Move::Set { pins, .. }, Move::Wait { ns }] = setup.read[..] else {
            panic!("{:?}", setup.read)
        };
        let of = |set: Pins| -> u64 {
            (1..=40).filter(|&pin| set.contains(pin)).map(|pin| subject.bit(pin)).sum()
        };
        let (pins, idle) = (of(pins), of(Pins(setup.idle.0 & pins.0)));
        let events = events(&subject, setup);
        let changes = |from: usize| {
            events[from..].iter().filter_map(|event| match *event {
                PinEvent::Driven { at, high, driven } if driven & pins == pins => Some((at, high)),
                _ => None,
            })
        };
        let (mut least, mut count) = (u64::MAX, 0);
        for sample in samples(&events) {
            let mut rest = changes(sample).skip_while(|&(_, high)| high & pins != idle);
            if let (Some((end, _)), Some((next, _))) = (rest.next(), rest.next()) {
                least = least.min(next - end);
                count += 1;
            }
        }
        println!("{number}: {least} ns after a read for {ns} ns, {count} reads");
        assert!(count > 5 * 60, "{count} reads");
        assert!(least >= u64::from(ns), "{least} of {ns} ns");
    }
}

/// What the station says of itself covers what it does.
#[test]
fn the_hello_says_so() {
    let said = capabilities(Clocking::External);
    assert!(u64::from(said.sample_ns) >= AFTER_NS, "{said:?}");
    assert!(CYCLE_NS.contains(&u64::from(said.step_ns)), "{said:?}");
}
