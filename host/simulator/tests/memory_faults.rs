//! Every fault model of a memory, seen at the pins, as the literature defines it.
//!
//! Definitions: A. J. van de Goor, "Testing Semiconductor Memories: Theory and Practice", Wiley,
//! 1991 (SAF, TF, SOF, the four kinds of AF, CFin, CFid, CFst, DRF); S. Hamdioui, A. J. van de
//! Goor and M. Rodgers, "March SS: a test for all static simple RAM faults", MTDT 2002 (fault
//! primitives); both from memory.

mod common;

use common::memory::{MemoryBench, SETTLE_NS};

fn bench(phrase: &str) -> MemoryBench {
    MemoryBench::new("16X4", &[phrase])
}

fn good() -> MemoryBench {
    MemoryBench::new("16X4", &[])
}

fn bit(bench: &mut MemoryBench, address: u32, bit: u32) -> u32 {
    bench.read(address) >> bit & 1
}

/// Brings a cell to a value without a transition fault's or a coupling's help: by writing it
/// twice.
fn force(bench: &mut MemoryBench, address: u32, word: u32) {
    bench.write(address, word ^ 15);
    bench.write(address, word);
}

/// Words that a sequence of operations reads: `w` writes, `r` reads, at an address.
fn run(bench: &mut MemoryBench, operations: &[(char, u32, u32)]) -> Vec<u32> {
    let mut read = vec![];
    for &(operation, address, word) in operations {
        match operation {
            'w' => bench.write(address, word),
            _ => read.push(bench.read(address)),
        }
    }
    read
}

/// SAF: the cell always contains this value.
#[test]
fn a_stuck_cell_holds_its_value() {
    for value in [0, 1] {
        let mut bench = bench(&format!("cell 5 bit 2 stuck at {value}"));
        for word in [0, 15, 0] {
            bench.write(5, word);
            assert_eq!(bench.read(5), word & !4 | value << 2);
            bench.write(6, word);
            assert_eq!(bench.read(6), word, "another cell is good");
        }
    }
}

/// TF: the cell fails one transition and can make the other.
#[test]
fn a_transition_fails() {
    for (edge, from) in [("rise", 0), ("fall", 15)] {
        let phrase = format!("cell 5 bit 2 cannot {edge}");
        // It powers up with either value; once at the end of the good transition it stays there.
        let mut bench = bench(&phrase);
        force(&mut bench, 5, from);
        assert_eq!(bench.read(5), from);
        bench.write(5, from ^ 15);
        assert_eq!(bench.read(5), from ^ 15 ^ 4);
    }
    // The other value may be there from power-up on, and then it is held.
    let held = (0..20).any(|seed| {
        let mut bench = MemoryBench::seeded("16X4", &["cell 5 bit 2 cannot rise"], seed);
        bench.write(5, 15);
        bench.read(5) == 15
    });
    assert!(held);
}

/// SOF: the cell cannot be accessed; the sense amplifier, without feedback, gives the previously
/// read value.
#[test]
fn a_stuck_open_cell_repeats_the_last_read() {
    let mut bench = bench("cell 5 bit 2 stuck open");
    for before in [0, 15] {
        for written in [0, 15] {
            bench.write(4, before);
            bench.write(5, written);
            assert_eq!(bench.read(4), before);
            assert_eq!(bench.read(5), written & !4 | before & 4);
        }
    }
}

/// AF, kind A: with an address no cell is accessed, and the cell is never accessed.
#[test]
fn an_address_without_a_cell() {
    for (tail, blank) in [("", 15), (" wired or", 0)] {
        let mut bench = bench(&format!("address 5 reaches no cell{tail}"));
        bench.write(4, 6);
        bench.write(5, 9);
        assert_eq!((bench.read(4), bench.read(5)), (6, blank));
    }
}

/// AF, kind B: address 5 accesses no cell, address 6 accesses both.
#[test]
fn an_address_that_takes_over_a_cell() {
    let mut bench = bench("address 6 takes over cell 5");
    bench.write(6, 6);
    assert_eq!(bench.read(6), 6, "both cells hold it");
    bench.write(5, 9);
    assert_eq!((bench.read(5), bench.read(6)), (15, 6));
}

/// AF, kind C: cell 5 is never accessed, cell 6 has two addresses.
#[test]
fn an_address_that_reaches_another_cell() {
    let mut bench = bench("address 5 reaches cell 6 instead");
    bench.write(5, 9);
    assert_eq!(bench.read(6), 9);
    bench.write(6, 3);
    assert_eq!(bench.read(5), 3);
}

