//! Lines that cut, damage, lose, repeat, delay and invent frames. There is the right result or an
//! error of the line, and the socket is never left powered.

mod common;

use common::ideal::{Ideal, header, truth_table};
use common::{Line, Random, Way, clean};
use dipsift_link::{Link, LinkError, Memory, Peer, Run, Transport};
use dipsift_pins::Positions;
use dipsift_wire::Step;
use proptest::prelude::*;
use std::cell::RefCell;
use std::io;
use std::rc::Rc;
use std::time::Duration;

/// What the test keeps in hand while a link owns the line.
struct Shared<P>(Rc<RefCell<P>>);

impl<P: Peer> Peer for Shared<P> {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        self.0.borrow_mut().receive(bytes, out)
    }
    fn idle(&mut self, time: Duration, out: &mut Vec<u8>) -> io::Result<()> {
        self.0.borrow_mut().idle(time, out)
    }
}

/// A gate with one output stuck, so that the result is not an empty one.
fn socket() -> Ideal {
    Ideal { stuck_high: Positions::one(6), ..Ideal::default() }
}

/// Several windows, with something to find in each.
fn program() -> Vec<Step> {
    let mut steps: Vec<Step> = (0..60).flat_map(|_| truth_table()).collect();
    steps.push(Step::Sample);
    steps
}

fn right() -> Run {
    let mut link = Link::open(Memory::new(Line::new(socket(), clean))).unwrap();
    link.run(&header(), &program()).unwrap()
}

/// Runs over a line with a fault, then lets the line be silent for the limit; returns the result
/// and whether the socket was safe at the end.
fn over<F>(fault: F, steps: &[Step]) -> (Result<Run, LinkError>, bool)
where
    F: FnMut(Way, &[u8], &mut Vec<u8>) -> io::Result<()>,
{
    let line = Rc::new(RefCell::new(Line::new(socket(), fault)));
    let memory = Memory::new(Shared(line.clone()));
    let result = Link::open_from(memory, 7).and_then(|mut link| link.run(&header(), steps));
    let mut line = line.borrow_mut();
    line.silence(Duration::from_millis(201));
    (result, line.station.hardware().is_safe())
}

/// Counts the bytes of both directions.
fn bytes(steps: &[Step]) -> usize {
    let mut count = 0;
    let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
        count += bytes.len();
        clean(way, bytes, out)
    };
    over(fault, steps).0.unwrap();
    count
}

#[test]
fn a_link_cut_at_any_byte_leaves_the_socket_released() {
    let steps: Vec<Step> = (0..30).flat_map(|_| truth_table()).collect();
    let whole = bytes(&steps);
    let right = over(clean, &steps).0.unwrap();
    for vanish in [false, true] {
        let mut early = 0;
        for cut in 0..=whole {
            let mut left = cut;
            let fault = |_, bytes: &[u8], out: &mut Vec<u8>| {
                let pass = bytes.len().min(left);
                left -= pass;
                out.extend(&bytes[..pass]);
                if vanish && pass < bytes.len() {
                    return Err(io::ErrorKind::BrokenPipe.into());
                }
                Ok(())
            };
            let (result, safe) = over(fault, &steps);
            assert!(safe, "cut at byte {cut}");
            match result {
                Ok(run) => assert_eq!((run, cut), (right.clone(), whole)),
                Err(LinkError::NoAnswer | LinkError::Garbled) => assert!(!vanish),
                Err(LinkError::Gone(_)) => assert!(vanish),
                Err(other) => panic!("cut at byte {cut}: {other:?}"),
            }
            early += u32::from(cut < whole);
        }
        assert!(early > 1_000, "a cut at every one of {whole} bytes");
    }
}

#[test]
fn one_way_cuts_leave_the_socket_released() {
    let steps: Vec<Step> = (0..30).flat_map(|_| truth_table()).collect();
    for broken in [Way::ToStation, Way::ToHost] {
        for cut in 0..2_000 {
            let mut left = cut;
            let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
                let pass = if way == broken { bytes.len().min(left) } else { bytes.len() };
                left -= if way == broken { pass } else { 0 };
                out.extend(&bytes[..pass]);
                Ok(())
            };
            let (result, safe) = over(fault, &steps);
            assert!(safe, "cut at byte {cut} {broken:?}");
            assert!(!matches!(result, Err(ref error) if error.is_refusal()), "{result:?}");
        }
    }
}

