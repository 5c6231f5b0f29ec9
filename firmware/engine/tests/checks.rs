//! What is refused, and that a refusal touches nothing but the way into the safe state.

mod ideal;

use dipsift_engine::Engine;
use dipsift_wire::{
    Capabilities, Header, Kind, Pins, Power, Rail, Refusal, Step, Strength, Voltage, Window,
    push_step,
};
use ideal::{Ideal, capabilities, header, pins};

fn begin(header: &Header, capabilities: &Capabilities) -> Result<(), Refusal> {
    let mut hardware = Ideal::default();
    let mut engine = Engine::<Ideal, 16>::new();
    let result = engine.begin(&mut hardware, header, capabilities);
    assert!(hardware.is_safe());
    assert_eq!(hardware.connects, 0, "a header powers nothing");
    assert_eq!(engine.is_open(), result.is_ok());
    result
}

fn power(change: impl FnOnce(&mut Power)) -> Header {
    let mut header = header();
    change(header.power.as_mut().unwrap());
    header
}

#[test]
fn headers() {
    let able = capabilities();
    assert_eq!(begin(&header(), &able), Ok(()));
    for kind in [Kind::Probe, Kind::Stored] {
        assert_eq!(begin(&Header { kind, ..header() }, &able), Err(Refusal::Kind));
    }
    assert_eq!(begin(&header(), &Capabilities { kinds: 0, ..able.clone() }), Err(Refusal::Kind));
    for (count, shift) in [(13, 0), (2, 0), (42, 0), (14, 14)] {
        let header = Header { pins: count, shift, ..header() };
        assert_eq!(begin(&header, &able), Err(Refusal::Package));
    }
    let both = power(|power| power.ground = pins(&[7, 14]));
    assert_eq!(begin(&both, &able), Err(Refusal::Conflict));
    for limit_ua in [0, able.current_max_ua + 1, u32::MAX] {
        assert_eq!(begin(&power(|power| power.limit_ua = limit_ua), &able), Err(Refusal::Limit));
    }
    assert_eq!(begin(&power(|power| power.limit_ua = able.current_max_ua), &able), Ok(()));
    let limit_ns = 200_000_000;
    for (settle_ns, keeper_ns, answer) in [
        (limit_ns, limit_ns, Ok(())),
        (limit_ns + 1, 0, Err(Refusal::TooLong)),
        (0, limit_ns + 1, Err(Refusal::TooLong)),
    ] {
        let header = Header { settle_ns, keeper_ns, ..header() };
        assert_eq!(begin(&header, &able), answer);
    }
}

/// The capabilities alone say what can be fed and grounded: every pin of every package at every
/// place, against the position typed out of the package's geometry.
#[test]
fn only_the_fixtures_positions_are_fed_and_grounded() {
    let able = capabilities();
    for count in (4..=40_u8).step_by(2) {
        for shift in 0..=(40 - count) / 2 {
            for pin in 1..=count {
                let position =
                    if pin <= count / 2 { pin + shift } else { 40 - count + pin - shift };
                let bit = 1_u64 << (position - 1);
                let place = |feed, ground| Header {
                    pins: count,
                    shift,
                    power: Some(Power { feed, ground, voltage: Voltage::V5, limit_ua: 1_000 }),
                    ..header()
                };
                // The other side can do anything, so that only this pin decides.
                let other = if pin == 1 { Pins::one(2) } else { Pins::one(1) };
                let all = Capabilities { ground: u64::MAX, ..able.clone() };
                let fed = begin(&place(Pins::one(pin), other), &all);
                assert_eq!(fed.is_ok(), able.feed & bit != 0, "{count} {shift} {pin}: {fed:?}");
                let all = Capabilities { feed: u64::MAX, ..able.clone() };
                let grounded = begin(&place(other, Pins::one(pin)), &all);
                assert_eq!(grounded.is_ok(), able.ground & bit != 0, "{count} {shift} {pin}");
            }
        }
    }
}

#[test]
fn a_supply_that_cannot_be_is_unconnectable() {
    let able = capabilities();
    for header in [
        power(|power| power.feed = Pins::NONE),
        power(|power| power.ground = Pins::NONE),
        power(|power| power.feed = pins(&[14, 15])),
        power(|power| power.ground = Pins(!Pins::one(14).0)),
    ] {
        assert_eq!(begin(&header, &able), Err(Refusal::Unconnectable));
    }
    let without = [
        (Voltage::V5, Capabilities { v5: false, ..able.clone() }),
        (Voltage::V3_3, Capabilities { v3_3: false, ..able.clone() }),
    ];
    for (voltage, able) in without {
        let header = power(|power| power.voltage = voltage);
        assert_eq!(begin(&header, &able), Err(Refusal::Unconnectable));
    }
}

fn code(steps: &[Step]) -> Window {
    let mut code = heapless::Vec::new();
    steps.iter().for_each(|step| push_step(step, &mut code).unwrap());
    Window { index: 0, last: false, code }
}

/// The refusal of a window, which must leave levels and power as a fresh station has them.
fn refused(header: &Header, able: &Capabilities, window: &Window) -> Option<Refusal> {
    let mut hardware = Ideal::default();
    let mut engine = Engine::<Ideal, 16>::new();
    engine.begin(&mut hardware, header, able).unwrap();
    let result = engine.window(&mut hardware, window, able);
    if result.is_err() {
        assert!(hardware.is_safe());
        assert!(!engine.is_open());
        assert_eq!((hardware.applies, hardware.samples, hardware.connects), (0, 0, 0));
        assert_eq!(
            engine.window(&mut hardware, window, able).err(),
            Some(Refusal::OutOfOrder),
            "nothing is open after a refusal"
        );
    }
    result.err()
}

