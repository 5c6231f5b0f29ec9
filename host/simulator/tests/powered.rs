//! Powered chips: levels, voltages by hand calculation, fights, delays, leakages.

mod common;

use common::{Bench, Maker, close, flip_flop, heavy, p7400, p7403, p74125, p74245};
use dipsift_language::{Family, Output};
use dipsift_pins::{Rail, SupplyFault, Voltage};

/// Every gate of the 7400: pins A, B, Y.
const GATES: [(u8, u8, u8); 4] = [(1, 2, 3), (4, 5, 6), (9, 10, 8), (12, 13, 11)];

fn voltage_for(family: Family) -> Voltage {
    match family {
        Family::Hc | Family::Ac | Family::C | Family::B | Family::Ub => Voltage::V3_3,
        _ => Voltage::V5,
    }
}

/// Runs the whole function table of every gate; returns the gates and inputs that differ.
fn wrong_rows(bench: &mut Bench) -> Vec<(u8, bool, bool)> {
    let mut wrong = vec![];
    for (a, b, y) in GATES {
        for row in 0..4 {
            let (at_a, at_b) = (row & 1 != 0, row & 2 != 0);
            bench.drive(&[(a, at_a), (b, at_b)]);
            bench.wait_ns(10_000);
            // NAND: TI SDLS025B, function table.
            if bench.level(y) == (at_a && at_b) {
                wrong.push((y, at_a, at_b));
            }
        }
    }
    wrong
}

#[test]
fn a_good_7400_follows_its_table_in_every_family_without_a_fight() {
    for family in Family::ALL {
        for (light, firm) in
            [(Rail::Off, Rail::Off), (Rail::High, Rail::Off), (Rail::Low, Rail::Off)]
        {
            let mut bench = Bench::new(p7400(), family, &[]);
            bench.power(voltage_for(family)).unwrap();
            bench.keep(light, firm);
            assert_eq!(wrong_rows(&mut bench), [], "{} {light:?}", family.word());
            let counters = bench.socket.counters();
            assert_eq!(counters.contention_events, 0, "{}", family.word());
            assert_eq!(counters.doubtful_samples, 0, "{}", family.word());
        }
    }
}

#[test]
fn firm_keepers_hold_no_ttl_output_but_a_4000_series_one_at_3v3() {
    for family in [Family::Standard, Family::Ls, Family::L, Family::F, Family::Als] {
        let mut bench = Bench::new(p7400(), family, &[]);
        bench.power(Voltage::V5).unwrap();
        bench.keep(Rail::Off, Rail::High);
        assert_eq!(wrong_rows(&mut bench), [], "{}", family.word());
    }
    let mut bench = Bench::new(p7400(), Family::B, &[]);
    bench.power(Voltage::V3_3).unwrap();
    bench.keep(Rail::Off, Rail::High);
    bench.drive(&[(1, true), (2, true)]);
    bench.wait_ns(1_000);
    // 2.7 kΩ against 2.2 kΩ to 3.3 V.
    close(bench.volts(3), 3.3 * 2_700.0 / 4_900.0, 0.01);
}

#[test]
fn heavy_ttl_inputs_lift_the_drivers_low_level() {
    // 4.3·R/(R + 4000/k) V behind 220 Ω + 50 Ω.
    for (family, loads, ohms) in
        [(Family::Standard, 5.0, 4_000.0), (Family::Ls, 5.0, 16_000.0), (Family::H, 5.0, 3_200.0)]
    {
        let mut bench = Bench::new(heavy(), family, &[]);
        bench.power(Voltage::V5).unwrap();
        bench.drive(&[(1, false)]);
        bench.wait_ns(1_000);
        close(bench.volts(1), 4.3 * 270.0 / (270.0 + ohms / loads), 0.005);
        // Below the typical threshold it still counts as low.
        assert!(bench.level(2), "{}", family.word());
    }
}