#[test]
fn a_lost_frame_is_repeated_and_changes_nothing() {
    let right = right();
    let frames = 12;
    for lost in 0..frames {
        for broken in [Way::ToStation, Way::ToHost] {
            let mut frame = 0;
            let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
                // A lone zero byte is no frame.
                if way == broken && bytes.len() > 1 {
                    frame += 1;
                    if frame == lost + 1 {
                        return Ok(());
                    }
                }
                clean(way, bytes, out)
            };
            let (result, safe) = over(fault, &program());
            assert!(safe);
            assert_eq!(result.unwrap(), right, "frame {lost} {broken:?}");
        }
    }
}

/// One thing that a bad line does to a frame.
fn mischief(kind: usize, random: &mut Random, bytes: &[u8], old: &[Vec<u8>], out: &mut Vec<u8>) {
    match kind {
        // Corrupt.
        0 => {
            let mut bad = bytes.to_vec();
            for _ in 0..=random.below(3) {
                let at = random.below(bad.len());
                bad[at] ^= 1 << random.below(8);
            }
            out.extend(bad);
        }
        // Truncated.
        1 => out.extend(&bytes[..random.below(bytes.len())]),
        // Lost.
        2 => {}
        // Repeated.
        3 => {
            out.extend(bytes);
            out.extend(bytes);
        }
        // Late: an old frame comes after this one.
        4 => {
            out.extend(bytes);
            out.extend(&old[random.below(old.len())]);
        }
        // Early: an old frame comes before this one.
        5 => {
            out.extend(&old[random.below(old.len())]);
            out.extend(bytes);
        }
        // Overlong.
        6 => {
            out.extend(std::iter::repeat_n(0x55, 2_000 + random.below(3_000)));
            out.extend(bytes);
        }
        // Noise between frames.
        7 => {
            out.extend((0..random.below(40)).map(|at| (at * 37 % 256) as u8));
            out.extend(bytes);
        }
        // Two frames glued together: the zero byte between them is lost.
        _ => out.extend(&bytes[..bytes.len() - 1]),
    }
}

/// Returns whether the run came through.
fn bad_line(seed: u64, rarity: usize, right: &Run) -> bool {
    let mut random = Random::new(seed);
    let mut old: Vec<Vec<u8>> = Vec::new();
    let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
        old.push(bytes.to_vec());
        if random.below(rarity) == 0 {
            let kind = random.below(9);
            mischief(kind, &mut random, bytes, &old, out);
            Ok(())
        } else {
            clean(way, bytes, out)
        }
    };
    let (result, safe) = over(fault, &program());
    assert!(safe, "seed {seed}");
    match result {
        Ok(run) => {
            assert_eq!(&run, right, "seed {seed}");
            true
        }
        Err(error) => {
            assert!(!error.is_refusal(), "seed {seed}: {error:?}");
            false
        }
    }
}

#[test]
fn bad_lines_never_change_a_result() {
    let right = right();
    for rarity in [2, 4, 12] {
        let through = (0..700).filter(|&seed| bad_line(seed, rarity, &right)).count();
        // Neither always nor never, or the test would show little.
        assert!((1..700).contains(&through), "1 in {rarity}: {through} of 700 came through");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

    #[test]
    fn any_single_change_on_the_line_is_harmless(
        at in 0_usize..2_500,
        change in 1_u8..=255,
        insert in any::<bool>(),
    ) {
        let right = right();
        let mut passed = 0;
        let fault = |_, bytes: &[u8], out: &mut Vec<u8>| {
            for &byte in bytes {
                match passed == at {
                    true if insert => out.extend([change, byte]),
                    true => out.push(byte ^ change),
                    false => out.push(byte),
                }
                passed += 1;
            }
            Ok(())
        };
        let (result, safe) = over(fault, &program());
        prop_assert!(safe);
        // One damaged byte costs a repetition, not the run.
        prop_assert_eq!(result.unwrap(), right);
    }
}

#[test]
fn a_host_that_stops_mid_program_is_noticed_within_the_limit() {
    let line = Rc::new(RefCell::new(Line::new(socket(), clean)));
    let mut memory = Memory::new(Shared(line.clone()));
    // A first window that is not the last, then nothing.
    let mut buffer = [0; dipsift_wire::MAX_FRAME];
    let window = dipsift_wire::Window { index: 0, last: false, code: Default::default() };
    for (sequence, ask) in
        [(1, dipsift_wire::Ask::Begin(header())), (2, dipsift_wire::Ask::Window(window))]
    {
        let request = dipsift_wire::Request { sequence, ask };
        memory.send(dipsift_wire::encode_request(&request, &mut buffer).unwrap()).unwrap();
    }
    assert!(line.borrow().station.hardware().connection.is_some());
    line.borrow_mut().silence(Duration::from_millis(199));
    assert!(line.borrow().station.hardware().connection.is_some());
    line.borrow_mut().silence(Duration::from_millis(2));
    assert!(line.borrow().station.hardware().is_safe());
}
