//! Every defect, seen from the station.

mod common;

use common::{Bench, close, flip_flop, p7400, p74125};
use dipsift_language::{Family, Part};
use dipsift_pins::{Nanoseconds, Rail, Supply, Voltage};
use dipsift_simulator::{Chip, ChipError, Defect, Fixture, SimulatedSocket, WEAK_OHMS, predict};
use std::sync::Arc;

const A: u8 = 1;
const B: u8 = 2;
const Y: u8 = 3;

/// A powered 7400 with light or firm keepers high.
fn powered(family: Family, defects: &[&str], firm: bool) -> Bench {
    let mut bench = Bench::new(p7400(), family, defects);
    let mos = matches!(family, Family::Hc | Family::B);
    bench.power(if mos { Voltage::V3_3 } else { Voltage::V5 }).unwrap();
    if firm {
        bench.keep(Rail::Off, Rail::High);
    } else {
        bench.keep(Rail::High, Rail::Off);
    }
    bench
}

fn output_for(bench: &mut Bench, a: bool, b: bool) -> bool {
    bench.drive(&[(A, a), (B, b)]);
    bench.wait_ns(20_000);
    bench.level(Y)
}

#[test]
fn a_stuck_output_never_moves() {
    for family in [Family::Standard, Family::Ls, Family::Hc, Family::B] {
        for (phrase, level) in [("pin 3 stuck low", false), ("pin 3 stuck high", true)] {
            let mut bench = powered(family, &[phrase], false);
            for (a, b) in [(false, false), (true, false), (true, true)] {
                assert_eq!(output_for(&mut bench, a, b), level, "{} {phrase}", family.word());
            }
        }
    }
}

#[test]
fn a_stuck_input_stays_and_its_driver_does_not_show_it() {
    for family in [Family::Standard, Family::Ls, Family::Hc, Family::B] {
        for (phrase, level) in [("pin 1 stuck low", false), ("pin 1 stuck high", true)] {
            let mut bench = powered(family, &[phrase], false);
            for a in [false, true] {
                let y = output_for(&mut bench, a, true);
                assert_eq!(y, !level, "{} {phrase}", family.word());
                // The controller stands before the series resistor.
                assert_eq!(bench.level(A), a);
            }
        }
    }
    // 20 Ω to ground against 3.3 V behind 270 Ω; 20 Ω to 5 V against 0 V behind 270 Ω.
    let mut bench = powered(Family::Hc, &["pin 1 stuck low"], false);
    output_for(&mut bench, true, true);
    close(bench.volts(A), 3.3 * 20.0 / 290.0, 0.01);
    let mut bench = powered(Family::Standard, &["pin 1 stuck high"], false);
    output_for(&mut bench, false, true);
    close(bench.volts(A), 5.0 * 270.0 / 290.0, 0.02);
}

#[test]
fn an_open_output_is_the_keepers() {
    let mut bench = powered(Family::Ls, &["pin 3 open"], false);
    assert!(output_for(&mut bench, true, true));
    bench.keep(Rail::Low, Rail::Off);
    assert!(!output_for(&mut bench, false, true));
}

#[test]
fn an_open_input_floats_high_in_ttl() {
    let mut bench = powered(Family::Ls, &["pin 1 open"], false);
    assert!(!output_for(&mut bench, false, true), "the gate sees two highs");
}

#[test]
fn shorted_pins_are_one_conductor() {
    for (a, b) in [(true, false), (false, true)] {
        let mut bench = powered(Family::Hc, &["pins 1 and 2 shorted"], false);
        bench.drive(&[(A, a), (B, b)]);
        // Two drivers of 270 Ω meet in the middle.
        close(bench.volts(A), 1.65, 0.02);
        close(bench.volts(B), 1.65, 0.02);
        assert!(bench.socket.counters().contention_events > 0);
    }
    // One of them released follows the other.
    let mut bench = powered(Family::Hc, &["pins 1 and 2 shorted"], false);
    bench.drive(&[(B, false)]);
    bench.wait_ns(20_000);
    assert!(!bench.level(A));
}

