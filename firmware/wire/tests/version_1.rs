//! The bytes of protocol version 1. Nobody edits this file: what differs is another version.
//!
//! The literals were made with a separate encoder after the postcard wire format specification
//! (postcard.jamesmunns.com/wire-format), with the CRC-32 of zlib (IEEE 802.3) and with COBS after
//! Cheshire and Baker, IEEE/ACM Transactions on Networking 7 (1999) 159.

use dipsift_wire::*;

/// A message is these bytes, and these bytes are the message.
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

fn step(step: Step, bytes: &[u8]) {
    let mut code = heapless::Vec::<u8, 32>::new();
    push_step(&step, &mut code).unwrap();
    assert_eq!(code, bytes, "{step:?}");
    assert!(Steps::new(bytes).eq([Ok(step)]));
}

fn record(seen: Seen, bytes: &[u8]) {
    let mut records = heapless::Vec::<u8, 32>::new();
    push_seen(&seen, &mut records).unwrap();
    assert_eq!(records, bytes, "{seen:?}");
    assert!(Records::new(bytes).eq([Ok(seen)]));
}

#[test]
fn frames() {
    let mut buffer = [0; MAX_FRAME];
    let hello = Request { sequence: 1, ask: Ask::Hello(VersionRange { min: 1, max: 1 }) };
    assert_eq!(
        encode_request(&hello, &mut buffer).unwrap(),
        [0x02, 0x01, 0x07, 0x01, 0x01, 0xae, 0xb9, 0xe4, 0xf7, 0x00]
    );
    let off = Reply { sequence: 65_535, answer: Answer::Off };
    assert_eq!(
        encode_reply(&off, &mut buffer).unwrap(),
        [0x09, 0xff, 0xff, 0x03, 0x03, 0x79, 0xef, 0xfd, 0xf3, 0x00]
    );
    // More than 254 bytes without a zero: a block of COBS has to end.
    let code = core::iter::repeat_n(0x07, 300).collect();
    let window = Ask::Window(Window { index: 0, last: false, code });
    let frame = encode_request(&Request { sequence: 4, ask: window }, &mut buffer).unwrap();
    assert_eq!(frame.len(), 313);
    assert_eq!(frame[..8], [0x03, 0x04, 0x02, 0x01, 0xff, 0xac, 0x02, 0x07]);
    assert_eq!(frame[258..261], [0x07, 0x35, 0x07]);
    assert_eq!(frame[307..], [0x07, 0x93, 0x95, 0xf3, 0x66, 0x00]);
}

#[test]
fn requests() {
    request(1, Ask::Hello(VersionRange { min: 1, max: 1 }), &[0x01, 0x00, 0x01, 0x01]);
    let unpowered = Header {
        kind: Kind::Vector,
        pins: 14,
        shift: 0,
        power: None,
        settle_ns: 1_000,
        keeper_ns: 10_000,
        capture: true,
    };
    request(
        2,
        Ask::Begin(unpowered),
        &[0x02, 0x01, 0x00, 0x0e, 0x00, 0x00, 0xe8, 0x07, 0x90, 0x4e, 0x01],
    );
    let power = Power {
        feed: Pins(1 << 15),
        ground: Pins(1 << 7),
        voltage: Voltage::V5,
        limit_ua: 150_000,
    };
    let powered = Header { pins: 16, shift: 2, power: Some(power), capture: false, ..unpowered };
    request(
        300,
        Ask::Begin(powered),
        &[
            0xac, 0x02, 0x01, 0x00, 0x10, 0x02, 0x01, 0x80, 0x80, 0x02, 0x80, 0x01, 0x01, 0xf0,
            0x93, 0x09, 0xe8, 0x07, 0x90, 0x4e, 0x00,
        ],
    );
    let code = heapless::Vec::from_slice(&[7, 9]).unwrap();
    let window = Window { index: 7, last: true, code };
    request(4, Ask::Window(window), &[0x04, 0x02, 0x07, 0x01, 0x02, 0x07, 0x09]);
    request(65_535, Ask::Off, &[0xff, 0xff, 0x03, 0x03]);
    request(6, Ask::Status, &[0x06, 0x04]);
}

