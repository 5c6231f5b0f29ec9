//! What a station finds before it feeds anything: the voltages of unpowered chips, good ones and
//! all the ways a chip can sit wrong.

mod common;

use common::{Bench, p7400, p7403, p74125, p74245};
use dipsift_language::{Family, Part};
use dipsift_pins::Rail;
use std::sync::Arc;

/// (a) at rest, (b) the supply pin on its light keeper over a grounded ground pin, in millivolts;
/// (c) the signal pins that show no diode to a raised ground.
///
/// In (b) the light keepers pull every position. A MOS chip takes their currents to its supply
/// through its upper diodes; where that is short or turned onto the ground pin, they lift it.
fn preflight(bench: &mut Bench, part: &Part) -> (u16, u16, Vec<u8>) {
    let pins = part.packages[0].pins.len() as u8;
    let (supply, ground) = (pins, pins / 2);
    let signals: Vec<u8> =
        (1..pins).filter(|&pin| pin != ground && part.packages[0].at(pin).is_some()).collect();
    let rest = bench.millivolts(supply);
    bench.keep(Rail::High, Rail::Off);
    bench.drive(&[(ground, false)]);
    bench.wait_ns(50_000);
    let pulled = bench.millivolts(supply);
    bench.keep(Rail::Low, Rail::Off);
    let mut all: Vec<(u8, bool)> = signals.iter().map(|&pin| (pin, true)).collect();
    all.push((ground, true));
    bench.drive(&all);
    let mut open = vec![];
    for &pin in &signals {
        bench.release(&[pin]);
        bench.wait_ns(50_000);
        if !bench.level(pin) {
            open.push(pin);
        }
        bench.drive(&[(pin, true)]);
        bench.wait_ns(1_000);
    }
    bench.release(&(1..=pins).collect::<Vec<_>>());
    bench.keep(Rail::Off, Rail::Off);
    (rest, pulled, open)
}

const FAMILIES: [Family; 9] = [
    Family::Standard,
    Family::L,
    Family::S,
    Family::Ls,
    Family::F,
    Family::Hc,
    Family::Hct,
    Family::Ac,
    Family::B,
];

fn parts() -> [Arc<Part>; 4] {
    [p7400(), p7403(), p74125(), p74245()]
}

#[test]
fn a_good_chip_shows_no_short_and_every_contact() {
    for family in FAMILIES {
        for part in parts() {
            let mut bench = Bench::new(part.clone(), family, &[]);
            let (rest, pulled, open) = preflight(&mut bench, &part);
            let what = format!("{} in {}", part.number, family.word());
            assert!(rest < 300, "{what}: {rest} mV at rest");
            assert!(pulled > 1_500, "{what}: {pulled} mV at the supply");
            assert_eq!(open, [], "{what}");
        }
    }
}

#[test]
fn a_turned_chip_shows_its_substrate_diode() {
    for family in FAMILIES {
        for part in parts() {
            let mut bench = Bench::new(part.clone(), family, &["turned round"]);
            let (rest, pulled, _) = preflight(&mut bench, &part);
            let what = format!("{} in {}", part.number, family.word());
            assert!(rest < 300, "{what}: {rest} mV at rest");
            assert!((600..1_300).contains(&pulled), "{what}: {pulled} mV at the supply");
        }
    }
}

#[test]
fn a_dead_short_pulls_the_supply_pin_down() {
    for family in FAMILIES {
        for part in parts() {
            let mut bench = Bench::new(part.clone(), family, &["supply shorted"]);
            let (_, pulled, _) = preflight(&mut bench, &part);
            assert!(pulled < 650, "{} in {}: {pulled} mV", part.number, family.word());
        }
    }
}

#[test]
fn an_empty_socket_shows_no_contact_at_all() {
    for part in parts() {
        let mut bench = Bench::new(part.clone(), Family::Ls, &["empty"]);
        let (rest, pulled, open) = preflight(&mut bench, &part);
        assert!(rest < 300);
        assert!(pulled > 3_200, "{pulled} mV");
        let signals = part.packages[0].pins.len() - 2;
        assert_eq!(open.len(), signals);
    }
}

#[test]
fn an_open_pin_is_the_only_one_without_a_diode() {
    for family in FAMILIES {
        for part in parts() {
            let mut bench = Bench::new(part.clone(), family, &["pin 3 open"]);
            let (_, pulled, open) = preflight(&mut bench, &part);
            assert!(pulled > 1_500);
            assert_eq!(open, [3], "{} in {}", part.number, family.word());
        }
    }
}

#[test]
fn a_shifted_chip_leaves_the_first_pin_without_contact() {
    for family in FAMILIES {
        for part in parts() {
            let mut bench = Bench::new(part.clone(), family, &["shifted by 1"]);
            let (_, pulled, open) = preflight(&mut bench, &part);
            let what = format!("{} in {}: open {open:?}", part.number, family.word());
            assert!(pulled > 1_500, "{what}: {pulled} mV");
            assert!(open.contains(&1), "{what}");
        }
    }
}

#[test]
fn without_its_supply_pin_a_chip_looks_connected() {
    for family in FAMILIES {
        for part in parts() {
            let mut bench = Bench::new(part.clone(), family, &["supply open"]);
            let (_, pulled, open) = preflight(&mut bench, &part);
            assert!(pulled > 3_200, "{pulled} mV");
            assert_eq!(open, [], "{} in {}", part.number, family.word());
        }
    }
}

/// Twelve light keepers through 20 Ω upper diodes, one through the 4 Ω substrate diode, and one on
/// the ground position itself, all into the driver's 270 Ω: the voltage there.
fn lifted_volts() -> f64 {
    let diodes = 12.0 / 22_020.0 + 1.0 / 22_004.0;
    (2.7 * diodes + 3.3 / 22_000.0) / (diodes + 1.0 / 22_000.0 + 1.0 / 270.0)
}

#[test]
fn computed_voltages_of_turned_chips() {
    // A turned 7400: light keepers through the substrate diode (0.6 V, 4 Ω) and on the ground
    // position itself, into 270 Ω.
    let part = p7400();
    let mut bench = Bench::new(part.clone(), Family::Standard, &["turned round"]);
    let (_, pulled, _) = preflight(&mut bench, &part);
    let vcc: f64 =
        (2.7 / 22_004.0 + 3.3 / 22_000.0) / (1.0 / 22_004.0 + 1.0 / 22_000.0 + 1.0 / 270.0);
    let expected = 1_000.0 * (vcc + 0.6 + (2.7 - vcc) * 4.0 / 22_004.0);
    assert!((f64::from(pulled) - expected).abs() <= 2.0, "{pulled} mV, expected {expected}");

    let mut bench = Bench::new(part.clone(), Family::Hc, &["turned round"]);
    let (_, pulled, _) = preflight(&mut bench, &part);
    let vcc = lifted_volts();
    let expected = 1_000.0 * (vcc + 0.6 + (2.7 - vcc) * 4.0 / 22_004.0);
    assert!((f64::from(pulled) - expected).abs() <= 2.0, "{pulled} mV, expected {expected}");
}

#[test]
fn keepers_lift_a_shorted_cmos_chip_that_is_left_to_them() {
    let part = p7400();
    let mut bench = Bench::new(part.clone(), Family::Hc, &["supply shorted"]);
    let (_, pulled, _) = preflight(&mut bench, &part);
    assert!((380..440).contains(&pulled), "{pulled} mV");
}