/// AF, kind D: address 5 accesses two cells, cell 6 has two addresses.
#[test]
fn an_address_that_reaches_two_cells() {
    for (tail, both) in [("", 0b1000), (" wired or", 0b1011)] {
        let mut bench = bench(&format!("address 5 reaches cell 6 too{tail}"));
        bench.write(5, 0b1001);
        assert_eq!((bench.read(5), bench.read(6)), (0b1001, 0b1001));
        bench.write(6, 0b1010);
        assert_eq!((bench.read(5), bench.read(6)), (both, 0b1010));
    }
}

/// CFin: a transition of one kind inverts the victim, the other kind and non-transitions do not.
#[test]
fn an_inversion_coupling() {
    for (edge, from) in [("rising", 0), ("falling", 4)] {
        let mut bench = bench(&format!("cell 5 bit 2 {edge} inverts cell 7 bit 1"));
        for victim in [0, 2] {
            bench.write(5, from);
            bench.write(7, victim);
            let mut expected = victim;
            for (written, inverts) in [(from, false), (from ^ 4, true), (from ^ 4, false)] {
                bench.write(5, written);
                expected ^= if inverts { 2 } else { 0 };
                assert_eq!(bench.read(7), expected, "{edge}: {written}");
            }
            bench.write(5, from);
            assert_eq!(bench.read(7), expected, "the other transition");
        }
    }
}

/// CFid: a transition of one kind sets the victim to a value, whatever it holds.
#[test]
fn an_idempotent_coupling() {
    for (edge, from) in [("rising", 0), ("falling", 4)] {
        for value in [0, 2] {
            let set = value / 2;
            let mut bench = bench(&format!("cell 5 bit 2 {edge} sets cell 7 bit 1 to {set}"));
            for victim in [0, 2] {
                bench.write(5, from);
                bench.write(7, victim);
                bench.write(5, from);
                assert_eq!(bench.read(7), victim);
                bench.write(5, from ^ 4);
                assert_eq!(bench.read(7), value);
                bench.write(7, victim);
                bench.write(5, from);
                assert_eq!(bench.read(7), victim, "the other transition");
            }
        }
    }
}

/// CFst: the victim is forced to a value while the aggressor is in a state.
#[test]
fn a_state_coupling() {
    for at in [0, 1] {
        for value in [0, 1] {
            let phrase = format!("cell 5 bit 2 at {at} forces cell 7 bit 1 to {value}");
            let mut bench = bench(&phrase);
            for victim in [0, 2] {
                bench.write(7, victim);
                bench.write(5, at << 2);
                assert_eq!(bench.read(7), value << 1);
                bench.write(5, (at ^ 1) << 2);
                assert_eq!(bench.read(7), victim);
            }
        }
    }
}

/// A cell's operations and what they read, by a fault primitive: in a cell that holds the state
/// before, the operation, then two reads.
fn after(phrase: &str, before: u32, operation: (char, u32)) -> Vec<u32> {
    let mut bench = bench(phrase);
    force(&mut bench, 5, before);
    let (kind, word) = operation;
    run(&mut bench, &[(kind, 5, word), ('r', 5, 0), ('r', 5, 0)])
}

/// The single-cell primitives: what the operation returns, and what later reads find.
#[test]
fn single_cell_primitives() {
    for (x, all) in [(0, 15), (15, 0)] {
        let (s, n) = (x & 1, all & 1);
        let (bad_x, bad_all) = (x ^ 4, all ^ 4);
        // TF, WDF: the write leaves the wrong value.
        assert_eq!(after(&format!("cell 5 bit 2 <{s}w{n}/{s}/->"), x, ('w', all)), [bad_all; 2]);
        assert_eq!(after(&format!("cell 5 bit 2 <{s}w{s}/{n}/->"), x, ('w', x)), [bad_x; 2]);
        // RDF: the read returns the wrong value and leaves it, where it stays.
        assert_eq!(after(&format!("cell 5 bit 2 <r{s}/{n}/{n}>"), x, ('r', 0)), [bad_x; 3]);
        // DRDF: the read returns the right value and leaves the wrong one.
        assert_eq!(after(&format!("cell 5 bit 2 <r{s}/{n}/{s}>"), x, ('r', 0)), [x, bad_x, bad_x]);
        // IRF: the reads return the wrong value of a cell that is right.
        assert_eq!(after(&format!("cell 5 bit 2 <r{s}/{s}/{n}>"), x, ('r', 0)), [bad_x; 3]);
        // SF: the cell cannot hold the value.
        assert_eq!(after(&format!("cell 5 bit 2 <{s}/{n}/->"), x, ('r', 0)), [bad_x; 3]);
        assert_eq!(after(&format!("cell 5 bit 2 <{s}/{n}/->"), all, ('r', 0)), [all; 3]);
    }
    // What does not sensitise does nothing.
    assert_eq!(after("cell 5 bit 2 <0w1/0/->", 15, ('w', 0)), [0, 0]);
    assert_eq!(after("cell 5 bit 2 <0w0/1/->", 15, ('w', 0)), [0, 0]);
    assert_eq!(after("cell 5 bit 2 <r0/1/1>", 15, ('r', 0)), [15; 3]);
    assert_eq!(after("cell 5 bit 2 <1/0/->", 0, ('r', 0)), [0; 3]);
}