#[test]
fn a_signal_shorted_to_the_supply_pins_stays_there() {
    let mut bench = powered(Family::Standard, &["pins 13 and 14 shorted"], false);
    bench.drive(&[(13, false)]);
    bench.wait_ns(1_000);
    // 0 V behind 50 Ω and 220 Ω.
    close(bench.volts(13), 5.0, 0.1);
    assert!(!bench.level(13));
    let mut bench = powered(Family::Standard, &["pins 6 and 7 shorted"], false);
    bench.drive(&[(4, false), (5, true)]);
    bench.wait_ns(1_000);
    assert!(!bench.level(6));
    // A high output on ground: 3.5 V over 130 Ω flows from the supply.
    let before = {
        let mut good = powered(Family::Standard, &[], false);
        good.drive(&[(4, false), (5, true)]);
        good.wait_ns(1_000);
        good.socket.current().0
    };
    let more = f64::from(bench.socket.current().0 - before);
    assert!((more - 1e6 * 3.5 / 130.0).abs() < 300.0, "{more} µA");
}

#[test]
fn ttl_without_its_supply_pin_draws_nothing_and_does_not_work() {
    let mut wrong = 0;
    for seed in 0..10 {
        let mut bench = Bench::seeded(p7400(), Family::Standard, &["supply open"], seed);
        bench.power(Voltage::V5).unwrap();
        assert_eq!(bench.socket.current().0, 0);
        bench.keep(Rail::Off, Rail::High);
        wrong += u32::from(output_for(&mut bench, true, true));
    }
    assert!(wrong > 0);
}

#[test]
fn cmos_without_its_supply_pin_feeds_on_its_inputs() {
    let mut bench = Bench::new(p7400(), Family::Hc, &["supply open"]);
    bench.power(Voltage::V3_3).unwrap();
    bench.drive(&[(4, true), (5, true), (9, true)]);
    bench.wait_ns(20_000);
    // The clamp diodes leave 3.3 - 0.6 V, above the 2 V that 74HC works from (TI CD74HC147).
    output_for(&mut bench, true, false);
    assert!(bench.level(Y));
    assert!(!output_for(&mut bench, true, true));
}

#[test]
fn a_weak_output_loses_to_its_keeper() {
    let fixture = Fixture::default();
    for (family, firm, keeper, supply) in [
        (Family::Standard, true, 2_200.0, 5.0),
        (Family::Ls, true, 2_200.0, 5.0),
        (Family::Hc, false, 22_000.0, 3.3),
        (Family::B, false, 22_000.0, 3.3),
    ] {
        let mut bench = powered(family, &["pin 3 weak"], firm);
        output_for(&mut bench, true, true);
        let expected =
            predict::output_low_volts(&fixture, family, supply, keeper, f64::from(WEAK_OHMS));
        close(bench.volts(Y), expected, 0.01);
        assert!(expected > fixture.low_volts, "{}: {expected} V", family.word());
    }
    // 5 kΩ more still holds a light keeper: 3.3 · 5.08/27.08 V.
    let mut bench = powered(Family::Hc, &["pin 3 weak 5000 ohm"], false);
    assert!(!output_for(&mut bench, true, true));
    close(bench.volts(Y), 3.3 * 5_080.0 / 27_080.0, 0.01);
}

#[test]
fn a_slow_output_is_caught_where_its_delay_passes_the_settling_time() {
    for (factor, late) in [(50, false), (200, true)] {
        let phrase = format!("pin 3 slow {factor}");
        let mut bench = powered(Family::Standard, &[&phrase], true);
        output_for(&mut bench, true, true);
        bench.drive(&[(A, false)]);
        bench.wait_ns(1_000);
        assert_eq!(bench.level(Y), !late, "{phrase}");
        let defect: Defect = phrase.parse().unwrap();
        let delay = predict::delay(Family::Standard, 5.0, Some(&defect));
        assert_eq!(delay, Nanoseconds(11 * factor));
        assert_eq!(delay > Nanoseconds(1_000), late);
    }
}

#[test]
fn a_leaky_input_shows_only_when_released() {
    let fixture = Fixture::default();
    for (family, firm, keeper, supply) in [
        (Family::Standard, true, 2_200.0, 5.0),
        (Family::Ls, true, 2_200.0, 5.0),
        (Family::Hc, false, 22_000.0, 3.3),
    ] {
        let mut bench = powered(family, &["pin 1 leaky"], firm);
        bench.drive(&[(A, true), (B, true)]);
        bench.wait_ns(1_000);
        assert!(bench.level(A));
        let both = 1.0 / (1.0 / 270.0 + 1.0 / keeper);
        let driven = predict::leaky_volts(&fixture, family, supply, 1.0, 1_000.0, both);
        close(bench.volts(A), driven, 0.015);
        bench.release(&[A]);
        bench.wait_ns(20_000);
        let released = predict::leaky_volts(&fixture, family, supply, 1.0, 1_000.0, keeper);
        close(bench.volts(A), released, 0.02);
        assert!(released < fixture.high_volts, "{}: {released} V", family.word());
    }
}

