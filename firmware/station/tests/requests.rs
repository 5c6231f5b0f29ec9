//! Requests as any host, line or enemy may send them.

#[path = "../../engine/tests/ideal/mod.rs"]
mod ideal;

use dipsift_station::{Identity, Station};
use dipsift_wire::*;
use ideal::{Ideal, capabilities, header, inputs, pins, truth_table};
use proptest::prelude::*;

const HEALTH: Health = Health { clock: Clock::Virtual, brown_out: None, stack_free: None };

fn station() -> Station<Ideal> {
    let identity = Identity {
        commit: "0000000".try_into().unwrap(),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities: Capabilities { window_steps: 60_000, kinds: 0xff, ..capabilities() },
        health: HEALTH,
    };
    Station::new(Ideal::default(), identity)
}

fn receive(station: &mut Station<Ideal>, bytes: &[u8]) -> Vec<Reply> {
    let mut input = Accumulator::new();
    let mut replies = Vec::new();
    station.receive(bytes, &mut |bytes| {
        for &byte in bytes {
            if let Some(message) = input.push(byte) {
                replies.push(decode_reply(message.unwrap()).unwrap());
            }
        }
    });
    replies
}

fn frame(sequence: u16, ask: Ask) -> Vec<u8> {
    let mut buffer = [0; MAX_FRAME];
    encode_request(&Request { sequence, ask }, &mut buffer).unwrap().to_vec()
}

/// Asks once and takes the one answer.
fn ask(station: &mut Station<Ideal>, sequence: u16, ask: Ask) -> Answer {
    let mut replies = receive(station, &frame(sequence, ask));
    assert_eq!(replies.len(), 1);
    let reply = replies.remove(0);
    assert_eq!(reply.sequence, sequence);
    reply.answer
}

fn window(index: u32, last: bool, steps: &[Step]) -> Ask {
    let mut code = heapless::Vec::new();
    steps.iter().for_each(|step| push_step(step, &mut code).unwrap());
    Ask::Window(Window { index, last, code })
}

fn status(station: &mut Station<Ideal>, sequence: u16) -> Status {
    match ask(station, sequence, Ask::Status) {
        Answer::Status(status) => status,
        other => panic!("{other:?}"),
    }
}

/// A station with a powered program open; its last sequence number is 2.
fn powered() -> Station<Ideal> {
    let mut station = station();
    assert_eq!(ask(&mut station, 1, Ask::Begin(header())), Answer::Began);
    let drive = Step::Drive { pins: inputs(), high: inputs() };
    assert!(matches!(ask(&mut station, 2, window(0, false, &[drive])), Answer::Ran(_)));
    assert!(station.hardware().connection.is_some());
    station
}

fn advance(station: &mut Station<Ideal>, ms: u64) {
    station.hardware_mut().now += ms * 1_000_000;
    station.poll();
}