/// CFds: a read, a transition write or a non-transition write of the aggressor flips the victim.
#[test]
fn disturb_primitives() {
    for (text, before, operation) in [
        ("r0", 0, ('r', 0)),
        ("r1", 15, ('r', 0)),
        ("0w1", 0, ('w', 15)),
        ("1w0", 15, ('w', 0)),
        ("0w0", 0, ('w', 0)),
        ("1w1", 15, ('w', 15)),
    ] {
        for (v, victim) in [(0, 0), (1, 15)] {
            let n = 1 - v;
            let phrase = format!("cell 5 bit 2 to cell 7 bit 2 <{text};{v}/{n}/->");
            let mut bench = bench(&phrase);
            let set_up = |bench: &mut MemoryBench, victim: u32| {
                force(bench, 5, before);
                bench.write(7, victim);
            };
            set_up(&mut bench, victim);
            assert_eq!(bench.read(7), victim, "{phrase}: not yet");
            let (kind, word) = operation;
            run(&mut bench, &[(kind, 5, word)]);
            assert_eq!(bench.read(7), victim ^ 4, "{phrase}");
            set_up(&mut bench, victim ^ 15);
            run(&mut bench, &[(kind, 5, word)]);
            assert_eq!(bench.read(7), victim ^ 15, "{phrase}: the victim's other state");
        }
    }
}

/// CFtr, CFwd, CFrd, CFdrd, CFir and CFst: the victim's own fault, while the aggressor is in a
/// state.
#[test]
fn primitives_of_a_victim_in_a_state_of_its_aggressor() {
    for a in [0, 1] {
        for (x, all) in [(0, 15), (15, 0)] {
            let (s, n) = (x & 1, all & 1);
            let bad = x ^ 4;
            let cases: [(String, (char, u32), Vec<u32>); 6] = [
                (format!("<{a};{s}w{n}/{s}/->"), ('w', all), vec![all ^ 4, all ^ 4]),
                (format!("<{a};{s}w{s}/{n}/->"), ('w', x), vec![bad, bad]),
                (format!("<{a};r{s}/{n}/{n}>"), ('r', 0), vec![bad, bad, bad]),
                (format!("<{a};r{s}/{n}/{s}>"), ('r', 0), vec![x, bad, bad]),
                (format!("<{a};r{s}/{s}/{n}>"), ('r', 0), vec![bad, bad, bad]),
                (format!("<{a};{s}/{n}/->"), ('r', 0), vec![bad, bad, bad]),
            ];
            for (primitive, (kind, word), expected) in cases {
                let phrase = format!("cell 5 bit 2 to cell 7 bit 2 {primitive}");
                for asleep in [false, true] {
                    let mut bench = bench(&phrase);
                    let state = if asleep { 15 - 15 * a } else { 15 * a };
                    // Set up while the fault sleeps, then put the aggressor into its state.
                    bench.write(5, 15 - 15 * a);
                    force(&mut bench, 7, x);
                    bench.write(5, state);
                    let operations = [(kind, 7, word), ('r', 7, 0), ('r', 7, 0)];
                    let read = run(&mut bench, &operations);
                    let good = run(&mut good(), &[&[('w', 7, x)][..], &operations].concat());
                    assert_eq!(read, if asleep { good } else { expected.clone() }, "{phrase}");
                }
            }
        }
    }
}

/// DRF: the cell loses a value some time after it was written; the other it keeps.
#[test]
fn a_cell_that_loses_a_value() {
    for (value, held) in [(1, 15), (0, 0)] {
        let mut bench = bench(&format!("cell 5 bit 2 loses {value} after 50 ms"));
        bench.write(5, held);
        bench.wait_ms(49);
        assert_eq!(bench.read(5), held);
        bench.wait_ms(2);
        assert_eq!(bench.read(5), held ^ 4, "a read does not restore it");
        bench.write(5, held ^ 15);
        bench.wait_ms(1_000);
        assert_eq!(bench.read(5), held ^ 15);
        bench.write(5, held);
        assert_eq!(bench.read(5), held);
    }
}

#[test]
fn a_slow_cell_is_right_after_more_access_times_only() {
    let mut bench = bench("cell 5 bit 2 slow 3");
    bench.write(4, 0);
    bench.write(5, 15);
    bench.read(4);
    bench.set_address(4);
    bench.set("/CS", false);
    bench.wait(400);
    bench.set_address(5);
    bench.wait(200 + SETTLE_NS);
    assert_eq!(bench.data(), 0b1011, "the old level stays");
    bench.wait(400);
    assert_eq!(bench.data(), 0b1111, "600 ns");
}

