//! What a station holds itself, asked over a line in memory.

mod common;

use common::ideal::Ideal;
use dipsift_link::{Link, LinkError, Memory};
use dipsift_wire::{
    Accumulator, Answer, Ask, Clock, MAX_FRAME, Page, Refusal, Reply, Request, StoredPart,
    VersionRange, decode_request, encode_reply,
};
use std::cell::RefCell;
use std::rc::Rc;

/// The requests that a peer has got.
type Asked = Rc<RefCell<Vec<Ask>>>;

/// A peer that answers requests by a rule and keeps them.
fn peer(answer: impl Fn(&Ask) -> Answer) -> (impl FnMut(&[u8], &mut Vec<u8>), Asked) {
    let (mut input, asked) = (Accumulator::new(), Asked::default());
    let kept = Rc::clone(&asked);
    let peer = move |bytes: &[u8], out: &mut Vec<u8>| {
        for &byte in bytes {
            if let Some(Ok(message)) = input.push(byte)
                && let Ok(Request { sequence, ask }) = decode_request(message)
            {
                let mut buffer = [0; MAX_FRAME];
                let reply = Reply { sequence, answer: answer(&ask) };
                kept.borrow_mut().push(ask);
                out.extend(encode_reply(&reply, &mut buffer).unwrap());
            }
        }
    };
    (peer, asked)
}

/// A hello of a station that speaks up to this version.
fn hello(max: u8) -> Answer {
    let mut station = common::station(Ideal::default());
    let mut buffer = [0; MAX_FRAME];
    let ask = Ask::Hello(VersionRange { min: 1, max: 1 });
    let frame = dipsift_wire::encode_request(&Request { sequence: 1, ask }, &mut buffer).unwrap();
    let (mut input, mut answer) = (Accumulator::new(), None);
    station.receive(frame, &mut |bytes| {
        for &byte in bytes {
            if let Some(Ok(message)) = input.push(byte) {
                answer = dipsift_wire::decode_reply(message).ok();
            }
        }
    });
    match answer.map(|reply| reply.answer) {
        Some(Answer::Hello(mut hello)) => {
            hello.versions.max = max;
            Answer::Hello(hello)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_station_of_version_1_is_asked_nothing_that_it_does_not_know() {
    let (peer, asked) = peer(|_| hello(1));
    let mut link = Link::open(Memory::new(peer)).expect("a version in common");
    for error in [link.stored().err(), link.arm(Some("7400")).err(), link.armed().err()] {
        let error = error.expect("too old");
        assert!(matches!(error, LinkError::TooOld { station: 1, needed: 2 }), "{error:?}");
        assert_eq!(
            error.to_string(),
            "the tester speaks protocol version 1 at most, and this needs 2: its firmware is older"
        );
    }
    assert_eq!(link.health().expect("no error"), None);
    assert_eq!(asked.borrow().len(), 1, "the hello alone");
}

fn part(number: usize) -> StoredPart {
    StoredPart {
        name: format!("part {number}").as_str().try_into().unwrap(),
        kind: 0,
        pins: 14,
        shift: 0,
        runnable: true,
        note: heapless::String::new(),
    }
}

#[test]
fn pages_are_put_together_and_an_endless_station_ends() {
    for (count, most) in [(0, 16), (1, 16), (16, 16), (40, 16), (40, 7)] {
        let (peer, _) = peer(move |ask| match *ask {
            Ask::Stored { from } => {
                let from = usize::from(from);
                let parts = (from..count.max(from)).take(most).map(part).collect();
                Answer::Stored(Page { count: count as u16, parts })
            }
            _ => hello(2),
        });
        let parts = Link::open(Memory::new(peer)).unwrap().stored().unwrap();
        assert!(parts.into_iter().eq((0..count).map(part)), "{count} by {most}");
    }
    // One that always has another page.
    let (peer, _) = peer(|ask| match *ask {
        Ask::Stored { .. } => {
            Answer::Stored(Page { count: u16::MAX, parts: (0..16).map(part).collect() })
        }
        _ => hello(2),
    });
    let parts = Link::open(Memory::new(peer)).unwrap().stored().unwrap();
    assert!(parts.len() >= usize::from(u16::MAX));
}

#[test]
fn what_a_station_declines_is_said_in_words() {
    for (refusal, words) in [
        (Refusal::UnknownStored, "holds no program of this name"),
        (Refusal::DamagedStored, "damaged"),
        (Refusal::Memory, "what was armed before still is"),
        (Refusal::Powered, "still powered"),
    ] {
        let (peer, _) = peer(move |ask| match ask {
            Ask::Hello(_) => hello(2),
            _ => Answer::Refused(refusal),
        });
        let error = Link::open(Memory::new(peer)).unwrap().arm(Some("7400")).unwrap_err();
        assert!(error.to_string().contains(words), "{error}");
    }
}

#[test]
fn a_name_longer_than_any_is_not_sent() {
    let (peer, asked) = peer(|_| hello(2));
    let mut link = Link::open(Memory::new(peer)).unwrap();
    let error = link.arm(Some("longer than sixteen")).unwrap_err();
    assert!(matches!(error, LinkError::Declined(Refusal::UnknownStored)));
    assert_eq!(asked.borrow().len(), 1);
}

#[test]
fn a_station_tells_its_health() {
    let line = common::Line::new(Ideal::default(), |_, bytes: &[u8], out: &mut Vec<u8>| {
        out.extend(bytes);
        Ok(())
    });
    let mut link = Link::open(Memory::new(line)).unwrap();
    assert_eq!(link.health().unwrap().unwrap().clock, Clock::Virtual);
}