#[test]
fn an_open_ttl_input_is_high_and_an_open_cmos_input_is_anything() {
    let mut bench = Bench::new(p7400(), Family::Standard, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true)]);
    bench.wait_ns(1_000);
    assert!(!bench.level(3));
    close(bench.volts(2), 1.4, 0.05);

    let mut seen = [0; 2];
    for seed in 0..40 {
        let mut bench = Bench::seeded(p7400(), Family::Hc, &[], seed);
        bench.power(Voltage::V3_3).unwrap();
        bench.drive(&[(1, true)]);
        bench.wait_ns(1_000);
        seen[usize::from(bench.level(3))] += 1;
    }
    assert!(seen[0] > 5 && seen[1] > 5, "{seen:?}");
}

#[test]
fn output_levels_are_the_published_ones() {
    let mut bench = Bench::new(p7400(), Family::Standard, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true), (2, true), (4, false), (5, true)]);
    bench.wait_ns(1_000);
    // VOL typical 0.2 V at 16 mA, here without load; VOH typical 3.4 V: SN7400, TI SDLS025B.
    assert!(bench.volts(3) <= 0.2, "{} V", bench.volts(3));
    close(bench.volts(6), 3.4, 0.15);
}

#[test]
fn an_output_shows_its_new_level_after_the_delay() {
    let mut bench = Bench::new(p7400(), Family::Standard, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true), (2, true)]);
    bench.wait_ns(1_000);
    assert!(!bench.level(3));
    bench.drive(&[(1, false)]);
    bench.wait_ns(10);
    assert!(!bench.level(3), "too early");
    // 11 ns (TI SDLS025B) and five times 60 pF behind 130 Ω.
    bench.wait_ns(1 + 39);
    assert!(bench.level(3));
}

#[test]
fn a_slow_output_is_late_by_its_factor() {
    let mut bench = Bench::new(p7400(), Family::Standard, &["pin 3 slow 100"]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true), (2, true)]);
    bench.wait_ns(10_000);
    bench.drive(&[(1, false)]);
    bench.wait_ns(1_099);
    assert!(!bench.level(3));
    bench.wait_ns(60);
    assert!(bench.level(3));
}

#[test]
fn a_released_position_follows_its_keeper_only_when_charged() {
    let mut bench = Bench::new(p7400(), Family::Hc, &[]);
    bench.power(Voltage::V3_3).unwrap();
    bench.keep(Rail::High, Rail::Off);
    bench.drive(&[(1, false)]);
    bench.wait_ns(10_000);
    bench.release(&[1]);
    // 5 · 22 kΩ · 60 pF = 6.6 µs.
    bench.wait_ns(6_500);
    assert!(!bench.level(1));
    bench.wait_ns(200);
    assert!(bench.level(1));
}

#[test]
fn a_disabled_output_follows_the_firm_keeper_in_ttl() {
    for family in [Family::Standard, Family::Ls, Family::S, Family::F] {
        let mut bench = Bench::new(p74125(), family, &[]);
        bench.power(Voltage::V5).unwrap();
        bench.drive(&[(1, true), (2, false)]);
        for (rail, high) in [(Rail::High, true), (Rail::Low, false)] {
            bench.keep(Rail::Off, rail);
            bench.wait_ns(10_000);
            assert_eq!(bench.level(3), high, "{} {rail:?}", family.word());
        }
        assert_eq!(bench.socket.counters().doubtful_samples, 0);
    }
    // 40 µA through 2.2 kΩ is 0.088 V; through 22 kΩ it is 0.88 V.
    let mut bench = Bench::new(p74125(), Family::Standard, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true), (2, false)]);
    bench.keep(Rail::Off, Rail::Low);
    close(bench.volts(3), 0.088, 0.002);
    bench.keep(Rail::Low, Rail::Off);
    close(bench.volts(3), 0.88, 0.01);
}

#[test]
fn a_transceivers_input_current_needs_the_firm_keeper() {
    // SN74LS243: a disabled transceiver pin gives up to 200 µA at a low level. 4.3 V behind 16 kΩ,
    // with 20 µA leakage: through 2.2 kΩ about 0.55 V, low; through 22 kΩ above VIL.
    let mut bench = Bench::new(p74245(), Family::Ls, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true), (19, true)]);
    bench.keep(Rail::Off, Rail::Low);
    bench.wait_ns(10_000);
    let expected = (4.3 / 16_000.0 + 20e-6) / (1.0 / 16_000.0 + 1.0 / 2_200.0);
    close(bench.volts(2), expected, 0.005);
    assert!(!bench.level(2));
    bench.keep(Rail::Low, Rail::Off);
    assert!(bench.volts(2) > 0.99, "{} V", bench.volts(2));
}

