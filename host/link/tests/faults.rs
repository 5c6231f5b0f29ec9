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
    let (result, safe, _) = watched(fault, steps);
    (result, safe)
}

/// Like [`over`]; also tells whether the socket was powered when the host gave up.
fn watched<F>(fault: F, steps: &[Step]) -> (Result<Run, LinkError>, bool, bool)
where
    F: FnMut(Way, &[u8], &mut Vec<u8>) -> io::Result<()>,
{
    let line = Rc::new(RefCell::new(Line::new(socket(), fault)));
    let memory = Memory::new(Shared(line.clone()));
    let result = Link::open_from(memory, 7).and_then(|mut link| link.run(&header(), steps));
    let mut line = line.borrow_mut();
    let powered = line.station.hardware().connection.is_some();
    line.silence(Duration::from_millis(201));
    (result, line.station.hardware().is_safe(), powered)
}

/// Counts the frames of one direction.
fn frames(counted: Way) -> usize {
    let mut count = 0;
    let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
        // A lone zero byte is no frame.
        count += usize::from(way == counted && bytes.len() > 1);
        clean(way, bytes, out)
    };
    over(fault, &program()).0.unwrap();
    count
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
        let mut left_powered = 0;
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
            let (result, safe, powered) = watched(fault, &steps);
            assert!(safe, "cut at byte {cut}");
            left_powered += u32::from(powered);
            match result {
                Ok(run) => assert_eq!((run, cut), (right.clone(), whole)),
                Err(LinkError::NoAnswer | LinkError::Garbled) => assert!(!vanish),
                Err(LinkError::Gone(_)) => assert!(vanish),
                Err(other) => panic!("cut at byte {cut}: {other:?}"),
            }
        }
        // A host that waits outlasts the silence limit itself; one whose port vanishes does not,
        // so there the station alone has switched off.
        assert_eq!(left_powered > 200, vanish, "{left_powered} of {whole} cuts while powered");
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
    for broken in [Way::ToStation, Way::ToHost] {
        let frames = frames(broken);
        assert!(frames > 4, "hello, begin and some windows");
        for lost in 0..frames {
            let mut frame = 0;
            let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
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

#[test]
fn a_frame_without_its_end_costs_one_repetition() {
    let usual = frames(Way::ToStation);
    for broken in [Way::ToStation, Way::ToHost] {
        let (mut frame, mut sent) = (0, 0);
        let fault = |way, bytes: &[u8], out: &mut Vec<u8>| {
            sent += usize::from(way == Way::ToStation && bytes.len() > 1);
            frame += usize::from(way == broken && bytes.len() > 1);
            let end = if way == broken && bytes.len() > 1 && frame == 3 { 1 } else { 0 };
            clean(way, &bytes[..bytes.len() - end], out)
        };
        assert_eq!(over(fault, &program()).0.unwrap(), right());
        assert_eq!(sent, usual + 1, "{broken:?}");
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
        at in 0_usize..2_700,
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
        prop_assert!(passed > at, "{passed} bytes passed");
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

/// A station that takes long on the host's clock, as a simulated one may.
struct Slow<P> {
    peer: P,
    delay: Duration,
    now: Duration,
    pending: Vec<(Duration, Vec<u8>)>,
}

impl<P: Peer> Peer for Slow<P> {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        let mut reply = Vec::new();
        self.peer.receive(bytes, &mut reply)?;
        self.pending.push((self.now + self.delay, reply));
        self.idle(Duration::ZERO, out)
    }

    fn idle(&mut self, time: Duration, out: &mut Vec<u8>) -> io::Result<()> {
        self.now += time;
        let now = self.now;
        self.pending.retain(|(due, reply)| {
            if *due <= now {
                out.extend(reply);
            }
            *due > now
        });
        Ok(())
    }
}

#[test]
fn late_answers_change_nothing() {
    let right = right();
    for delay_ms in [0, 20, 50, 90, 150, 400, 2_500] {
        let delay = Duration::from_millis(delay_ms);
        let peer = Line::new(socket(), clean);
        let slow = Slow { peer, delay, now: Duration::ZERO, pending: Vec::new() };
        // The first answer may only be as late as a tester that is looked for.
        match Link::open(Memory::new(slow)) {
            Ok(mut link) => assert_eq!(link.run(&header(), &program()).unwrap(), right),
            Err(error) => {
                assert!(matches!(error, LinkError::NoAnswer), "{error:?}");
                assert!(delay_ms > 300, "{delay_ms} ms");
            }
        }
    }
}

#[test]
fn a_link_that_is_dropped_after_an_error_switches_off_at_once() {
    // One window's reply is lost for good; the requests still arrive.
    let line =
        Rc::new(RefCell::new(Line::new(socket(), |way, bytes: &[u8], out: &mut Vec<u8>| {
            let window = way == Way::ToHost && bytes.len() > 300;
            if window { Ok(()) } else { clean(way, bytes, out) }
        })));
    let mut link = Link::open(Memory::new(Shared(line.clone()))).unwrap();
    let capture = dipsift_wire::Header { capture: true, ..header() };
    assert!(matches!(link.run(&capture, &program()), Err(LinkError::NoAnswer)));
    assert!(line.borrow().station.hardware().is_safe());
    // The line works for small frames, so the next request does.
    assert!(!link.status().unwrap().powered);
}

#[test]
fn nobody_there_and_noise_are_told_apart() {
    let nobody = |_: &[u8], _: &mut Vec<u8>| {};
    assert!(matches!(Link::open(Memory::new(nobody)), Err(LinkError::NoAnswer)));
    let noise = |bytes: &[u8], out: &mut Vec<u8>| out.extend(bytes.iter().map(|byte| byte / 3));
    assert!(matches!(Link::open(Memory::new(noise)), Err(LinkError::Garbled)));
    // An echo is undamaged, but no reply.
    let echo = |bytes: &[u8], out: &mut Vec<u8>| out.extend(bytes);
    let error = Link::open(Memory::new(echo)).err().unwrap();
    assert!(!error.is_refusal(), "{error:?}");
}

#[test]
fn other_versions_are_told() {
    use dipsift_wire::{Answer, Refusal, Reply, VersionRange, encode_reply};
    let station = VersionRange { min: 7, max: 9 };
    let newer = move |bytes: &[u8], out: &mut Vec<u8>| {
        if bytes.len() > 1 {
            let answer = Answer::Refused(Refusal::Version(station));
            let mut buffer = [0; dipsift_wire::MAX_FRAME];
            out.extend(encode_reply(&Reply { sequence: 1, answer }, &mut buffer).unwrap());
        }
    };
    match Link::open_from(Memory::new(newer), 0) {
        Err(error @ LinkError::Version { .. }) => assert_eq!(
            error.to_string(),
            "the tester speaks protocol versions 7 to 9, this program 1 to 3"
        ),
        other => panic!("{:?}", other.err()),
    }
}