/// A 16-word array has four rows and four columns: address 5 is row 1, column 1.
#[test]
fn sense_and_row_lines() {
    for value in [0, 1] {
        let mut of_column = bench(&format!("column 1 bit 2 reads {value}"));
        let mut of_row = bench(&format!("row 1 reads {value}"));
        for address in 0..16 {
            for word in [0, 15] {
                of_column.write(address, word);
                of_row.write(address, word);
                let in_column = address / 4 == 1;
                let expected = if in_column { word & !4 | value << 2 } else { word };
                assert_eq!(of_column.read(address), expected);
                let expected = if address % 4 == 1 { 15 * value } else { word };
                assert_eq!(of_row.read(address), expected);
            }
        }
    }
}

#[test]
fn coupled_columns_share_a_sense_line() {
    for (tail, both) in [("", 0), (" wired or", 1)] {
        let mut bench = bench(&format!("columns 1 and 2 bit 2 coupled{tail}"));
        // Row 3: addresses 7 and 11.
        bench.write(7, 15);
        assert_eq!(bit(&mut bench, 11, 2), 1, "what is written to one is written to both");
        bench.write(11, 0);
        assert_eq!((bench.read(7), bench.read(11)), (0b1011, 0));
        bench.write(3, 15);
        assert_eq!(bench.read(3), 15, "another column");
        // A dead cell at one end of the line.
        let stuck = "cell 7 bit 2 stuck at 0";
        let coupled = format!("columns 1 and 2 bit 2 coupled{tail}");
        let mut bench = MemoryBench::new("16X4", &[stuck, &coupled]);
        bench.write(11, 15);
        assert_eq!((bit(&mut bench, 7, 2), bit(&mut bench, 11, 2)), (both, both));
    }
}

#[test]
fn address_lines() {
    for value in [0, 1] {
        let mut bench = bench(&format!("address line 1 stuck at {value}"));
        for address in 0..16 {
            bench.write(address, address);
        }
        for address in 0..16 {
            // Of two addresses that differ in the line only, the later write is read at both.
            assert_eq!(bench.read(address), address | 2);
        }
    }
    for (tail, high) in [("", [3, 3]), (" wired or", [1, 3])] {
        let mut bench = bench(&format!("address lines 0 and 1 shorted{tail}"));
        for address in 0..4 {
            bench.write(address, address + 8);
        }
        // Wired and: 1 and 2 are 0, of which 2 was written last. Wired or: they are 3.
        let expected = if high[0] == 3 { [10, 10, 10, 11] } else { [8, 11, 11, 11] };
        for address in 0..4 {
            assert_eq!(bench.read(address), expected[address as usize], "{tail} {address}");
        }
    }
}

#[test]
fn data_lines() {
    for value in [0, 1] {
        let mut bench = bench(&format!("data line 3 stuck at {value}"));
        for word in 0..16 {
            bench.write(word, word);
            assert_eq!(bench.read(word), word & 7 | value << 3);
        }
    }
    for (tail, or) in [("", false), (" wired or", true)] {
        let mut bench = bench(&format!("data lines 0 and 2 shorted{tail}"));
        for word in 0..16 {
            bench.write(word, word);
            let high = if or { word & 5 != 0 } else { word & 5 == 5 };
            assert_eq!(bench.read(word), word & 10 | if high { 5 } else { 0 });
        }
    }
}

#[test]
fn half_of_the_array_is_dead() {
    for value in [0, 1] {
        let mut bench = bench(&format!("half with address bit 3 at {value} dead"));
        for address in 0..16 {
            bench.write(address, 6);
        }
        for address in 0..16 {
            let dead = address >> 3 == value;
            assert_eq!(bench.read(address), if dead { 15 } else { 6 });
        }
    }
}

/// The operations of all tests above, on a chip without a fault.
#[test]
fn a_good_chip_shows_none_of_this() {
    let mut bench = good();
    let mut held = [0; 16];
    for step in 0..2_000_u32 {
        let dice = step.wrapping_mul(0x9E37_79B9) >> 8;
        let address = dice % 16;
        if dice >> 10 & 1 == 0 || step < 100 {
            held[address as usize] = dice >> 4 & 15;
            bench.write(address, dice >> 4 & 15);
        } else {
            assert_eq!(bench.read(address), held[address as usize]);
        }
        if step % 500 == 99 {
            for (address, held) in (0..).zip(&mut held) {
                *held = bench.read(address);
            }
            bench.wait_ms(1_000);
        }
    }
}