#[test]
fn an_open_collector_leaks_through_a_light_keeper() {
    let mut bench = Bench::new(p7403(), Family::Standard, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, false), (2, true)]);
    bench.keep(Rail::Off, Rail::High);
    bench.wait_ns(10_000);
    // 250 µA through 2.2 kΩ leave 2.75 V.
    close(bench.volts(3), 2.75, 0.005);
    assert!(bench.level(3));
    bench.keep(Rail::High, Rail::Off);
    bench.wait_ns(10_000);
    assert!(!bench.level(3), "{} V", bench.volts(3));
}

#[test]
fn driving_an_output_is_counted_with_its_current() {
    let mut bench = Bench::new(p7400(), Family::Standard, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.drive(&[(1, true), (2, true)]);
    bench.wait_ns(100);
    assert_eq!(bench.socket.counters().contention_events, 0);
    bench.drive(&[(3, true)]);
    let counters = bench.socket.counters();
    assert_eq!(counters.contention_events, 1);
    // 3.3 V over 270 Ω against 0.05 V and 10 Ω.
    let expected = 1e6 * (3.3 - 0.05) / 280.0;
    assert!((f64::from(counters.contention_peak_ua) - expected).abs() < 20.0);
}

#[test]
fn transceivers_and_buffers_that_are_released_first_never_fight() {
    let mut bench = Bench::new(p74245(), Family::Ls, &[]);
    bench.power(Voltage::V5).unwrap();
    bench.keep(Rail::High, Rail::Off);
    for turn in 0..4 {
        let to_b = turn % 2 == 0;
        let a: Vec<u8> = (2..=9).collect();
        let b: Vec<u8> = (11..=18).rev().collect();
        let (from, to) = if to_b { (&a, &b) } else { (&b, &a) };
        bench.drive(&[(19, true)]);
        bench.wait_ns(1_000);
        bench.release(&(2..=18).filter(|pin| *pin != 10).collect::<Vec<_>>());
        bench.drive(&[(1, to_b)]);
        bench.wait_ns(1_000);
        let levels: Vec<(u8, bool)> =
            from.iter().enumerate().map(|(n, &pin)| (pin, (n + turn) % 3 == 0)).collect();
        bench.drive(&levels);
        bench.drive(&[(19, false)]);
        bench.wait_ns(1_000);
        for (n, &pin) in to.iter().enumerate() {
            assert_eq!(bench.level(pin), (n + turn) % 3 == 0, "turn {turn}, pin {pin}");
        }
    }
    assert_eq!(bench.socket.counters().contention_events, 0);
}

#[test]
fn power_up_contents_come_from_the_seed() {
    let mut high = 0;
    for seed in 0..64 {
        let state = |_| {
            let mut bench = Bench::seeded(flip_flop(), Family::Ls, &[], seed);
            bench.power(Voltage::V5).unwrap();
            bench.drive(&[(1, false), (2, false)]);
            bench.wait_ns(1_000);
            bench.level(3)
        };
        let (first, again) = (state(0), state(1));
        assert_eq!(first, again, "seed {seed} is repeatable");
        high += u32::from(first);
    }
    assert!((20..=44).contains(&high), "{high} of 64");
}

#[test]
fn a_flip_flop_takes_its_data_at_the_edge() {
    for family in [Family::Ls, Family::Hc] {
        let mut bench = Bench::new(flip_flop(), family, &[]);
        bench.power(voltage_for(family)).unwrap();
        for value in [true, false, true, true, false] {
            bench.drive(&[(1, value), (2, false)]);
            bench.wait_ns(1_000);
            bench.drive(&[(2, true)]);
            bench.wait_ns(1_000);
            assert_eq!(bench.level(3), value);
            bench.drive(&[(1, !value)]);
            bench.wait_ns(1_000);
            assert_eq!(bench.level(3), value);
        }
    }
}

#[test]
fn the_order_of_changes_changes_no_result() {
    let run = |seed| {
        let mut bench = Bench::seeded(p74245(), Family::Ls, &[], 9);
        bench.socket = {
            let chip = dipsift_simulator::Chip::new(p74245(), Family::Ls, 9).unwrap();
            let mut socket = dipsift_simulator::SimulatedSocket::new(seed);
            socket.insert(chip, &[]).unwrap();
            socket
        };
        bench.power(Voltage::V5).unwrap();
        bench.keep(Rail::High, Rail::Off);
        bench.drive(&[(19, false), (1, true)]);
        let mut seen = vec![];
        for step in 0..32_u32 {
            let levels: Vec<(u8, bool)> =
                (2..=9).map(|pin| (pin, ((step * 37) >> (pin - 2)) & 1 == 1)).collect();
            bench.drive(&levels);
            bench.wait_ns(1_000);
            seen.push((11..=18).map(|pin| bench.level(pin)).collect::<Vec<_>>());
        }
        (seen, bench.socket.counters().contention_events)
    };
    let first = run(1);
    assert_eq!(first.1, 0);
    for seed in 2..12 {
        assert_eq!(run(seed), first, "seed {seed}");
    }
}

#[test]
fn supply_current_is_the_familys() {
    // 7400: ICCH typical 4 mA, ICCL typical 12 mA: TI SDLS025B. 74LS00: 0.8 and 2.4 mA.
    for (family, from, to) in
        [(Family::Standard, 4_000, 14_000), (Family::Ls, 800, 3_400), (Family::Hc, 0, 100)]
    {
        let mut bench = Bench::new(p7400(), family, &[]);
        bench.power(voltage_for(family)).unwrap();
        bench.drive(&GATES.map(|(a, _, _)| (a, true)));
        bench.drive(&GATES.map(|(_, b, _)| (b, true)));
        use dipsift_pins::Supply;
        let current = bench.socket.current().0;
        assert!((from..=to).contains(&current), "{}: {current} µA", family.word());
    }
}

#[test]
fn a_dead_short_and_a_turned_chip_trip_the_supply() {
    for family in [Family::Standard, Family::Ls, Family::Hc, Family::B] {
        for defect in ["supply shorted", "turned round"] {
            let mut bench = Bench::new(p7400(), family, &[defect]);
            let tripped = bench.power(voltage_for(family));
            assert_eq!(tripped, Err(SupplyFault::Tripped), "{} {defect}", family.word());
            assert_eq!(bench.socket.counters().trips, 1);
            use dipsift_pins::Supply;
            assert!(!bench.socket.connected());
        }
    }
}

#[test]
fn ttl_at_3v3_does_not_work() {
    let mut wrong = 0;
    for seed in 0..10 {
        let mut bench = Bench::seeded(p7400(), Family::Standard, &[], seed);
        bench.power(Voltage::V3_3).unwrap();
        wrong += wrong_rows(&mut bench).len();
    }
    assert!(wrong > 20, "{wrong} of 160");
}

#[test]
fn a_schmitt_input_keeps_its_level_between_its_thresholds() {
    // 0.9 V and 1.7 V: SN7414, typical, from memory. Two drivers on one conductor give 1.65 V,
    // where a plain TTL input is high.
    let inverter = |schmitt: bool| {
        let mut maker = Maker::new("SCHMITT", "A B Y GND - - - VCC");
        if schmitt {
            maker = maker.schmitt("A").schmitt("B");
        }
        let a = maker.input("A");
        let y = maker.not(a);
        maker.drive("Y", Output::TotemPole, y, None);
        maker.done()
    };
    for (schmitt, before) in [(true, false), (true, true), (false, false), (false, true)] {
        let mut bench = Bench::new(inverter(schmitt), Family::Ls, &["pins 1 and 2 shorted"]);
        bench.power(Voltage::V5).unwrap();
        bench.drive(&[(1, before)]);
        bench.wait_ns(1_000);
        assert_eq!(bench.level(3), !before);
        bench.drive(&[(2, !before)]);
        bench.wait_ns(1_000);
        close(bench.volts(1), 1.65, 0.02);
        assert_eq!(bench.level(3), schmitt && !before, "Schmitt {schmitt}, before {before}");
    }
}