#[test]
fn a_fresh_station_is_safe_and_claims_no_more_than_it_has() {
    let mut station = station();
    assert!(station.hardware().is_safe());
    match ask(&mut station, 1, Ask::Hello(VERSIONS)) {
        Answer::Hello(hello) => {
            assert_eq!(hello.capabilities.window_steps, 256);
            // Vectors and marches.
            assert_eq!(hello.capabilities.kinds, 3);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn versions_decide() {
    let range = |min, max| Ask::Hello(VersionRange { min, max });
    let mut station = station();
    for (min, max) in [(4, 9), (0, 0), (9, 2)] {
        let refused = Answer::Refused(Refusal::Version(VERSIONS));
        assert_eq!(ask(&mut station, 1, range(min, max)), refused, "{min} to {max}");
    }
    assert!(matches!(ask(&mut station, 2, range(0, 255)), Answer::Hello(_)));
}

#[test]
fn a_repeated_request_is_answered_and_not_run_again() {
    let mut station = station();
    ask(&mut station, 1, Ask::Begin(header()));
    let first = frame(2, window(0, false, &truth_table()));
    let replies = receive(&mut station, &first);
    let applies = station.hardware().applies;
    assert_eq!(applies, 4);
    assert_eq!(receive(&mut station, &first), replies);
    assert_eq!(receive(&mut station, &first), replies);
    assert_eq!(station.hardware().applies, applies);
    // The same number with other bytes is another request, and not in its turn.
    let answer = ask(&mut station, 2, window(1, false, &truth_table()));
    assert_eq!(answer, Answer::Refused(Refusal::OutOfOrder));
    assert!(station.hardware().is_safe());
}

#[test]
fn a_window_from_elsewhere_is_not_run() {
    // The right index, but not the next number: a late frame of an earlier program.
    for sequence in [0, 1, 4, 60_000] {
        let mut station = powered();
        let answer = ask(&mut station, sequence, window(1, true, &[Step::Sample]));
        assert_eq!(answer, Answer::Refused(Refusal::OutOfOrder), "number {sequence}");
        assert!(station.hardware().is_safe());
    }
    let mut station = powered();
    assert!(matches!(ask(&mut station, 3, window(1, true, &[Step::Sample])), Answer::Ran(_)));
}

#[test]
fn every_other_request_ends_the_program() {
    let others = [
        Ask::Hello(VERSIONS),
        Ask::Hello(VersionRange { min: 9, max: 9 }),
        Ask::Begin(header()),
        Ask::Begin(Header { kind: Kind::March, ..header() }),
        Ask::Off,
        window(5, false, &[]),
        window(1, false, &[Step::Drive { pins: pins(&[14]), high: Pins::NONE }]),
    ];
    for other in others {
        let mut station = powered();
        ask(&mut station, 3, other.clone());
        assert!(station.hardware().is_safe(), "{other:?}");
    }
    let mut station = powered();
    assert!(status(&mut station, 3).powered, "a status changes nothing");
    assert!(station.hardware().connection.is_some());
}

#[test]
fn silence_ends_a_program() {
    for begun_only in [false, true] {
        let mut station = if begun_only { self::station() } else { powered() };
        if begun_only {
            ask(&mut station, 2, Ask::Begin(header()));
        }
        advance(&mut station, 200);
        assert_eq!(station.hardware().connection.is_some(), !begun_only);
        advance(&mut station, 1);
        assert!(station.hardware().is_safe());
        let answer = ask(&mut station, 3, window(u32::from(!begun_only), true, &[]));
        assert_eq!(answer, Answer::Refused(Refusal::OutOfOrder));
        assert_eq!(status(&mut station, 4).silences, 1);
    }
}

#[test]
fn good_requests_break_the_silence_and_noise_does_not() {
    let mut station = powered();
    for sequence in 3..20 {
        advance(&mut station, 150);
        assert!(status(&mut station, sequence).powered);
    }
    advance(&mut station, 150);
    assert!(receive(&mut station, &[1, 2, 3, 0, 9, 9, 0]).is_empty());
    advance(&mut station, 51);
    assert!(station.hardware().is_safe());
    assert_eq!(status(&mut station, 20).bad_frames, 2);
}

#[test]
fn a_window_that_comes_too_late_is_not_run_even_without_a_poll() {
    let mut station = powered();
    station.hardware_mut().now += 201_000_000;
    let answer = ask(&mut station, 3, window(1, true, &[Step::Sample]));
    assert_eq!(answer, Answer::Refused(Refusal::OutOfOrder));
}

#[test]
fn a_malformed_message_with_a_right_crc_ends_the_program() {
    // Trailing byte after a status: made from the pinned frame of another length by hand.
    let mut station = powered();
    let crc = crc32(&[3, 4, 0]);
    let mut message = vec![3, 4, 0];
    message.extend(crc.to_le_bytes());
    assert!(receive(&mut station, &cobs(&message)).is_empty());
    assert!(station.hardware().is_safe());
    assert_eq!(status(&mut station, 4).bad_frames, 1);
}

#[test]
fn a_trip_is_counted_and_ends_the_program() {
    let mut station = powered();
    station.hardware_mut().trip = ideal::Trip::AfterApplies(0);
    match ask(&mut station, 3, window(1, false, &[Step::Sample, Step::Sample])) {
        Answer::Ran(Ran { summary: Some(summary), .. }) => {
            assert_eq!(summary.ended, Ended::Tripped { step: 1 });
        }
        other => panic!("{other:?}"),
    }
    assert!(station.hardware().is_safe());
    assert_eq!(status(&mut station, 4).trips, 1);
}

/// CRC-32 bit by bit, reflected polynomial EDB88320 (IEEE 802.3, 3.2.9).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, _| if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
    !bytes.iter().fold(!0, |crc, &byte| (0..8).fold(crc ^ u32::from(byte), step))
}

/// COBS of fewer than 254 bytes, with the closing zero byte.
fn cobs(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    for block in bytes.split(|&byte| byte == 0) {
        out.push(block.len() as u8 + 1);
        out.extend(block);
    }
    out.push(0);
    out
}

fn any_step() -> impl Strategy<Value = Step> {
    let set = || prop_oneof![any::<u64>(), 0_u64..1 << 14, (0_u8..14).prop_map(|bit| 1 << bit)];
    let rail = || prop_oneof![Just(Rail::Off), Just(Rail::Low), Just(Rail::High)];
    let strength = prop_oneof![Just(Strength::Light), Just(Strength::Firm)];
    // Few pulses or absurdly many: what lies between would only take the test's time.
    let times = prop_oneof![0_u32..50, Just(u32::MAX)];
    prop_oneof![
        (set(), set()).prop_map(|(pins, high)| Step::Drive { pins: Pins(pins), high: Pins(high) }),
        (set(), set())
            .prop_map(|(pins, high)| Step::Drive { pins: Pins(pins), high: Pins(high & pins) }),
        set().prop_map(|pins| Step::Release { pins: Pins(pins) }),
        (rail(), rail()).prop_map(|(light, firm)| Step::Keep { light, firm }),
        (set(), set())
            .prop_map(|(pins, high)| Step::Expect { pins: Pins(pins), high: Pins(high & pins) }),
        (set(), strength)
            .prop_map(|(pins, keeper)| Step::ExpectReleased { pins: Pins(pins), keeper }),
        (any::<u8>(), times.clone()).prop_map(|(pin, times)| Step::Pulse { pin, times }),
        (1_u8..15, times).prop_map(|(pin, times)| Step::Pulse { pin, times }),
        any::<u32>().prop_map(|ns| Step::Wait { ns }),
        Just(Step::Sample),
        any::<u8>().prop_map(|pin| Step::Voltage { pin }),
        Just(Step::Current),
    ]
}

fn any_header() -> impl Strategy<Value = Header> {
    let power = (any::<u64>(), 0_u8..40, 0_u8..40, any::<bool>(), any::<bool>(), any::<u32>())
        .prop_map(|(set, feed, ground, wild, v5, limit_ua)| Power {
            feed: if wild { Pins(set) } else { Pins(1 << feed) },
            ground: if wild { Pins(set.rotate_left(21)) } else { Pins(1 << ground) },
            voltage: if v5 { Voltage::V5 } else { Voltage::V3_3 },
            limit_ua: if wild { limit_ua } else { limit_ua % 200_000 },
        });
    let kind = prop_oneof![9 => Just(Kind::Vector), 1 => Just(Kind::March)];
    let ns = || prop_oneof![0_u32..2_000, any::<u32>()];
    let count = prop_oneof![(2_u8..=20).prop_map(|half| 2 * half), any::<u8>()];
    let shift = prop_oneof![0_u8..20, any::<u8>()];
    (kind, count, shift, proptest::option::of(power), ns(), ns(), any::<bool>()).prop_map(
        |(kind, pins, shift, power, settle_ns, keeper_ns, capture)| Header {
            kind,
            pins,
            shift,
            power,
            settle_ns,
            keeper_ns,
            capture,
        },
    )
}

fn any_ask() -> impl Strategy<Value = Ask> {
    let steps = prop::collection::vec(any_step(), 0..6);
    let code = prop::collection::vec(any::<u8>(), 0..40);
    prop_oneof![
        1 => (any::<u8>(), any::<u8>())
            .prop_map(|(min, max)| Ask::Hello(VersionRange { min, max })),
        3 => any_header().prop_map(Ask::Begin),
        3 => Just(Ask::Begin(header())),
        6 => (0_u32..3, any::<bool>(), steps)
            .prop_map(|(index, last, steps)| window(index, last, &steps)),
        1 => (0_u32..3, any::<bool>(), code).prop_map(|(index, last, code)| {
            let code = heapless::Vec::from_slice(&code).unwrap();
            Ask::Window(Window { index, last, code })
        }),
        1 => Just(Ask::Off),
        1 => Just(Ask::Status),
        1 => any::<u16>().prop_map(|from| Ask::Stored { from }),
        1 => "[0-9A-Z]{0,16}".prop_map(|name| Ask::Arm(name.as_str().try_into().ok())),
        1 => Just(Ask::Arm(None)),
        1 => Just(Ask::Armed),
        1 => Just(Ask::Health),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(600) })]

    #[test]
    fn no_bytes_panic_a_station(bytes in prop::collection::vec(any::<u8>(), 0..4_000)) {
        let mut station = station();
        receive(&mut station, &bytes);
        advance(&mut station, 201);
        prop_assert!(station.hardware().is_safe());
    }

    /// The ideal socket itself panics where something is supplied and driven, where an impossible
    /// connection is made, or where power comes or goes while drivers are on.
    #[test]
    fn no_requests_power_a_socket_wrongly(asks in prop::collection::vec(any_ask(), 1..25)) {
        let mut station = station();
        for (sequence, request) in (1..).zip(asks) {
            let status = matches!(
                request,
                Ask::Status | Ask::Stored { .. } | Ask::Armed | Ask::Health
            );
            let before = station.hardware().now;
            match ask(&mut station, sequence, request) {
                // A window may power the socket, and waits no longer than announced.
                Answer::Ran(Ran { summary, .. }) => {
                    if summary.is_some() {
                        prop_assert!(station.hardware().is_safe());
                    }
                    prop_assert!(station.hardware().now - before <= 201_000_000);
                }
                Answer::Status(_) | Answer::Stored(_) | Answer::Health(_) => prop_assert!(status),
                Answer::Armed(_) if status => {}
                _ => prop_assert!(station.hardware().is_safe()),
            }
        }
        advance(&mut station, 201);
        prop_assert!(station.hardware().is_safe());
    }
}
