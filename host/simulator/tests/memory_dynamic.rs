//! A dynamic memory at its pins: TI TMS4164, 64K x 1, 150 ns from the row strobe, 256 rows in
//! 4 ms; data sheet, from memory.

mod common;

use common::memory::{MemoryBench, SETTLE_NS};

fn unstarted(defects: &[&str], seed: u64) -> MemoryBench {
    MemoryBench::seeded("64KX1", defects, seed)
}

/// Powered, rested for 200 us, and started by eight row cycles.
fn started(defects: &[&str]) -> MemoryBench {
    let mut bench = unstarted(defects, 1);
    bench.wait(200_000);
    for row in 0..8 {
        refresh_row(&mut bench, row);
    }
    bench
}

fn refresh_row(bench: &mut MemoryBench, row: u32) {
    bench.set_address(row);
    bench.set("/RAS", false);
    bench.wait(150);
    bench.set("/RAS", true);
    bench.wait(100);
}

fn refresh(bench: &mut MemoryBench) {
    for row in 0..256 {
        refresh_row(bench, row);
    }
}

/// An early write: /W is low before /CAS falls.
fn write(bench: &mut MemoryBench, row: u32, column: u32, value: u32) {
    bench.set_address(row);
    bench.set("/RAS", false);
    bench.wait(20);
    bench.set_address(column);
    bench.set("/W", false);
    bench.set_data(value);
    bench.wait(10);
    bench.set("/CAS", false);
    bench.wait(100);
    bench.set("/CAS", true);
    bench.set("/RAS", true);
    bench.set("/W", true);
    bench.wait(100);
}

fn read(bench: &mut MemoryBench, row: u32, column: u32) -> u32 {
    bench.set_address(row);
    bench.set("/RAS", false);
    bench.wait(20);
    bench.set_address(column);
    bench.wait(10);
    bench.set("/CAS", false);
    bench.wait(150 + SETTLE_NS);
    let value = bench.data();
    bench.set("/CAS", true);
    bench.set("/RAS", true);
    bench.wait(100);
    value
}

fn pattern(row: u32, column: u32) -> u32 {
    (row.wrapping_mul(0x9E37_79B9) ^ column.wrapping_mul(0x85EB_CA6B)) >> 13 & 1
}

#[test]
fn what_was_written_is_read() {
    let mut bench = started(&[]);
    let columns = [0, 1, 85, 170, 255];
    for row in 0..256 {
        for column in columns {
            write(&mut bench, row, column, pattern(row, column));
        }
    }
    for row in (0..256).rev() {
        for column in columns {
            assert_eq!(read(&mut bench, row, column), pattern(row, column), "{row} {column}");
        }
    }
    let counters = bench.counters();
    assert_eq!((counters.contention_events, counters.memory_violations), (0, 0));
}

#[test]
fn several_columns_of_an_open_row_are_read() {
    let mut bench = started(&[]);
    for column in 0..4 {
        write(&mut bench, 9, column, column & 1);
    }
    bench.set_address(9);
    bench.set("/RAS", false);
    bench.wait(100);
    for column in (0..4).rev() {
        bench.set_address(column);
        bench.set("/CAS", false);
        bench.wait(75 + SETTLE_NS);
        assert_eq!(bench.data(), column & 1, "column {column}");
        bench.set("/CAS", true);
        bench.wait(60);
    }
    bench.set("/RAS", true);
}

/// The output of an early write stays off until /CAS rises, whatever /W does.
#[test]
fn an_early_write_leaves_the_output_off() {
    let mut bench = started(&[]);
    bench.set_address(3);
    bench.set("/RAS", false);
    bench.set("/W", false);
    bench.set_data(0);
    bench.wait(50);
    bench.set("/CAS", false);
    bench.wait(50);
    bench.set("/W", true);
    bench.wait(10_000 - 200);
    assert_eq!(bench.data(), 1, "the keeper's level");
    bench.set("/CAS", true);
    bench.set("/RAS", true);
    assert_eq!(bench.counters().memory_violations, 0);
}

#[test]
fn data_are_valid_after_the_time_from_the_row_strobe() {
    let mut bench = started(&[]);
    write(&mut bench, 7, 8, 1);
    // Reads 20 ns before the time; what comes before is not to be trusted, so it is tried often.
    let mut early = vec![];
    for _ in 0..40 {
        bench.set_address(7);
        bench.set("/RAS", false);
        bench.wait(20);
        bench.set_address(8);
        bench.set("/CAS", false);
        bench.wait(110);
        early.push(bench.data());
        bench.wait(20 + SETTLE_NS);
        assert_eq!(bench.data(), 1);
        bench.set("/CAS", true);
        bench.set("/RAS", true);
        bench.wait(100);
    }
    assert!(early.contains(&0));
}

