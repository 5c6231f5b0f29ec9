//! A static memory at its pins.

mod common;

use common::memory::{MemoryBench, SETTLE_NS, part};
use dipsift_pins::{Keepers, Rail, Socket, Supply};
use dipsift_simulator::{Chip, Defect};

#[test]
fn what_was_written_is_read() {
    for number in ["16X4", "16X1", "1KX4"] {
        let mut bench = MemoryBench::new(number, &[]);
        let mask = if number == "16X1" { 1 } else { 15 };
        let word = |address: u32| (address * 7 + address / 16 * 5 + 3) & mask;
        for address in 0..bench.words() {
            bench.write(address, word(address));
        }
        for address in (0..bench.words()).rev() {
            assert_eq!(bench.read(address), word(address), "{number} at {address}");
        }
        let counters = bench.counters();
        assert_eq!(counters.contention_events, 0);
        assert_eq!(counters.doubtful_samples, 0);
        assert_eq!(counters.memory_violations, 0);
        assert_eq!(counters.trips, 0);
    }
}

/// An 8 x 32K memory keeps what is written while it is not selected, and reads without a write.
#[test]
fn output_enable_alone_shows_the_data() {
    let mut bench = MemoryBench::new("32KX8", &[]);
    for address in [0, 1, 0x2AAA, 0x5555, 0x7FFF] {
        bench.write(address, (address * 3) & 0xFF);
    }
    for address in [0x7FFF, 0, 0x5555, 1, 0x2AAA] {
        bench.set_address(address);
        bench.set("/CS", false);
        bench.wait(10_000);
        assert_eq!(bench.data(), 0xFF, "the keepers hold what nothing drives");
        bench.set("/OE", false);
        bench.wait(100 + SETTLE_NS);
        assert_eq!(bench.data(), (address * 3) & 0xFF);
        bench.set("/OE", true);
        bench.set("/CS", true);
        bench.wait(100);
    }
    assert_eq!(bench.counters().contention_events, 0);
}

/// Waits so long after a change, in steps, until the data at it are right and stay so.
fn valid_after(bench: &mut MemoryBench, expected: u32, until: u32) -> u32 {
    let mut valid = 0;
    for ns in (0..until).step_by(5) {
        if bench.data() != expected {
            valid = ns + 5;
        }
        bench.wait(5);
    }
    valid
}

/// 2114-2: 200 ns from the address, and from the selection as well.
#[test]
fn data_are_valid_after_the_access_time_and_not_before() {
    let chip = |ns| Chip::new(part("1KX4"), part("1KX4").made[0], 1).unwrap().with_access_ns(ns);
    for ns in [200, 300, 450] {
        let mut bench = MemoryBench::with(chip(ns), &[], 1);
        bench.access_ns = ns;
        bench.write(5, 0b0101);
        bench.write(6, 0b1010);
        bench.set_address(5);
        bench.set("/CS", false);
        let valid = valid_after(&mut bench, 0b0101, 1_000);
        assert!((ns..ns + SETTLE_NS).contains(&valid), "selection: {valid} of {ns}");
        bench.set_address(6);
        let old = (0..ns / 10).all(|_| {
            bench.wait(5);
            bench.data() == 0b0101
        });
        assert!(old, "old data stay for at least half of the time");
        let valid = ns / 2 + valid_after(&mut bench, 0b1010, 1_000);
        assert!((ns..ns + SETTLE_NS).contains(&valid), "address: {valid} of {ns}");
    }
}

#[test]
fn a_chip_is_as_fast_as_its_fastest_grade_unless_a_phrase_says_otherwise() {
    for (defects, ns) in [(&[][..], 200), (&["access 450 ns"][..], 450)] {
        let mut bench = MemoryBench::new("1KX4", defects);
        bench.access_ns = 450;
        bench.write(9, 0b0110);
        bench.set_address(9);
        bench.set("/CS", false);
        let valid = valid_after(&mut bench, 0b0110, 1_000);
        assert!((ns..ns + SETTLE_NS).contains(&valid), "{valid} of {ns}");
    }
}