#[test]
fn kinds_and_voltages() {
    let header = |kind, voltage| Header {
        kind,
        pins: 4,
        shift: 0,
        power: Some(Power { feed: Pins(4), ground: Pins(1), voltage, limit_ua: 1 }),
        settle_ns: 0,
        keeper_ns: 0,
        capture: false,
    };
    for (kind, index) in [(Kind::Vector, 0), (Kind::March, 1), (Kind::Probe, 2), (Kind::Stored, 3)]
    {
        for (voltage, volts) in [(Voltage::V3_3, 0), (Voltage::V5, 1)] {
            request(
                3,
                Ask::Begin(header(kind, voltage)),
                &[3, 1, index, 4, 0, 1, 4, 1, volts, 1, 0, 0, 0],
            );
        }
    }
}

#[test]
fn steps() {
    step(Step::Drive { pins: Pins(0x1b1b), high: Pins(0x1009) }, &[0x00, 0x9b, 0x36, 0x89, 0x20]);
    step(Step::Release { pins: Pins(0x2004) }, &[0x01, 0x84, 0x40]);
    step(Step::Keep { light: Rail::High, firm: Rail::Off }, &[0x02, 0x02, 0x00]);
    step(Step::Keep { light: Rail::Low, firm: Rail::High }, &[0x02, 0x01, 0x02]);
    step(Step::Expect { pins: Pins(0x24a4), high: Pins(0x20) }, &[0x03, 0xa4, 0x49, 0x20]);
    step(
        Step::ExpectReleased { pins: Pins(0xff_0000_0000), keeper: Strength::Light },
        &[0x04, 0x80, 0x80, 0x80, 0x80, 0xf0, 0x1f, 0x00],
    );
    step(Step::ExpectReleased { pins: Pins(1), keeper: Strength::Firm }, &[0x04, 0x01, 0x01]);
    step(
        Step::Pulse { pin: 40, times: 4_294_967_295 },
        &[0x05, 0x28, 0xff, 0xff, 0xff, 0xff, 0x0f],
    );
    step(Step::Wait { ns: 1_000_000 }, &[0x06, 0xc0, 0x84, 0x3d]);
    step(Step::Sample, &[0x07]);
    step(Step::Voltage { pin: 14 }, &[0x08, 0x0e]);
    step(Step::Current, &[0x09]);
}

#[test]
fn records() {
    record(Seen::Levels(Pins(0x3fff)), &[0x00, 0xff, 0x7f]);
    record(Seen::Voltage(None), &[0x01, 0x00]);
    record(Seen::Voltage(Some(4_987)), &[0x01, 0x01, 0xfb, 0x26]);
    record(Seen::Current(8_123), &[0x02, 0xbb, 0x3f]);
}

#[test]
fn hello() {
    let capabilities = Capabilities {
        feed: 0x80_0000_0031,
        ground: 0x8_0008_afc8,
        v3_3: true,
        v5: false,
        light_keeper_ohms: 22_000,
        firm_keeper_ohms: 2_200,
        series_ohms: 270,
        drive_mv: 3_300,
        current_max_ua: 200_000,
        current_step_ua: 50,
        window_bytes: 1_024,
        window_steps: 256,
        step_ns: 100,
        sample_ns: 250,
        kinds: 1,
    };
    let hello = Hello {
        versions: VersionRange { min: 1, max: 1 },
        schema: [1, 2, 3, 4, 5, 6, 7, 8],
        commit: "0123abc".try_into().unwrap(),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities,
    };
    let bytes = [
        0x01, 0x00, 0x01, 0x01, 0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x07, 0x08, 0x07, 0x30, 0x31,
        0x32, 0x33, 0x61, 0x62, 0x63, 0x02, 0x00, 0xb1, 0x80, 0x80, 0x80, 0x80, 0x10, 0xc8, 0xdf,
        0xa2, 0x80, 0x80, 0x01, 0x01, 0x00, 0xf0, 0xab, 0x01, 0x98, 0x11, 0x8e, 0x02, 0xe4, 0x19,
        0xc0, 0x9a, 0x0c, 0x32, 0x80, 0x08, 0x80, 0x02, 0x64, 0xfa, 0x01, 0x01,
    ];
    reply(1, Answer::Hello(hello.clone()), &bytes);
    let natures = [(Nature::Real, 0), (Nature::Emulated, 1), (Nature::Simulated, 2)];
    let resets = [
        (ResetCause::PowerOn, 0),
        (ResetCause::Pin, 1),
        (ResetCause::Watchdog, 2),
        (ResetCause::BrownOut, 3),
        (ResetCause::Software, 4),
        (ResetCause::Fault, 5),
        (ResetCause::Unknown, 6),
    ];
    for (nature, first) in natures {
        for (reset, second) in resets {
            let mut bytes = bytes;
            bytes[20..22].copy_from_slice(&[first, second]);
            reply(1, Answer::Hello(Hello { nature, reset, ..hello.clone() }), &bytes);
        }
    }
}

