//! The bytes that protocol version 3 adds. Nobody edits this file: what differs is another
//! version.
//!
//! The literals were written by hand after the postcard wire format specification
//! (postcard.jamesmunns.com/wire-format): an enum is its index, an option a byte 0 or 1, a list its
//! length and its elements, an integer above a byte a varint of seven bits a byte.

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

fn list<T: Clone, const N: usize>(items: &[T]) -> heapless::Vec<T, N> {
    items.iter().cloned().collect()
}

#[test]
fn a_set_up() {
    let select = Pins::one(5);
    let setup = MarchSetup {
        address: list(&[4, 3]),
        strobed: None,
        data_in: list(&[9]),
        data_out: list(&[10]),
        words: 4,
        control: Pins(0x30),
        idle: Pins(0x10),
        light: Rail::High,
        firm: Rail::Off,
        read: list(&[
            Move::Address,
            Move::Set { pins: select, high: Pins::NONE },
            Move::Wait { ns: 200 },
            Move::Sample,
            Move::Set { pins: select, high: select },
        ]),
        write: list(&[Move::Data, Move::Release]),
        start: StartUp { pause_us: 200, cycles: 8 },
        refresh: Some(Refresh {
            cycle: list(&[Move::Row, Move::Column]),
            rows: 256,
            interval_ns: 4_000_000,
        }),
        backgrounds: list(&[0, 5]),
        elements: list(&[
            Element::Each { order: Order::Any, operations: list(&[Operation::W0]) },
            Element::Each { order: Order::Up, operations: list(&[Operation::R0, Operation::W1]) },
            Element::Each { order: Order::Down, operations: list(&[Operation::R1]) },
            Element::Pause { ms: 100, refresh: true },
        ]),
        any_down: true,
        most_failures: 1_000,
    };
    #[rustfmt::skip]
    let bytes: &[u8] = &[
        7, 9,
        2, 4, 3,
        0,
        1, 9,
        1, 10,
        4,
        0x30, 0x10,
        2, 0,
        5, 1, 0, 0x10, 0, 6, 0xc8, 0x01, 7, 0, 0x10, 0x10,
        2, 4, 5,
        0xc8, 0x01, 8,
        1, 2, 2, 3, 0x80, 0x02, 0x80, 0x92, 0xf4, 0x01,
        2, 0, 5,
        4, 0, 2, 1, 2, 0, 0, 2, 0, 3, 0, 1, 1, 1, 1, 100, 1,
        1,
        0xe8, 0x07,
    ];
    request(7, Ask::March(setup.clone()), bytes);
    let strobed = Some(Strobed { row_bits: 8, column_bits: 7 });
    let setup = MarchSetup { strobed, refresh: None, ..setup };
    let mut bytes = bytes.to_vec();
    bytes.splice(5..6, [1, 8, 7]);
    let refresh = bytes.windows(4).position(|bytes| bytes == [8, 1, 2, 2]).unwrap() + 1;
    bytes.splice(refresh..refresh + 10, [0]);
    request(7, Ask::March(setup), &bytes);
}

#[test]
fn pieces() {
    request(300, Ask::Proceed, &[0xac, 0x02, 10]);
    let nothing = Marched { misses: list(&[]), operations: 70_000, summary: None };
    reply(8, Answer::Marched(nothing), &[8, 9, 0, 0xf0, 0xa2, 0x04, 0]);
    let miss = Miss { element: 2, operation: 1, background: 3, address: 300, seen: 0xff };
    let summary = Summary {
        ended: Ended::Failures,
        steps: 9,
        failures: 1,
        pins: list(&[]),
        first: list(&[]),
        current_min_ua: 1,
        current_max_ua: 2,
    };
    let last = Marched { misses: list(&[miss]), operations: 9, summary: Some(summary) };
    let bytes = [8, 9, 1, 2, 1, 3, 0xac, 0x02, 0xff, 0x01, 9, 1, 3, 9, 1, 0, 0, 1, 2];
    reply(8, Answer::Marched(last), &bytes);
}

#[test]
fn words_read_out() {
    request(9, Ask::ReadOut { first: 300, count: 128 }, &[9, 11, 0xac, 0x02, 0x80, 0x01]);
    let words = Words { words: list(&[0xff, 1]), summary: None };
    reply(9, Answer::Words(words), &[9, 10, 2, 0xff, 0x01, 1, 0]);
}

#[test]
fn refusals() {
    let flaws: [(MarchFlaw, &[u8]); 7] = [
        (MarchFlaw::Pins, &[0]),
        (MarchFlaw::Words, &[1]),
        (MarchFlaw::Backgrounds, &[2]),
        (MarchFlaw::Elements, &[3]),
        (MarchFlaw::Cycle { cycle: 2, index: 16 }, &[4, 2, 16]),
        (MarchFlaw::Refresh, &[5]),
        (MarchFlaw::Failures, &[6]),
    ];
    for (flaw, bytes) in flaws {
        reply(9, Answer::Refused(Refusal::March(flaw)), &[&[9, 5, 14], bytes].concat());
    }
}