#[test]
fn contents_at_power_up_are_the_seeds() {
    let contents = |seed| -> Vec<u32> {
        let mut bench = MemoryBench::seeded("1KX4", &[], seed);
        (0..64).map(|address| bench.read(address)).collect()
    };
    assert_eq!(contents(3), contents(3));
    assert_ne!(contents(3), contents(4));
    let ones: u32 = contents(5).iter().map(|word| word.count_ones()).sum();
    assert!((80..176).contains(&ones), "{ones} of 256 are ones");
    let mut bench = MemoryBench::new("16X4", &[]);
    for address in 0..16 {
        bench.write(address, 0);
    }
    bench.socket.disconnect();
    bench.wait_ms(1);
    bench.power().unwrap();
    let left: u32 = (0..16).map(|address| bench.read(address)).sum();
    assert_ne!(left, 0, "what was written is gone");
}

/// 2114-2: the write pulse lasts at least about half the access time.
#[test]
fn a_write_pulse_that_is_too_short_is_counted_and_writes_by_chance() {
    let mut taken = 0;
    let mut bench = MemoryBench::new("1KX4", &[]);
    for address in 0..200 {
        bench.write(address, 0);
        bench.set("/CS", false);
        bench.set("/WE", false);
        bench.set_data(0b1111);
        bench.wait(60);
        bench.set("/WE", true);
        bench.set("/CS", true);
        bench.release_data();
        taken += bench.read(address).count_ones();
    }
    assert_eq!(bench.counters().memory_violations, 200);
    assert!((300..500).contains(&taken), "{taken} of 800 bits were written");
}

#[test]
fn an_address_that_moves_during_a_write_is_counted_and_writes_both() {
    let mut bench = MemoryBench::new("16X4", &[]);
    bench.write(4, 0);
    bench.write(5, 0);
    bench.set_address(4);
    bench.set("/WE", false);
    bench.set("/CS", false);
    bench.set_data(0b1001);
    bench.wait(300);
    bench.set_address(5);
    bench.wait(300);
    bench.set("/WE", true);
    bench.set("/CS", true);
    bench.release_data();
    assert_eq!(bench.counters().memory_violations, 1);
    assert_eq!((bench.read(4), bench.read(5)), (0b1001, 0b1001));
}

#[test]
fn driving_against_an_output_is_counted() {
    let mut bench = MemoryBench::new("16X4", &[]);
    bench.write(3, 0b0000);
    bench.set_address(3);
    bench.set("/CS", false);
    bench.wait(400);
    bench.set_data(0b1111);
    assert_eq!(bench.counters().contention_events, 4);
    // 3.3 V behind 270 ohm against a low output of 120 ohm, and a little from the keeper.
    let peak = f64::from(bench.counters().contention_peak_ua);
    assert!((peak - 3.3e6 / 390.0).abs() < 50.0, "{peak}");
}

/// HM62256 and 2114: a chip that is not selected has its outputs off.
#[test]
fn outputs_are_off_while_not_selected() {
    let mut bench = MemoryBench::new("16X4", &[]);
    bench.write(3, 0b0110);
    for (rail, level) in [(Rail::High, 15), (Rail::Low, 0)] {
        bench.set_address(3);
        bench.set("/CS", true);
        bench.socket.keep(Keepers { light: rail, firm: Rail::Off });
        bench.wait(20_000);
        assert_eq!(bench.data(), level);
        bench.set("/CS", false);
        bench.wait(400);
        assert_eq!(bench.data(), 0b0110);
    }
}

#[test]
fn a_read_only_memory_shows_its_contents_or_is_blank() {
    let family = part("32X8").made[0];
    let chip = || Chip::new(part("32X8"), family, 1).unwrap();
    let contents: Vec<u8> = (0..30).map(|byte| byte * 8).collect();
    let mut bench = MemoryBench::with(chip().programmed(&contents), &[], 1);
    for address in 0..32 {
        let expected = contents.get(address).map_or(0xFF, |&byte| byte.into());
        assert_eq!(bench.read(address as u32), expected);
    }
    let mut blank = MemoryBench::with(chip(), &[], 1);
    assert!((0..32).all(|address| blank.read(address) == 0xFF));
}

