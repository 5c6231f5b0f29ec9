//! The bytes that protocol version 2 adds. Nobody edits this file: what differs is another
//! version.
//!
//! The literals were written by hand after the postcard wire format specification
//! (postcard.jamesmunns.com/wire-format): an enum is its index, an option a byte 0 or 1, a string
//! its length and its bytes, an integer above a byte a varint of seven bits a byte.

use dipsift_wire::*;

fn request(sequence: u16, ask: Ask, bytes: &[u8]) {
    let request = Request { sequence, ask };
    assert_eq!(decode_request(bytes).as_ref(), Ok(&request));
    let mut buffer = [0; MAX_FRAME];
    assert_eq!(message(encode_request(&request, &mut buffer).unwrap()), bytes);
}

fn reply(sequence: u16, answer: Answer, bytes: &[u8]) {
    let reply = Reply { sequence, answer };
    assert_eq!(decode_reply(bytes).as_ref(), Ok(&reply));
    let mut buffer = [0; MAX_FRAME];
    assert_eq!(message(encode_reply(&reply, &mut buffer).unwrap()), bytes);
}

/// The message in a frame.
fn message(frame: &[u8]) -> Vec<u8> {
    let mut accumulator = Accumulator::new();
    let (end, rest) = frame.split_last().unwrap();
    assert!(rest.iter().all(|&byte| accumulator.push(byte).is_none()));
    accumulator.push(*end).unwrap().unwrap().to_vec()
}

#[test]
fn requests() {
    request(1, Ask::Hello(VersionRange { min: 1, max: 2 }), &[1, 0, 1, 2]);
    request(2, Ask::Stored { from: 0 }, &[2, 5, 0]);
    request(300, Ask::Stored { from: 300 }, &[0xac, 0x02, 5, 0xac, 0x02]);
    request(3, Ask::Arm(None), &[3, 6, 0]);
    request(
        3,
        Ask::Arm(Some("74LS00".try_into().unwrap())),
        &[3, 6, 1, 6, b'7', b'4', b'L', b'S', b'0', b'0'],
    );
    request(4, Ask::Armed, &[4, 7]);
    request(5, Ask::Health, &[5, 8]);
}

#[test]
fn stored_programs() {
    reply(2, Answer::Stored(Page { count: 0, parts: heapless::Vec::new() }), &[2, 6, 0, 0]);
    let part = StoredPart {
        name: "4011B".try_into().unwrap(),
        kind: 0,
        pins: 14,
        shift: 0,
        runnable: true,
        note: "3.3 V".try_into().unwrap(),
    };
    let other = StoredPart {
        name: "2114".try_into().unwrap(),
        kind: 1,
        pins: 18,
        shift: 2,
        runnable: false,
        note: heapless::String::new(),
    };
    let parts = heapless::Vec::from_slice(&[part, other]).unwrap();
    let head: &[u8] = &[2, 6, 0x82, 0x01, 2];
    let first: &[u8] = b"\x054011B\x00\x0e\x00\x01\x053.3 V";
    let second: &[u8] = b"\x042114\x01\x12\x02\x00\x00";
    reply(2, Answer::Stored(Page { count: 130, parts }), &[head, first, second].concat());
}

#[test]
fn armed() {
    reply(4, Answer::Armed(None), &[4, 7, 0]);
    for held in [false, true] {
        let armed = Armed { name: "7400".try_into().unwrap(), held };
        reply(4, Answer::Armed(Some(armed)), &[4, 7, 1, 4, b'7', b'4', b'0', b'0', held.into()]);
    }
}

#[test]
fn health() {
    let clocks = [(Clock::Regular, 0), (Clock::Internal, 1), (Clock::Slow, 2), (Clock::Virtual, 3)];
    for (clock, index) in clocks {
        let health = Health { clock, brown_out: None, stack_free: None };
        reply(5, Answer::Health(health), &[5, 8, index, 0, 0]);
        let health = Health { clock, brown_out: Some(3), stack_free: Some(9_000) };
        reply(5, Answer::Health(health), &[5, 8, index, 1, 3, 1, 0xa8, 0x46]);
    }
}

#[test]
fn refusals() {
    let refusals = [
        (Refusal::UnknownStored, 10),
        (Refusal::DamagedStored, 11),
        (Refusal::Memory, 12),
        (Refusal::Powered, 13),
    ];
    for (refusal, index) in refusals {
        reply(9, Answer::Refused(refusal), &[9, 5, index]);
    }
}

/// A reader of version 1 knows nothing beyond its own variants, and this one nothing beyond these.
#[test]
fn what_lies_beyond_is_malformed() {
    assert_eq!(decode_request(&[5, 9]), Err(Malformed));
    assert_eq!(decode_reply(&[5, 9, 0]), Err(Malformed));
    assert_eq!(decode_reply(&[9, 5, 14]), Err(Malformed));
}
