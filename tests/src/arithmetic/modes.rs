//! Counters that load, hold and count both ways: every state in every mode.

use crate::Check;
use crate::bench::{Bench, Level};

const MODES: std::ops::Range<u64> = 0..16;

/// 74161 and 74163. TI SDLS060, from memory. Modes change while the clock is high, as the
/// standard TTL part asks for.
fn synchronous(chip: &Bench, direct_clear: bool) -> Check {
    const DATA: [u8; 4] = [3, 4, 5, 6];
    const OUTPUTS: [u8; 4] = [14, 13, 12, 11];
    const CLOCK: u8 = 2;
    // CLR, LOAD, ENP, ENT
    const MODE: [u8; 4] = [1, 9, 7, 10];
    const COUNT: u64 = 0b1111;
    let mut chip = chip.clone();
    chip.set(CLOCK, true)?;
    chip.set_bus(&MODE, COUNT)?;
    let carry = |chip: &Bench, state: u64, mode: u64, when: &str| {
        let high = state == 15 && mode & 0b1000 != 0;
        chip.expect(15, high.into(), &format_args!("{when}, state {state}, mode {mode:04b}"))
    };
    for state in 0..16 {
        chip.set_bus(&MODE, 0b0001)?;
        chip.set_bus(&DATA, state)?;
        chip.rise(CLOCK)?;
        chip.set_bus(&MODE, COUNT)?;
        chip.expect_bus(&OUTPUTS, state, &"load")?;
        for mode in MODES {
            for data in [!state & 15, state ^ 5, state ^ 2] {
                let mut chip = chip.clone();
                chip.set_bus(&DATA, data)?;
                chip.set_bus(&MODE, mode)?;
                let cleared = mode & 1 == 0;
                let before = if direct_clear && cleared { 0 } else { state };
                chip.expect_bus(&OUTPUTS, before, &format_args!("mode {mode:04b}"))?;
                carry(&chip, before, mode, "before the edge")?;
                chip.set(CLOCK, false)?;
                chip.expect_bus(&OUTPUTS, before, &format_args!("falling, mode {mode:04b}"))?;
                chip.set(CLOCK, true)?;
                let after = match mode {
                    _ if cleared => 0,
                    _ if mode & 0b0010 == 0 => data,
                    COUNT => (state + 1) % 16,
                    _ => state,
                };
                let when = format_args!("state {state}, mode {mode:04b}, data {data}");
                chip.expect_bus(&OUTPUTS, after, &when)?;
                carry(&chip, after, mode, "after the edge")?;
            }
        }
    }
    for count in 16..49 {
        chip.rise(CLOCK)?;
        chip.expect_bus(&OUTPUTS, count % 16, &"counting")?;
    }
    Ok(())
}

/// 74161: direct clear.
pub fn direct_clear(chip: &Bench) -> Check {
    synchronous(chip, true)
}

/// 74163: synchronous clear.
pub fn synchronous_clear(chip: &Bench) -> Check {
    synchronous(chip, false)
}

/// 74190: TI SDLS072, from memory: MAX/MIN is high at nine upwards and at zero downwards; the
/// ripple clock is low while MAX/MIN is high, the chip is enabled and the clock is low. Enable
/// and direction change while the clock is high.
pub fn up_down_decade(chip: &Bench) -> Check {
    const DATA: [u8; 4] = [15, 1, 10, 9];
    const OUTPUTS: [u8; 4] = [3, 2, 6, 7];
    const CLOCK: u8 = 14;
    const LOAD: u8 = 11;
    const MAX_MIN: u8 = 12;
    const RIPPLE: u8 = 13;
    // CTEN, D/U
    const MODE: [u8; 2] = [4, 5];
    for state in 0..10 {
        for mode in 0..4 {
            let mut chip = chip.clone();
            chip.set(CLOCK, true)?;
            chip.set_bus(&MODE, mode)?;
            chip.set_bus(&DATA, state)?;
            chip.set(LOAD, false)?;
            chip.set(LOAD, true)?;
            chip.set_bus(&DATA, !state & 15)?;
            let (enabled, down) = (mode & 1 == 0, mode & 2 != 0);
            let mut expected = state;
            for _ in 0..22 {
                let last = expected == if down { 0 } else { 9 };
                let when = format_args!("from {state}, mode {mode:02b}, at {expected}");
                for high in [true, false] {
                    chip.set(CLOCK, high)?;
                    chip.expect_bus(&OUTPUTS, expected, &when)?;
                    chip.expect(MAX_MIN, last.into(), &when)?;
                    let low = last && enabled && !high;
                    chip.expect(RIPPLE, (!low).into(), &when)?;
                }
                chip.set(CLOCK, true)?;
                if enabled {
                    expected = if down { (expected + 9) % 10 } else { (expected + 1) % 10 };
                }
            }
            chip.set(LOAD, false)?;
            chip.expect_bus(&OUTPUTS, !state & 15, &"load again")?;
        }
    }
    Ok(())
}