#[test]
fn pins_misbehave_in_a_memory_as_in_any_chip() {
    // Pin 11 is D3 of 16X4, pin 1 its A0.
    let mut bench = MemoryBench::new("16X4", &["pin 11 stuck low"]);
    bench.write(1, 0b1111);
    assert_eq!(bench.read(1), 0b1011);
    let mut bench = MemoryBench::new("16X4", &["pin 1 stuck low"]);
    bench.write(0, 0b0001);
    bench.write(1, 0b1000);
    assert_eq!(bench.read(0), 0b1000);
    let mut bench = MemoryBench::new("16X4", &["pins 9 and 10 shorted"]);
    bench.write(0, 0b0000);
    bench.write(1, 0b1111);
    assert_eq!((bench.read(0), bench.read(1)), (0b0000, 0b1111));
    assert!(bench.socket.current().0 > 0);
}

#[test]
fn a_fault_that_the_memory_has_no_place_for_is_refused() {
    let message = |number: &str, phrase: &str| {
        let chip = Chip::new(part(number), part(number).made[0], 1).unwrap();
        let defect: Defect = phrase.parse().unwrap();
        let mut socket = dipsift_simulator::SimulatedSocket::new(1);
        socket.insert(chip, &[defect]).unwrap_err().to_string()
    };
    assert_eq!(
        message("16X4", "cell 16 bit 0 stuck at 1"),
        "\"cell 16 bit 0 stuck at 1\": 16X4 has no address 16: there are 16"
    );
    assert_eq!(
        message("16X4", "cell 0x5 bit 4 stuck at 1"),
        "\"cell 5 bit 4 stuck at 1\": 16X4 has no bit 4: there are 4"
    );
    assert_eq!(
        message("16X4", "cell 5 bit 1 leaks in 4 ms"),
        "\"cell 5 bit 1 leaks in 4 ms\": 16X4 has no dynamic cells"
    );
    let chip = common::p7400();
    let mut socket = dipsift_simulator::SimulatedSocket::new(1);
    let chip = Chip::new(chip, dipsift_language::Family::Ls, 1).unwrap();
    let defect = "address line 1 stuck at 0".parse().unwrap();
    assert_eq!(
        socket.insert(chip, &[defect]).unwrap_err().to_string(),
        "\"address line 1 stuck at 0\": 7400 has no memory"
    );
}

/// HM62256-10: 50 ns from the output enable, 100 ns from the address and the selection.
#[test]
fn an_output_enable_is_faster_than_an_address() {
    let mut bench = MemoryBench::new("32KX8", &[]);
    bench.write(5, 0x00);
    bench.set_address(5);
    bench.set("/CS", false);
    bench.wait(20_000);
    bench.set("/OE", false);
    let valid = valid_after(&mut bench, 0x00, 500);
    assert!((50..100).contains(&valid), "{valid}");
    bench.set("/OE", true);
    bench.set("/CS", true);
    bench.wait(20_000);
    bench.set("/OE", false);
    bench.set("/CS", false);
    let valid = valid_after(&mut bench, 0x00, 500);
    assert!((100..150).contains(&valid), "{valid}");
}

/// HM62256-10: data stand for 40 ns before the end of a write.
#[test]
fn data_that_come_too_late_in_a_write_are_counted() {
    for (before, count) in [(50, 0), (20, 1)] {
        let mut bench = MemoryBench::new("32KX8", &[]);
        bench.write(5, 0x00);
        bench.set_data(0x00);
        bench.set("/WE", false);
        bench.set("/CS", false);
        bench.wait(100);
        bench.set_data(0xFF);
        bench.wait(before);
        bench.set("/WE", true);
        bench.set("/CS", true);
        bench.release_data();
        assert_eq!(bench.counters().memory_violations, count);
    }
}