#[test]
fn steps() {
    let drive = Step::Drive { pins: pins(&[1, 2]), high: pins(&[1]) };
    let bad = |index| Some(Refusal::Step { index });
    let cases: &[(&[Step], Option<Refusal>)] = &[
        (&[drive], None),
        (&[Step::Drive { pins: pins(&[1]), high: pins(&[2]) }], bad(0)),
        (&[Step::Drive { pins: pins(&[15]), high: Pins::NONE }], bad(0)),
        (&[Step::Drive { pins: pins(&[1, 14]), high: Pins::NONE }], Some(Refusal::Conflict)),
        (&[Step::Drive { pins: pins(&[7]), high: Pins::NONE }], Some(Refusal::Conflict)),
        (&[Step::Release { pins: pins(&[64]) }], bad(0)),
        (&[drive, Step::Expect { pins: pins(&[3, 15]), high: Pins::NONE }], bad(1)),
        (&[Step::Expect { pins: pins(&[3]), high: pins(&[6]) }], bad(0)),
        (&[drive, Step::Pulse { pin: 2, times: 1 }], None),
        (&[drive, Step::Pulse { pin: 3, times: 1 }], bad(1)),
        (&[drive, Step::Pulse { pin: 0, times: 1 }], bad(1)),
        (&[drive, Step::Pulse { pin: 255, times: 1 }], bad(1)),
        (&[drive, Step::Release { pins: pins(&[2]) }, Step::Pulse { pin: 2, times: 1 }], bad(2)),
        (&[Step::ExpectReleased { pins: pins(&[3]), keeper: Strength::Firm }], None),
        (&[drive, Step::ExpectReleased { pins: pins(&[1, 3]), keeper: Strength::Firm }], bad(1)),
        (&[Step::ExpectReleased { pins: pins(&[14]), keeper: Strength::Firm }], bad(0)),
        (&[Step::Voltage { pin: 14 }, Step::Voltage { pin: 15 }], bad(1)),
        (&[Step::Voltage { pin: 0 }], bad(0)),
        (&[Step::Wait { ns: 200_000_000 }], None),
        (&[Step::Wait { ns: 200_000_001 }], Some(Refusal::TooLong)),
        (&[Step::Wait { ns: 150_000_000 }, Step::Wait { ns: 50_000_001 }], Some(Refusal::TooLong)),
        (&[Step::Wait { ns: u32::MAX }, Step::Wait { ns: u32::MAX }], Some(Refusal::TooLong)),
        (&[drive, Step::Pulse { pin: 1, times: u32::MAX }], Some(Refusal::TooLong)),
        (&[Step::Sample; 16], None),
        (&[Step::Sample; 17], Some(Refusal::TooLarge)),
    ];
    for (steps, refusal) in cases {
        assert_eq!(refused(&header(), &capabilities(), &code(steps)), *refusal, "{steps:?}");
    }
    let malformed =
        Window { index: 0, last: true, code: heapless::Vec::from_slice(&[7, 10]).unwrap() };
    assert_eq!(refused(&header(), &capabilities(), &malformed), bad(1));
    let cut = Window { index: 0, last: true, code: heapless::Vec::from_slice(&[0, 1]).unwrap() };
    assert_eq!(refused(&header(), &capabilities(), &cut), bad(0));
}

#[test]
fn windows_beyond_the_stations_memory() {
    let sample = |count: usize| code(&vec![Step::Sample; count]);
    let able = Capabilities { window_steps: 5, ..capabilities() };
    assert_eq!(refused(&header(), &able, &sample(5)), None);
    assert_eq!(refused(&header(), &able, &sample(6)), Some(Refusal::TooLarge));
    let able = Capabilities { window_bytes: 5, ..capabilities() };
    assert_eq!(refused(&header(), &able, &sample(5)), None);
    assert_eq!(refused(&header(), &able, &sample(6)), Some(Refusal::TooLarge));
}

#[test]
fn records_beyond_a_reply() {
    // 40 pins: seven bytes a record with its tag; 1024 / 7 = 146.
    let able = Capabilities { window_steps: 1_000, ..capabilities() };
    for (count, answer) in [(146, None), (147, Some(Refusal::TooLarge))] {
        let mut hardware = Ideal::default();
        let mut engine = Engine::<Ideal, 1_000>::new();
        let header = Header { pins: 40, power: None, ..header() };
        engine.begin(&mut hardware, &header, &able).unwrap();
        let result = engine.window(&mut hardware, &code(&vec![Step::Sample; count]), &able);
        assert_eq!(result.as_ref().err(), answer.as_ref());
        if let Ok(ran) = result {
            assert_eq!(dipsift_wire::Records::new(&ran.seen).count(), count);
        }
    }
}

#[test]
fn windows_out_of_order() {
    let able = capabilities();
    for second in [0, 2, u32::MAX] {
        let mut hardware = Ideal::default();
        let mut engine = Engine::<Ideal, 16>::new();
        engine.begin(&mut hardware, &header(), &able).unwrap();
        let keep = Step::Keep { light: Rail::High, firm: Rail::Off };
        engine.window(&mut hardware, &code(&[keep]), &able).unwrap();
        assert!(hardware.connection.is_some());
        let window = Window { index: second, ..code(&[keep]) };
        assert_eq!(engine.window(&mut hardware, &window, &able), Err(Refusal::OutOfOrder));
        assert!(hardware.is_safe());
    }
}