#[test]
fn an_intermittent_contact_comes_and_goes() {
    let mut missed = 0;
    let mut runs = 0;
    for seed in 0..20 {
        let mut bench = Bench::seeded(p7400(), Family::Ls, &["pin 3 intermittent"], seed);
        bench.power(Voltage::V5).unwrap();
        bench.keep(Rail::Off, Rail::High);
        for _ in 0..50 {
            runs += 1;
            missed += u32::from(output_for(&mut bench, true, true));
            output_for(&mut bench, false, true);
        }
    }
    assert!((runs / 10..runs / 2).contains(&missed), "{missed} of {runs}");
}

#[test]
fn another_part_or_family_replaces_the_chip() {
    let other = p74125();
    let find = |number: &str| -> Option<Arc<Part>> { (number == "74125").then(|| other.clone()) };
    let chip = || Chip::new(p7400(), Family::Ls, 1).unwrap();
    let replaced = chip().replaced(&["part 74125".parse().unwrap()], find).unwrap();
    assert_eq!((replaced.part().number.as_str(), replaced.family()), ("74125", Family::Ls));
    let replaced = chip().replaced(&["family HC".parse().unwrap()], find).unwrap();
    assert_eq!((replaced.part().number.as_str(), replaced.family()), ("7400", Family::Hc));
    let missing = chip().replaced(&["part 7499".parse().unwrap()], find).unwrap_err();
    assert_eq!(missing.to_string(), "no part \"7499\"");
}

#[test]
fn a_defect_that_does_not_fit_the_chip_is_refused() {
    let mut socket = SimulatedSocket::new(1);
    let chip = Chip::new(p7400(), Family::Ls, 1).unwrap();
    let mut refused = |phrase: &str| -> ChipError {
        socket.insert(chip.clone(), &[phrase.parse().unwrap()]).unwrap_err()
    };
    assert_eq!(refused("pin 15 open").to_string(), "\"pin 15 open\": 7400 has 14 pins");
    assert_eq!(refused("pin 1 weak").to_string(), "\"pin 1 weak\": pin 1 of 7400 is not an output");
    assert_eq!(
        refused("pin 14 stuck low").to_string(),
        "\"pin 14 stuck low\": pin 14 of 7400 is not a signal pin"
    );
}

#[test]
fn an_empty_socket_holds_nothing() {
    let mut bench = powered(Family::Ls, &["empty"], false);
    assert!(output_for(&mut bench, true, true));
    bench.keep(Rail::Low, Rail::Off);
    assert!(!output_for(&mut bench, false, true));
    bench.keep(Rail::Off, Rail::Off);
    assert_eq!(bench.socket.current().0, 0);
}

#[test]
fn computed_leakage_agrees_with_the_socket() {
    let fixture = Fixture::default();
    for family in [Family::Standard, Family::Ls, Family::F] {
        let mut bench = Bench::new(p74125(), family, &[]);
        bench.power(Voltage::V5).unwrap();
        bench.drive(&[(1, true), (2, false)]);
        for rail in [Rail::High, Rail::Low] {
            bench.keep(Rail::Off, rail);
            let expected = predict::released_volts(&fixture, family, rail, fixture.firm_ohms);
            close(bench.volts(3), expected, 0.002);
        }
    }
    assert_eq!(predict::settling(&fixture, 22_000.0), Nanoseconds(6_600));
}

#[test]
fn nothing_feeds_an_unpowered_chip_at_rest() {
    for family in Family::ALL {
        let mut bench = Bench::new(flip_flop(), family, &[]);
        let voltage = Voltage::V3_3;
        let _ = bench.power(voltage);
        bench.drive(&[(1, true), (2, true)]);
        bench.socket.disconnect();
        // Drivers that stay would feed a CMOS chip through its clamp diodes.
        let fed = bench.volts(8);
        assert_eq!(fed > 2.0, dipsift_simulator::figures(family).upper_diode, "{fed} V");
        dipsift_pins::Socket::release(&mut bench.socket);
        bench.wait_ns(10_000_000);
        for pin in 1..=8 {
            close(bench.volts(pin), 0.0, 0.01);
        }
    }
}
