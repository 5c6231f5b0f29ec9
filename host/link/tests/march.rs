//! Marches over a line, with and without faults.

mod common;

use common::ideal::Trip;
use common::ideal::memory::{
    Bit, C_MINUS, Fault, Memory as Ram, dynamic_setup, march_header, socket, static_setup,
};
use common::{Line, Random, Way, clean};
use dipsift_link::{Link, LinkError, MarchProgress, Memory};
use dipsift_wire::{Ended, Header, MarchFlaw, MarchSetup, Miss, Pins, Refusal};
use std::io;
use std::ops::ControlFlow;

fn go_on(_: &MarchProgress) -> ControlFlow<()> {
    ControlFlow::Continue(())
}

fn bad(mut memory: Ram, addresses: impl IntoIterator<Item = u32>) -> Ram {
    let stuck = |address| Fault::StuckAt { cell: Bit { address, bit: 0 }, value: true };
    memory.array.faults.extend(addresses.into_iter().map(stuck));
    memory
}

#[test]
fn a_march_runs_to_its_end_and_tells_how_far_it_is() {
    let notation = "any(w0);pause(130);up(r0,w1);down(r1)";
    let setup = static_setup(false, notation);
    let mut link = Link::open(Memory::new(Line::new(
        socket(bad(Ram::static_ram(false), [3, 7])),
        clean as fn(_, &[u8], &mut Vec<u8>) -> _,
    )))
    .unwrap();
    let mut seen = Vec::new();
    let run = link
        .march(&march_header(), &setup, &mut |progress| {
            seen.push(*progress);
            ControlFlow::Continue(())
        })
        .unwrap();
    // Bit 0 is 0 in the background 0000 alone, and in the complements of the others.
    let miss = |element, background, address, seen| Miss {
        element,
        operation: 0,
        background,
        address,
        seen,
    };
    let expected = [
        miss(2, 0, 3, 0b0001),
        miss(2, 0, 7, 0b0001),
        miss(3, 1, 7, 0b1011),
        miss(3, 1, 3, 0b1011),
        miss(3, 2, 7, 0b1101),
        miss(3, 2, 3, 0b1101),
    ];
    assert_eq!(run.misses, expected);
    assert_eq!((run.summary.ended, run.summary.failures), (Ended::Complete, 6));
    assert_eq!(u64::from(run.summary.steps), setup.operations());
    // Two reports at least in each pause; they never go back.
    assert!(seen.len() >= 6, "{seen:?}");
    assert!(seen.iter().all(|progress| progress.all == 4 * 16 * 3));
    assert!(seen.is_sorted_by_key(|progress| (progress.operations, progress.failures)));
    assert!(link.transport_mut().peer_mut().station.hardware_mut().is_safe());
}

