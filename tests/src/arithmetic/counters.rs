//! Counters that only count and clear.

use crate::Check;
use crate::bench::{Bench, Level};

/// Copies an output to an input, as a wire on the board would.
fn wire(chip: &mut Bench, from: u8, to: u8) -> Check {
    match chip.level(from)? {
        Level::Low => chip.set(to, false),
        Level::High => chip.set(to, true),
        other => Err(format!("pin {from}: {other}, cannot be wired to pin {to}")),
    }
}

/// Counts by falling edges at `clock`, with `from` wired to `to`, through `sequence` twice.
fn wired(
    chip: &mut Bench,
    clock: u8,
    (from, to): (u8, u8),
    outputs: &[u8],
    sequence: &[u64],
) -> Check {
    wire(chip, from, to)?;
    for (count, expected) in (0..).zip(sequence.iter().chain(sequence).chain(&sequence[..1])) {
        chip.expect_bus(outputs, *expected, &format_args!("count {count}"))?;
        chip.set(clock, true)?;
        chip.expect_bus(outputs, *expected, &format_args!("count {count}, clock high"))?;
        chip.set(clock, false)?;
        wire(chip, from, to)?;
    }
    Ok(())
}

/// 7490: TI SDLS940, BCD count and bi-quinary count, from memory.
pub fn decade(chip: &Bench) -> Check {
    const OUTPUTS: [u8; 4] = [12, 9, 8, 11];
    let mut chip = chip.clone();
    chip.set_bus(&[14, 1, 2, 3, 6, 7], 0)?;
    chip.set_bus(&[2, 3], 3)?;
    chip.set_bus(&[2, 3], 0)?;
    let mut biquinary = chip.clone();
    wired(&mut chip, 14, (12, 1), &OUTPUTS, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9])?;
    // QD to the divide-by-two stage: the five is counted first, QA tells the second five.
    let sequence = [0, 2, 4, 6, 8, 1, 3, 5, 7, 9];
    wired(&mut biquinary, 1, (11, 14), &OUTPUTS, &sequence)?;
    // Set to nine from each count: SN7490A R9 inputs.
    for count in 0..10 {
        let mut chip = biquinary.clone();
        for _ in 0..count {
            chip.fall(1)?;
        }
        chip.set_bus(&[6, 7], 3)?;
        chip.expect_bus(&OUTPUTS, 9, &"set to nine")?;
        chip.set_bus(&[2, 3], 3)?;
        chip.expect_bus(&OUTPUTS, 9, &"set to nine wins over clear")?;
        chip.set_bus(&[6, 7], 0)?;
        chip.expect_bus(&OUTPUTS, 0, &"clear")?;
    }
    Ok(())
}

/// Clears with both R0 inputs and counts with QA wired to CKB.
fn ripple(chip: &Bench, clear: [u8; 2], outputs: [u8; 4], sequence: &[u64]) -> Check {
    let mut chip = chip.clone();
    chip.set_bus(&[14, 1, clear[0], clear[1]], 0)?;
    chip.set_bus(&clear, 3)?;
    chip.expect_bus(&outputs, 0, &"clear")?;
    chip.set_bus(&clear, 0)?;
    wired(&mut chip, 14, (outputs[0], 1), &outputs, sequence)?;
    for half in [1, 2] {
        for _ in 0..4 {
            chip.fall(14)?;
            wire(&mut chip, outputs[0], 1)?;
        }
        let mut other = chip.clone();
        other.set_bus(&clear, half)?;
        other.fall(14)?;
        chip.fall(14)?;
        wire(&mut chip, outputs[0], 1)?;
        wire(&mut other, outputs[0], 1)?;
        for pin in outputs {
            other.expect(pin, chip.level(pin)?, &"one clear input alone does nothing")?;
        }
        other.set_bus(&clear, 3)?;
        other.expect_bus(&outputs, 0, &"clear")?;
    }
    Ok(())
}

/// 7492: TI SDLS940, count sequence of SN7492A, from memory: six is skipped on the way to twelve
/// states.
pub fn twelve(chip: &Bench) -> Check {
    let sequence = [0, 1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13];
    ripple(chip, [6, 7], [12, 11, 9, 8], &sequence)
}

/// 7493: TI SDLS940, count sequence of SN7493A, from memory.
pub fn sixteen(chip: &Bench) -> Check {
    let sequence: Vec<u64> = (0..16).collect();
    ripple(chip, [2, 3], [12, 9, 8, 11], &sequence)
}