/// Data stay for as long as rows are refreshed, and for long after the specified interval; after
/// seconds without refresh they are gone.
#[test]
fn rows_that_are_not_refreshed_lose_their_data() {
    let columns: Vec<u32> = (0..256).step_by(8).collect();
    let fill = |bench: &mut MemoryBench| {
        for row in [1, 2, 200, 201] {
            for &column in &columns {
                write(bench, row, column, pattern(row, column));
            }
        }
    };
    let lost = |bench: &mut MemoryBench, row: u32| -> usize {
        let wrong = |column: &&u32| read(bench, row, **column) != pattern(row, **column);
        columns.iter().filter(wrong).count()
    };
    let mut bench = started(&[]);
    fill(&mut bench);
    for _ in 0..200 {
        bench.wait_ms(4);
        refresh(&mut bench);
    }
    assert!([1, 2, 200, 201].map(|row| lost(&mut bench, row)) == [0; 4]);
    bench.wait_ms(40);
    assert!([1, 2, 200, 201].map(|row| lost(&mut bench, row)) == [0; 4], "ten intervals");
    // A march that touches only some rows keeps those.
    for _ in 0..100 {
        bench.wait_ms(20);
        refresh_row(&mut bench, 1);
        refresh_row(&mut bench, 200);
    }
    assert_eq!([1, 200].map(|row| lost(&mut bench, row)), [0, 0]);
    for row in [2, 201] {
        let lost = lost(&mut bench, row);
        assert!((8..=24).contains(&lost), "{lost} of 32: those that held charge");
    }
}

#[test]
fn a_leaky_cell_loses_its_charge_and_its_neighbours_do_not() {
    // Row 2, column 3, and row 200, column 3, whose empty cells read as the other level.
    for (row, charged) in [(2, 1), (200, 0)] {
        let address = 3 * 256 + row;
        let mut bench = started(&[&format!("cell {address} bit 0 leaks in 3 ms")]);
        write(&mut bench, row, 3, charged);
        write(&mut bench, row, 4, charged);
        for _ in 0..10 {
            bench.wait_ms(2);
            refresh_row(&mut bench, row);
        }
        assert_eq!(read(&mut bench, row, 3), charged, "kept by a refresh each 2 ms");
        bench.wait_ms(4);
        refresh_row(&mut bench, row);
        assert_eq!(read(&mut bench, row, 3), 1 - charged);
        assert_eq!(read(&mut bench, row, 4), charged);
        write(&mut bench, row, 3, 1 - charged);
        bench.wait_ms(30);
        assert_eq!(read(&mut bench, row, 3), 1 - charged, "an empty cell has nothing to lose");
    }
}

/// TMS4164: the row strobe is low for 10 us at most.
#[test]
fn a_row_strobe_that_lasts_too_long_is_counted_once() {
    let mut bench = started(&[]);
    for (ns, count) in [(9_900, 0), (10_100, 1), (50_000, 2), (500, 2)] {
        bench.set("/RAS", false);
        bench.wait(ns);
        bench.set("/RAS", true);
        bench.wait(200);
        assert_eq!(bench.counters().memory_violations, count, "{ns} ns");
    }
    bench.set("/RAS", false);
    bench.wait(20_000);
    assert_eq!(bench.counters().memory_violations, 3, "while it still lasts");
    bench.socket.remove();
    assert_eq!(bench.counters().memory_violations, 3);
}

/// A pause and eight row cycles come before the first use.
#[test]
fn a_chip_that_was_not_started_does_not_work() {
    let works = |pause: u32, cycles: u32| {
        (0..10).all(|seed| {
            let mut bench = unstarted(&[], seed);
            bench.wait(pause);
            for row in 0..cycles {
                refresh_row(&mut bench, row);
            }
            (0..8).all(|column| {
                write(&mut bench, 5, column, pattern(5, column));
                read(&mut bench, 5, column) == pattern(5, column)
            })
        })
    };
    assert!(works(200_000, 8));
    assert!(!works(200_000, 0));
    assert!(!works(100, 8));
}

#[test]
fn address_faults_act_on_rows_and_on_columns() {
    let mut bench = started(&["address line 7 stuck at 0"]);
    write(&mut bench, 1, 1, 1);
    assert_eq!(read(&mut bench, 129, 129), 1);
    write(&mut bench, 129, 1, 0);
    assert_eq!(read(&mut bench, 1, 129), 0);
    let mut bench = started(&["cell 0x0102 bit 0 stuck at 1"]);
    write(&mut bench, 2, 1, 0);
    write(&mut bench, 1, 2, 0);
    assert_eq!((read(&mut bench, 2, 1), read(&mut bench, 1, 2)), (1, 0), "row 2, column 1");
}

/// TMS4164-15: the row strobe is low for 150 ns at least and high for 100 ns.
#[test]
fn a_row_strobe_that_is_too_short_is_counted() {
    for (low, high, count) in [(150, 100, 0), (140, 100, 2), (150, 90, 1)] {
        let mut bench = MemoryBench::new("64KX1T", &[]);
        bench.wait(200_000);
        for _ in 0..2 {
            bench.set("/RAS", false);
            bench.wait(low);
            bench.set("/RAS", true);
            bench.wait(high);
        }
        assert_eq!(bench.counters().memory_violations, count, "{low} ns low, {high} ns high");
    }
}
