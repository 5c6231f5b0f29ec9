//! Shift registers against integer shifts, the register file against an array.

use super::Sequence;
use crate::Check;
use crate::bench::Bench;

/// 74164: TI SDLS061, from memory. QA is bit 0, so a shift doubles.
pub fn serial_in(chip: &Bench) -> Check {
    const OUTPUTS: [u8; 8] = [3, 4, 5, 6, 10, 11, 12, 13];
    let (mut chip, mut sequence) = (chip.clone(), Sequence::new());
    chip.set_bus(&[8, 9, 1, 2], 0)?;
    chip.set(9, true)?;
    let mut word = 0;
    for step in 0..300 {
        let serial = sequence.below(4);
        chip.set_bus(&[1, 2], serial)?;
        chip.expect_bus(&OUTPUTS, word, &format_args!("step {step}, before the edge"))?;
        chip.set(8, true)?;
        word = (word << 1 | u64::from(serial == 3)) & 0xFF;
        chip.expect_bus(&OUTPUTS, word, &format_args!("step {step}"))?;
        chip.set(8, false)?;
        if sequence.below(24) == 0 {
            chip.set(9, false)?;
            word = 0;
            chip.expect_bus(&OUTPUTS, word, &"clear")?;
            chip.set(9, true)?;
        }
    }
    Ok(())
}

/// 74165: TI SDLS062, from memory. H, the first bit out, is bit 7. Either clock input counts
/// while the other is low.
pub fn parallel_in(chip: &Bench) -> Check {
    const DATA: [u8; 8] = [11, 12, 13, 14, 3, 4, 5, 6];
    const LOAD: u8 = 1;
    const SERIAL: u8 = 10;
    let mut sequence = Sequence::new();
    for loaded in 0..256 {
        for clock in [2, 15] {
            let mut chip = chip.clone();
            chip.set_bus(&[2, 15, LOAD, SERIAL], 0)?;
            chip.set_bus(&DATA, loaded)?;
            chip.set(LOAD, true)?;
            chip.set_bus(&DATA, !loaded)?;
            let mut word = loaded;
            for step in 0..10 {
                let when = format_args!("loaded {loaded:#010b}, step {step}");
                chip.expect(9, (word >> 7 & 1 == 1).into(), &when)?;
                chip.expect(7, (word >> 7 & 1 == 0).into(), &when)?;
                let serial = sequence.below(2);
                chip.set(SERIAL, serial == 1)?;
                chip.set(clock, true)?;
                word = (word << 1 | serial) & 0xFF;
                chip.expect(9, (word >> 7 & 1 == 1).into(), &when)?;
                chip.set(clock, false)?;
            }
        }
    }
    Ok(())
}

/// What the mode inputs S1 S0 do: hold, towards the last bit, towards the first, load. The first
/// bit is bit 0.
fn next(mode: u64, word: u64, bits: u32, right: u64, left: u64, data: u64) -> u64 {
    let mask = (1 << bits) - 1;
    match mode {
        0 => word,
        1 => (word << 1 | right) & mask,
        2 => word >> 1 | left << (bits - 1),
        _ => data,
    }
}

/// 74194: TI SDLS075, from memory: every state, mode, serial input and load. Modes change while
/// the clock is high, as the standard TTL part asks for.
pub fn bidirectional(chip: &Bench) -> Check {
    const DATA: [u8; 4] = [3, 4, 5, 6];
    const OUTPUTS: [u8; 4] = [15, 14, 13, 12];
    const MODE: [u8; 2] = [9, 10];
    let mut chip = chip.clone();
    chip.set_bus(&[1, 11], 3)?;
    for state in 0..16 {
        chip.set_bus(&MODE, 3)?;
        chip.set_bus(&DATA, state)?;
        chip.rise(11)?;
        chip.expect_bus(&OUTPUTS, state, &"load")?;
        for mode in 0..4 {
            for serial in 0..4 {
                for data in [state ^ 15, state ^ 6, state ^ 3] {
                    let mut chip = chip.clone();
                    chip.set_bus(&MODE, mode)?;
                    chip.set_bus(&[2, 7], serial)?;
                    chip.set_bus(&DATA, data)?;
                    chip.set(11, false)?;
                    let when = format_args!("state {state:04b}, mode {mode}, serial {serial:02b}");
                    chip.expect_bus(&OUTPUTS, state, &when)?;
                    chip.set(11, true)?;
                    let word = next(mode, state, 4, serial & 1, serial >> 1, data);
                    chip.expect_bus(&OUTPUTS, word, &when)?;
                    chip.set(1, false)?;
                    chip.expect_bus(&OUTPUTS, 0, &"clear")?;
                }
            }
        }
    }
    Ok(())
}