#[test]
fn whoever_watches_may_stop_it() {
    let setup = static_setup(false, "any(w0);pause(10000);any(r0)");
    let line = Line::new(
        socket(Ram::static_ram(false)),
        clean as fn(_, &[u8], &mut Vec<u8>) -> io::Result<()>,
    );
    let mut link = Link::open(Memory::new(line)).unwrap();
    let mut reports = 0;
    let result = link.march(&march_header(), &setup, &mut |_| {
        reports += 1;
        if reports == 3 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    assert!(matches!(result, Err(LinkError::Stopped)), "{result:?}");
    assert!(link.transport_mut().peer_mut().station.hardware_mut().is_safe());
    // The link still works.
    assert!(!link.status().unwrap().powered);
}

/// Frames get lost and damaged: the same result, or trouble with the line; never another result.
#[test]
fn a_bad_line_changes_no_result() {
    let setup = dynamic_setup(C_MINUS);
    let memory = || bad(Ram::dynamic_ram(), (0..256).step_by(3));
    let header = march_header();
    let expected = {
        let line = Line::new(socket(memory()), clean as fn(_, &[u8], &mut Vec<u8>) -> _);
        Link::open(Memory::new(line)).unwrap().march(&header, &setup, &mut go_on).unwrap()
    };
    // Every third cell reads 1 where 0 is expected, three times.
    assert_eq!(expected.misses.len(), 3 * 86);
    let (mut whole, mut broken) = (0, 0);
    for seed in 0..60 {
        let mut random = Random::new(seed);
        let line = Line::new(socket(memory()), move |_: Way, bytes: &[u8], out: &mut Vec<u8>| {
            for &byte in bytes {
                match random.below(3_000) {
                    0 => {}
                    1 => out.push(byte ^ 1 << random.below(8)),
                    _ => out.push(byte),
                }
            }
            Ok(())
        });
        let Ok(mut link) = Link::open(Memory::new(line)) else { continue };
        match link.march(&header, &setup, &mut go_on) {
            Ok(run) => {
                assert_eq!(run, expected, "seed {seed}");
                whole += 1;
            }
            Err(error) => {
                assert!(!error.is_refusal(), "{error}");
                broken += 1;
            }
        }
    }
    assert!(whole >= 20, "{whole} whole, {broken} broken");
}

#[test]
fn a_march_that_cannot_run_is_refused() {
    let line = Line::new(
        socket(Ram::static_ram(false)),
        clean as fn(_, &[u8], &mut Vec<u8>) -> io::Result<()>,
    );
    let mut link = Link::open(Memory::new(line)).unwrap();
    let mut refusal =
        |header: &Header, setup: &MarchSetup| match link.march(header, setup, &mut go_on) {
            Err(error) if error.is_refusal() => error.to_string(),
            other => panic!("{other:?}"),
        };
    let good = static_setup(false, C_MINUS);
    assert_eq!(
        refusal(&march_header(), &MarchSetup { words: 17, ..good.clone() }),
        "the tester refuses the program: the address does not reach as many words"
    );
    assert_eq!(
        refusal(&march_header(), &MarchSetup { idle: Pins(0x70), ..good.clone() }),
        "the tester refuses the program: a pin of the memory is missing, or has two roles"
    );
    let unpowered = Header { power: None, ..march_header() };
    assert!(refusal(&unpowered, &good).contains("cannot"));
    let flaw = Refusal::March(MarchFlaw::Failures);
    let result = link.march(&march_header(), &MarchSetup { most_failures: 0, ..good }, &mut go_on);
    assert!(matches!(result, Err(LinkError::Refused(refused)) if refused == flaw), "{result:?}");
}

/// A dynamic memory that is only read: the longest way.
fn read_only() -> (Ram, MarchSetup, Vec<u16>) {
    let mut memory = Ram::dynamic_ram();
    let words: Vec<u16> = (0..256_u16).map(|address| (address.count_ones() & 1) as u16).collect();
    memory.array.words.clone_from(&words);
    let setup = MarchSetup { elements: Default::default(), ..dynamic_setup(C_MINUS) };
    (memory, setup, words)
}

#[test]
fn a_memory_is_read_out() {
    let (memory, setup, words) = read_only();
    let line = Line::new(socket(memory), clean as fn(_, &[u8], &mut Vec<u8>) -> io::Result<()>);
    let mut link = Link::open(Memory::new(line)).unwrap();
    let mut told = Vec::new();
    let read = link
        .read_out(&march_header(), &setup, &mut |words| {
            told.push(words);
            ControlFlow::Continue(())
        })
        .unwrap();
    assert_eq!(read.words, words);
    assert_eq!((read.summary.ended, read.summary.steps), (Ended::Complete, 256));
    assert_eq!((read.summary.current_min_ua, read.summary.current_max_ua), (8_000, 8_000));
    assert_eq!(told, [128]);
    // Whoever watches may stop it.
    let stopped = link.read_out(&march_header(), &setup, &mut |_| ControlFlow::Break(()));
    assert!(matches!(stopped, Err(LinkError::Stopped)), "{stopped:?}");
    assert!(link.transport_mut().peer_mut().station.hardware_mut().is_safe());
    // A trip comes with what was read before it.
    link.transport_mut().peer_mut().station.hardware_mut().trip = Trip::AfterApplies(1);
    let read = link.read_out(&march_header(), &setup, &mut |_| ControlFlow::Continue(())).unwrap();
    assert_eq!((read.words.len(), read.summary.ended), (0, Ended::Tripped { step: 0 }));
    assert_eq!(link.status().unwrap().trips, 1);
}

#[test]
fn a_bad_line_changes_no_word() {
    let (memory, setup, words) = read_only();
    let (mut whole, mut broken) = (0, 0);
    for seed in 0..60 {
        let mut random = Random::new(seed);
        let line =
            Line::new(socket(memory.clone()), move |_: Way, bytes: &[u8], out: &mut Vec<u8>| {
                for &byte in bytes {
                    match random.below(400) {
                        0 => {}
                        1 => out.push(byte ^ 1 << random.below(8)),
                        _ => out.push(byte),
                    }
                }
                Ok(())
            });
        let Ok(mut link) = Link::open(Memory::new(line)) else { continue };
        match link.read_out(&march_header(), &setup, &mut |_| ControlFlow::Continue(())) {
            Ok(read) => {
                assert_eq!(read.words, words, "seed {seed}");
                whole += 1;
            }
            Err(error) => {
                assert!(!error.is_refusal(), "{error}");
                broken += 1;
            }
        }
    }
    assert!(whole >= 20 && broken + whole >= 40, "{whole} whole, {broken} broken");
}