/// Clears, then counts falling edges through one whole cycle and one step more.
fn cycle(chip: &Bench, clock: u8, clear: u8, outputs: &[(u8, u32)], bits: u32) -> Check {
    let mut chip = chip.clone();
    chip.set_bus(&[clock, clear], 2)?;
    chip.set(clear, false)?;
    let compare = |chip: &Bench, count: u64| {
        outputs.iter().try_for_each(|(pin, bit)| {
            let level = (count >> bit & 1 == 1).into();
            chip.expect(*pin, level, &format_args!("count {count}"))
        })
    };
    compare(&chip, 0)?;
    for count in 1..=(1_u64 << bits) + 1 {
        chip.set(clock, true)?;
        compare(&chip, count - 1)?;
        chip.set(clock, false)?;
        compare(&chip, count)?;
    }
    for _ in 0..(1 << bits) - 2 {
        chip.fall(clock)?;
    }
    compare(&chip, (1 << bits) - 1)?;
    chip.set(clear, true)?;
    compare(&chip, 0)?;
    chip.fall(clock)?;
    compare(&chip, 0)
}

/// 74393: TI SDLS107, from memory.
pub fn dual_binary(chip: &Bench) -> Check {
    cycle(chip, 1, 2, &[(3, 0), (4, 1), (5, 2), (6, 3)], 4)?;
    cycle(chip, 13, 12, &[(11, 0), (10, 1), (9, 2), (8, 3)], 4)
}

/// 4020: TI SCHS030, terminal assignments, from memory; Q2 and Q3 have no pins.
pub fn fourteen_stages(chip: &Bench) -> Check {
    let outputs = [
        (9, 0),
        (7, 3),
        (5, 4),
        (4, 5),
        (6, 6),
        (13, 7),
        (12, 8),
        (14, 9),
        (15, 10),
        (1, 11),
        (2, 12),
        (3, 13),
    ];
    cycle(chip, 10, 11, &outputs, 14)
}

/// 4040: TI SCHS030, terminal assignments, from memory.
pub fn twelve_stages(chip: &Bench) -> Check {
    let outputs = [
        (9, 0),
        (7, 1),
        (6, 2),
        (5, 3),
        (3, 4),
        (2, 5),
        (4, 6),
        (13, 7),
        (12, 8),
        (14, 9),
        (15, 10),
        (1, 11),
    ];
    cycle(chip, 10, 11, &outputs, 12)
}

/// 4017 against a ring of ten. TI SCHS027, from memory; carry out is high for the counts 0 to 4.
pub fn ring_of_ten(chip: &Bench) -> Check {
    const OUTPUTS: [u8; 11] = [3, 2, 4, 7, 10, 1, 5, 6, 9, 11, 12];
    let expected = |count: u32| 1 << (count % 10) | u64::from(count % 10 < 5) << 10;
    let mut chip = chip.clone();
    chip.set_bus(&[14, 13, 15], 0b100)?;
    chip.set(15, false)?;
    for count in 0..25 {
        chip.expect_bus(&OUTPUTS, expected(count), &format_args!("count {count}"))?;
        let mut cleared = chip.clone();
        cleared.set(15, true)?;
        cleared.expect_bus(&OUTPUTS, expected(0), &"reset")?;
        cleared.rise(14)?;
        cleared.expect_bus(&OUTPUTS, expected(0), &"reset holds")?;
        let mut inhibited = chip.clone();
        inhibited.set(13, true)?;
        inhibited.rise(14)?;
        inhibited.expect_bus(&OUTPUTS, expected(count), &"clock inhibited")?;
        // With the clock high the falling edge of the inhibit input counts.
        inhibited.set(13, false)?;
        inhibited.expect_bus(&OUTPUTS, expected(count + 1), &"inhibit as a clock")?;
        chip.set(14, true)?;
        chip.expect_bus(&OUTPUTS, expected(count + 1), &"rising edge")?;
        chip.set(14, false)?;
    }
    Ok(())
}

/// 4518, by either clock. TI SCHS076, from memory.
pub fn dual_decade(chip: &Bench) -> Check {
    for (clock, enable, reset, outputs) in [(1, 2, 7, [3, 4, 5, 6]), (9, 10, 15, [11, 12, 13, 14])]
    {
        let mut chip = chip.clone();
        chip.set_bus(&[clock, enable, reset], 0b110)?;
        chip.set(reset, false)?;
        let mut other = chip.clone();
        for count in 0..23 {
            chip.expect_bus(&outputs, count % 10, &format_args!("clock, count {count}"))?;
            other.expect_bus(&outputs, count % 10, &format_args!("enable, count {count}"))?;
            let mut cleared = chip.clone();
            cleared.set(reset, true)?;
            cleared.expect_bus(&outputs, 0, &"reset")?;
            chip.set(clock, true)?;
            chip.set(clock, false)?;
            other.set(enable, false)?;
            other.set(enable, true)?;
        }
    }
    Ok(())
}