#[test]
fn results() {
    reply(2, Answer::Began, &[0x02, 0x01]);
    let going_on = Ran { index: 3, seen: heapless::Vec::new(), summary: None };
    reply(4, Answer::Ran(going_on), &[0x04, 0x02, 0x03, 0x00, 0x00]);
    let first = [
        Failure {
            place: Place::Step(130),
            pins: Pins(0x20),
            expected: Pins(0x1b1b),
            seen: Pins(0x3b3b),
        },
        Failure {
            place: Place::March { element: 5, operation: 1, background: 2, address: 65_535 },
            pins: Pins(1),
            expected: Pins(0),
            seen: Pins(1),
        },
    ];
    let summary = Summary {
        ended: Ended::Complete,
        steps: 200,
        failures: 2,
        pins: heapless::Vec::from_slice(&[PinCount { pin: 6, low: 0, high: 300, held: 1 }])
            .unwrap(),
        first: heapless::Vec::from_slice(&first).unwrap(),
        current_min_ua: 7_000,
        current_max_ua: 9_000,
    };
    let seen = heapless::Vec::from_slice(&[1, 0]).unwrap();
    reply(
        4,
        Answer::Ran(Ran { index: 3, seen, summary: Some(summary) }),
        &[
            0x04, 0x02, 0x03, 0x02, 0x01, 0x00, 0x01, 0x00, 0xc8, 0x01, 0x02, 0x01, 0x06, 0x00,
            0xac, 0x02, 0x01, 0x02, 0x00, 0x82, 0x01, 0x20, 0x9b, 0x36, 0xbb, 0x76, 0x01, 0x05,
            0x01, 0x02, 0xff, 0xff, 0x03, 0x01, 0x00, 0x01, 0xd8, 0x36, 0xa8, 0x46,
        ],
    );
    let ended = |ended| {
        let summary = Summary {
            ended,
            steps: 0,
            failures: 0,
            pins: heapless::Vec::new(),
            first: heapless::Vec::new(),
            current_min_ua: 0,
            current_max_ua: 0,
        };
        Answer::Ran(Ran { index: 0, seen: heapless::Vec::new(), summary: Some(summary) })
    };
    reply(4, ended(Ended::TrippedAtPowerUp), &[4, 2, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0]);
    reply(
        4,
        ended(Ended::Tripped { step: 1_000 }),
        &[4, 2, 0, 0, 1, 2, 0xe8, 0x07, 0, 0, 0, 0, 0, 0],
    );
}

#[test]
fn off_status_and_refusals() {
    reply(65_535, Answer::Off, &[0xff, 0xff, 0x03, 0x03]);
    let status = Status { bad_frames: 1, silences: 200, trips: 3, powered: true };
    reply(6, Answer::Status(status), &[0x06, 0x04, 0x01, 0xc8, 0x01, 0x03, 0x01]);
    let refusals: [(Refusal, &[u8]); 10] = [
        (Refusal::Version(VersionRange { min: 1, max: 1 }), &[0, 1, 1]),
        (Refusal::Kind, &[1]),
        (Refusal::Package, &[2]),
        (Refusal::Unconnectable, &[3]),
        (Refusal::Conflict, &[4]),
        (Refusal::Limit, &[5]),
        (Refusal::TooLong, &[6]),
        (Refusal::Step { index: 259 }, &[7, 0x83, 0x02]),
        (Refusal::TooLarge, &[8]),
        (Refusal::OutOfOrder, &[9]),
    ];
    for (refusal, bytes) in refusals {
        reply(9, Answer::Refused(refusal), &[&[0x09, 0x05], bytes].concat());
    }
}

/// What never changes, whatever the version: how a hello begins.
#[test]
fn the_beginning_of_a_hello() {
    let request = decode_request(&[0x01, 0x00, 0x01, 0x01]).unwrap();
    assert_eq!(request.ask, Ask::Hello(VersionRange { min: 1, max: 1 }));
}