/// 74299: TI SDLS156, from memory. The eight shared pins are released by the chip while S1 and S0
/// are both high, whatever the output controls are, and take the word to be loaded then.
pub fn universal(chip: &Bench) -> Check {
    const PINS: [u8; 8] = [7, 13, 6, 14, 5, 15, 4, 16];
    const CLEAR: u8 = 9;
    const CLOCK: u8 = 12;
    const MODE: [u8; 2] = [1, 19];
    const ENABLE: [u8; 2] = [2, 3];
    let (mut chip, mut sequence) = (chip.clone(), Sequence::new());
    chip.set_bus(&[CLEAR, CLOCK, MODE[0], MODE[1], ENABLE[0], ENABLE[1], 11, 18], 0)?;
    chip.set(CLEAR, true)?;
    let mut word = 0;
    for step in 0..600 {
        let (mode, serial, data) = (sequence.below(4), sequence.below(4), sequence.below(256));
        let off = if sequence.below(4) == 0 { sequence.below(4) } else { 0 };
        let when = format_args!("step {step}, mode {mode}, disabled {off:02b}");
        chip.set_bus(&ENABLE, off)?;
        chip.set_bus(&MODE, mode)?;
        chip.set_bus(&[11, 18], serial)?;
        if mode == 3 || off != 0 {
            chip.expect_released(&PINS, &when)?;
        } else {
            chip.expect_bus(&PINS, word, &when)?;
        }
        if mode == 3 {
            chip.set_bus(&PINS, data)?;
        }
        chip.set(CLOCK, true)?;
        word = next(mode, word, 8, serial & 1, serial >> 1, data);
        chip.expect(8, (word & 1 == 1).into(), &when)?;
        chip.expect(17, (word >> 7 == 1).into(), &when)?;
        // What was taken was taken at the rising edge: the load ends while the clock is high.
        chip.release(&PINS)?;
        chip.set_bus(&MODE, 0)?;
        chip.set_bus(&ENABLE, 0)?;
        chip.expect_bus(&PINS, word, &when)?;
        chip.set(CLOCK, false)?;
        chip.expect_bus(&PINS, word, &when)?;
        if sequence.below(40) == 0 {
            chip.set(CLEAR, false)?;
            chip.set(CLEAR, true)?;
            word = 0;
            chip.expect_bus(&PINS, word, &"clear")?;
            chip.expect_bus(&[8, 17], 0, &"clear")?;
        }
    }
    Ok(())
}

/// 74595: TI SDLS006 and SCLS041, from memory.
pub fn with_output_latch(chip: &Bench) -> Check {
    const OUTPUTS: [u8; 8] = [15, 1, 2, 3, 4, 5, 6, 7];
    const CLEAR: u8 = 10;
    const SHIFT: u8 = 11;
    const STORE: u8 = 12;
    const DISABLE: u8 = 13;
    let (mut chip, mut sequence) = (chip.clone(), Sequence::new());
    chip.set_bus(&[CLEAR, SHIFT, STORE, DISABLE, 14], 0)?;
    chip.set(CLEAR, true)?;
    chip.rise(STORE)?;
    let (mut word, mut stored) = (0_u64, 0_u64);
    for step in 0..600 {
        chip.set_bus(&[SHIFT, STORE], 0)?;
        match sequence.below(8) {
            0 => {
                chip.set(CLEAR, false)?;
                chip.set(CLEAR, true)?;
                word = 0;
            }
            1 | 2 => {
                chip.set(STORE, true)?;
                stored = word;
            }
            _ => {
                let serial = sequence.below(2);
                chip.set(14, serial == 1)?;
                chip.set(SHIFT, true)?;
                word = (word << 1 | serial) & 0xFF;
            }
        }
        let when = format_args!("step {step}");
        chip.expect(9, (word >> 7 == 1).into(), &when)?;
        chip.expect_bus(&OUTPUTS, stored, &when)?;
        chip.set(DISABLE, true)?;
        chip.expect_released(&OUTPUTS, &when)?;
        chip.set(DISABLE, false)?;
    }
    Ok(())
}

/// 74670 against an array of four words. TI SDLS193, from memory.
pub fn register_file(chip: &Bench) -> Check {
    const DATA: [u8; 4] = [15, 1, 2, 3];
    const OUTPUTS: [u8; 4] = [10, 9, 7, 6];
    const WRITE_ADDRESS: [u8; 2] = [14, 13];
    const READ_ADDRESS: [u8; 2] = [5, 4];
    const WRITE: u8 = 12;
    const READ: u8 = 11;
    let (mut chip, mut sequence) = (chip.clone(), Sequence::new());
    chip.set_bus(&[WRITE, READ], 0b01)?;
    let mut words = [0; 4];
    for step in 0..400 {
        // Every word once first, then anywhere.
        let address = if step < 4 { step } else { sequence.below(4) };
        let data = sequence.below(16);
        chip.set_bus(&WRITE_ADDRESS, address)?;
        chip.set_bus(&DATA, data)?;
        if step < 4 || sequence.below(2) == 0 {
            chip.set(WRITE, false)?;
            chip.set(WRITE, true)?;
            words[address as usize] = data;
        }
        if step < 3 {
            continue;
        }
        for (read, word) in (0..).zip(words) {
            chip.set_bus(&READ_ADDRESS, read)?;
            chip.expect_bus(&OUTPUTS, word, &format_args!("step {step}, word {read}"))?;
        }
        chip.set(READ, true)?;
        chip.expect_released(&OUTPUTS, &format_args!("step {step}"))?;
        chip.set(READ, false)?;
    }
    Ok(())
}