/// 74192 and 74193. TI SDLS074, from memory: carry is low while the up clock is low at the
/// highest count, borrow while the down clock is low at zero.
fn two_clocks(chip: &Bench, modulus: u64) -> Check {
    const DATA: [u8; 4] = [15, 1, 10, 9];
    const OUTPUTS: [u8; 4] = [3, 2, 6, 7];
    const CLEAR: u8 = 14;
    const LOAD: u8 = 11;
    const UP: u8 = 5;
    const DOWN: u8 = 4;
    const CARRY: u8 = 12;
    const BORROW: u8 = 13;
    for state in 0..modulus {
        for (clock, step, end, shown, quiet) in
            [(UP, 1, modulus - 1, CARRY, BORROW), (DOWN, modulus - 1, 0, BORROW, CARRY)]
        {
            let mut chip = chip.clone();
            chip.set_bus(&[CLEAR, LOAD, UP, DOWN], 0b1110)?;
            chip.set_bus(&DATA, state)?;
            chip.set(LOAD, false)?;
            chip.set(LOAD, true)?;
            chip.set_bus(&DATA, !state & 15)?;
            let mut expected = state;
            for _ in 0..2 * modulus + 1 {
                let when = format_args!("from {state}, clock at pin {clock}, at {expected}");
                for high in [true, false] {
                    chip.set(clock, high)?;
                    chip.expect_bus(&OUTPUTS, expected, &when)?;
                    chip.expect(shown, (high || expected != end).into(), &when)?;
                    chip.expect(quiet, Level::High, &when)?;
                }
                chip.set(clock, true)?;
                expected = (expected + step) % modulus;
            }
            chip.expect_bus(&OUTPUTS, expected, &"after the cycles")?;
            chip.set(CLEAR, true)?;
            chip.expect_bus(&OUTPUTS, 0, &"clear")?;
            chip.set(LOAD, false)?;
            chip.expect_bus(&OUTPUTS, 0, &"clear wins over load")?;
            chip.set(CLEAR, false)?;
            chip.expect_bus(&OUTPUTS, !state & 15, &"load")?;
        }
    }
    Ok(())
}

/// 74192: counts ten.
pub fn two_clocks_decade(chip: &Bench) -> Check {
    two_clocks(chip, 10)
}

/// 74193: counts sixteen.
pub fn two_clocks_binary(chip: &Bench) -> Check {
    two_clocks(chip, 16)
}

/// 4516: Philips, HEF4516B function table and terminal count equation, January 1995: carry out is low while carry in is low at 15
/// upwards or at zero downwards.
pub fn preset_up_down(chip: &Bench) -> Check {
    const DATA: [u8; 4] = [4, 12, 13, 3];
    const OUTPUTS: [u8; 4] = [6, 11, 14, 2];
    const CLOCK: u8 = 15;
    const RESET: u8 = 9;
    const PRESET: u8 = 1;
    const CARRY_OUT: u8 = 7;
    // carry in, up/down
    const MODE: [u8; 2] = [5, 10];
    for state in 0..16 {
        for mode in 0..4 {
            let mut chip = chip.clone();
            chip.set(CLOCK, true)?;
            chip.set_bus(&[RESET, PRESET], 0)?;
            chip.set_bus(&MODE, mode)?;
            chip.set_bus(&DATA, state)?;
            chip.set(PRESET, true)?;
            chip.set(PRESET, false)?;
            chip.set_bus(&DATA, !state & 15)?;
            let (enabled, up) = (mode & 1 == 0, mode & 2 != 0);
            let mut expected = state;
            for _ in 0..34 {
                let end = expected == if up { 15 } else { 0 };
                let when = format_args!("from {state}, mode {mode:02b}, at {expected}");
                for high in [true, false] {
                    chip.set(CLOCK, high)?;
                    chip.expect_bus(&OUTPUTS, expected, &when)?;
                    chip.expect(CARRY_OUT, (!(end && enabled)).into(), &when)?;
                }
                chip.set(CLOCK, true)?;
                if enabled {
                    expected = (expected + if up { 1 } else { 15 }) % 16;
                }
            }
            chip.set(PRESET, true)?;
            chip.expect_bus(&OUTPUTS, !state & 15, &"preset")?;
            chip.set(RESET, true)?;
            chip.expect_bus(&OUTPUTS, 0, &"reset wins over preset")?;
        }
    }
    Ok(())
}
