//! Memories marched by the board: good ones pass, bad cells are found where they are, and no pin
//! is driven against or gets less than its data sheet's times.

mod support;

use dipsift_emulated::Line;
use dipsift_link::{Link, MarchRun};
use dipsift_simulator::{Defect, Fault};
use dipsift_wire::{Ended, Operation, Order};
use std::ops::ControlFlow;
use support::memory::{Subject, counters, elements, link};

/// Marches what is in the socket, and looks at what is left.
fn march(link: &mut Link<Line>, subject: &Subject) -> MarchRun {
    let run = link.march(&subject.header, &subject.setup, &mut |_| ControlFlow::Continue(()));
    let run = run.expect("it runs");
    assert_eq!(run.summary.ended, Ended::Complete);
    assert_eq!(u64::from(run.summary.steps), subject.setup.operations());
    let board = link.transport_mut().machine().board();
    assert!(board.fixture().is_safe(), "{:?}", board.unsafe_pins());
    let counters = counters(link);
    assert_eq!(counters.contention_events, 0);
    assert_eq!(counters.memory_violations, 0);
    assert!(counters.samples > 0 && counters.trips == 0);
    run
}

/// A good chip passes March C- with the bench's set-up, as many of its words and backgrounds as
/// are said; a chip with a stuck cell fails at that cell alone.
fn tried(number: &str, words: u32, backgrounds: usize) {
    let mut subject = Subject::new(number);
    assert!(subject.setup.words >= words && subject.setup.backgrounds.len() >= backgrounds);
    subject.setup.words = words;
    subject.setup.backgrounds.truncate(backgrounds);
    let mut link = link(&subject, subject.chip(&[]), &[]);
    let run = march(&mut link, &subject);
    assert_eq!((run.summary.failures, run.misses), (0, vec![]));

    // The array's last cell in reach: all address bits count.
    subject.setup.words = words.min(2_048);
    let address = subject.setup.words - 3;
    let bit = subject.setup.data_out.len() as u8 - 1;
    let stuck = Defect::Memory(Fault::StuckAt { cell: subject.cell(address, bit), high: true });
    let machine = link.transport_mut().machine_mut();
    let defects = [stuck];
    subject.insert(machine, subject.chip(&defects), &defects);
    let run = march(&mut link, &subject);
    // Each read of a 0 there, whatever the background.
    let reads = |backgrounds: &[u16]| -> usize {
        backgrounds.iter().map(|word| if word >> bit & 1 == 0 { 3 } else { 2 }).sum()
    };
    assert_eq!(run.misses.len(), reads(&subject.setup.backgrounds));
    for miss in &run.misses {
        let expected = subject.setup.expected(miss).expect("it is a read");
        assert_eq!((miss.address, miss.seen ^ expected), (address, 1 << bit), "{miss:?}");
    }
}

#[test]
fn ram_1k_by_1() {
    tried("2102", 1_024, 1);
}

#[test]
fn ram_1k_by_4() {
    tried("2114", 1_024, 3);
}

#[test]
fn ram_8k_by_8() {
    tried("6264", 8_192, 2);
}

/// All words are marched in `budgets.rs`.
#[test]
fn ram_32k_by_8() {
    tried("62256", 4_096, 2);
}

#[test]
fn ram_64k_by_1() {
    tried("4164", 65_536, 1);
}

/// 64 of its rows; all are refreshed.
#[test]
fn ram_256k_by_1() {
    tried("41256", 32_768, 1);
}

/// Every address bit of the largest memory, at the ends of its array: written and read from both
/// ends, with one cell that is stuck.
#[test]
fn the_end_of_a_large_array_is_reached() {
    let mut subject = Subject::new("41256");
    subject.setup.elements = elements(&[(Order::Down, &[Operation::W0, Operation::R0])]);
    subject.setup.most_failures = 1;
    let address = subject.setup.words - 1;
    let stuck = Defect::Memory(Fault::StuckAt { cell: subject.cell(address, 0), high: true });
    let mut link = link(&subject, subject.chip(&[]), &[stuck]);
    let run = link.march(&subject.header, &subject.setup, &mut |_| ControlFlow::Continue(()));
    let run = run.expect("it runs");
    assert_eq!((run.summary.ended, run.summary.steps), (Ended::Failures, 2));
    assert_eq!(run.misses.len(), 1);
    assert_eq!((run.misses[0].address, run.misses[0].operation), (address, 1));
}
