//! Functions without memory, for every combination of their inputs.

use crate::Check;
use crate::bench::Bench;

/// A field of a number.
const fn field(number: u64, from: u32, bits: u32) -> u64 {
    number >> from & ((1 << bits) - 1)
}

/// 7442: TI SDLS109, from memory: the output of the code is low, codes above 9 select none.
pub fn bcd_to_decimal(chip: &Bench) -> Check {
    chip.clone().expect_everywhere(&[15, 14, 13, 12], &[1, 2, 3, 4, 5, 6, 7, 9, 10, 11], |code| {
        !(1 << code) & 0x3FF
    })
}

/// 74138: TI SDLS014, from memory.
pub fn three_to_eight(chip: &Bench) -> Check {
    chip.clone().expect_everywhere(&[1, 2, 3, 4, 5, 6], &[15, 14, 13, 12, 11, 10, 9, 7], |inputs| {
        match field(inputs, 3, 3) {
            0b100 => !(1 << field(inputs, 0, 3)) & 0xFF,
            _ => 0xFF,
        }
    })
}

/// 74139: TI SDLS013, from memory.
pub fn two_to_four(chip: &Bench) -> Check {
    for (inputs, outputs) in [([2, 3, 1], [4, 5, 6, 7]), ([14, 13, 15], [12, 11, 10, 9])] {
        chip.clone().expect_everywhere(&inputs, &outputs, |inputs| match field(inputs, 2, 1) {
            0 => !(1 << field(inputs, 0, 2)) & 0xF,
            _ => 0xF,
        })?;
    }
    Ok(())
}

/// 74154: TI SDLS056, from memory.
pub fn four_to_sixteen(chip: &Bench) -> Check {
    chip.clone().expect_everywhere(
        &[23, 22, 21, 20, 18, 19],
        &[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 15, 16, 17],
        |inputs| match field(inputs, 4, 2) {
            0 => !(1 << field(inputs, 0, 4)) & 0xFFFF,
            _ => 0xFFFF,
        },
    )
}

/// 74148: TI SDLS053, from memory: the highest low input wins; code, GS and EO are active low.
/// Outputs are A0 A1 A2 GS EO.
pub fn priority(chip: &Bench) -> Check {
    chip.clone().expect_everywhere(&[10, 11, 12, 13, 1, 2, 3, 4, 5], &[9, 7, 6, 14, 15], |inputs| {
        let asked = !inputs & 0xFF;
        match (field(inputs, 8, 1), asked) {
            (1, _) => 0b1_1111,
            (_, 0) => 0b0_1111,
            _ => 0b1_0000 | (!u64::from(asked.ilog2()) & 7),
        }
    })
}

/// 74151: TI SDLS054, from memory. Outputs Y and W.
pub fn one_of_eight(chip: &Bench) -> Check {
    chip.clone().expect_everywhere(&[4, 3, 2, 1, 15, 14, 13, 12, 11, 10, 9, 7], &[5, 6], |inputs| {
        let data = field(inputs, 0, 8) >> field(inputs, 8, 3) & 1;
        let y = if field(inputs, 11, 1) == 0 { data } else { 0 };
        y | (1 - y) << 1
    })
}

/// 74153: TI SDLS055, from memory.
pub fn one_of_four(chip: &Bench) -> Check {
    for (inputs, output) in [([6, 5, 4, 3, 14, 2, 1], 7), ([10, 11, 12, 13, 14, 2, 15], 9)] {
        chip.clone().expect_everywhere(&inputs, &[output], |inputs| {
            let data = field(inputs, 0, 4) >> field(inputs, 4, 2) & 1;
            if field(inputs, 6, 1) == 0 { data } else { 0 }
        })?;
    }
    Ok(())
}

/// 7483: TI, The TTL Data Book, SN7483A terminal assignments, from memory.
pub fn adder(chip: &Bench) -> Check {
    chip.clone().expect_everywhere(&[10, 8, 3, 1, 11, 7, 4, 16, 13], &[9, 6, 2, 15, 14], |inputs| {
        field(inputs, 0, 4) + field(inputs, 4, 4) + field(inputs, 8, 1)
    })
}

/// 7485: TI SDLS123, function table, from memory. The cascade inputs stand in the order A>B, A<B,
/// A=B, the outputs likewise; with equal words the table's last five rows say what they give, and
/// A=B wins over the other two.
pub fn comparator(chip: &Bench) -> Check {
    const GREATER: u64 = 0b001;
    const LESS: u64 = 0b010;
    const EQUAL: u64 = 0b100;
    chip.clone().expect_everywhere(&[10, 12, 13, 15, 9, 11, 14, 1, 4, 2, 3], &[5, 7, 6], |inputs| {
        let (a, b, cascade) = (field(inputs, 0, 4), field(inputs, 4, 4), field(inputs, 8, 3));
        match a.cmp(&b) {
            std::cmp::Ordering::Greater => GREATER,
            std::cmp::Ordering::Less => LESS,
            std::cmp::Ordering::Equal if cascade & EQUAL != 0 => EQUAL,
            std::cmp::Ordering::Equal => match cascade {
                GREATER => GREATER,
                LESS => LESS,
                0 => GREATER | LESS,
                _ => 0,
            },
        }
    })
}

/// What the two tables of the 74181 say for a selection: the logic function and the two numbers
/// that the arithmetic function adds, each four bits wide; "minus 1" is "plus 15". A minus B
/// minus 1 is A plus (not B).
struct AluRow {
    logic: u64,
    addends: (u64, u64),
}

/// TI SDLS136, table 2 (active-high data), from memory.
fn active_high(select: u64, a: u64, b: u64) -> AluRow {
    let (na, nb) = (!a & 15, !b & 15);
    let (logic, addends) = match select {
        0 => (na, (a, 0)),
        1 => (!(a | b) & 15, (a | b, 0)),
        2 => (na & b, (a | nb, 0)),
        3 => (0, (0, 15)),
        4 => (!(a & b) & 15, (a, a & nb)),
        5 => (nb, (a | b, a & nb)),
        6 => (a ^ b, (a, nb)),
        7 => (a & nb, (a & nb, 15)),
        8 => (na | b, (a, a & b)),
        9 => (!(a ^ b) & 15, (a, b)),
        10 => (b, (a | nb, a & b)),
        11 => (a & b, (a & b, 15)),
        12 => (15, (a, a)),
        13 => (a | nb, (a | b, a)),
        14 => (a | b, (a | nb, a)),
        _ => (a, (a, 15)),
    };
    AluRow { logic, addends }
}

/// TI SDLS136, table 1 (active-low data), from memory.
fn active_low(select: u64, a: u64, b: u64) -> AluRow {
    let (na, nb) = (!a & 15, !b & 15);
    let (logic, addends) = match select {
        0 => (na, (a, 15)),
        1 => (!(a & b) & 15, (a & b, 15)),
        2 => (na | b, (a & nb, 15)),
        3 => (15, (0, 15)),
        4 => (!(a | b) & 15, (a, a | nb)),
        5 => (nb, (a & b, a | nb)),
        6 => (!(a ^ b) & 15, (a, nb)),
        7 => (a | nb, (a | nb, 0)),
        8 => (na & b, (a, a | b)),
        9 => (a ^ b, (a, b)),
        10 => (b, (a & nb, a | b)),
        11 => (a | b, (a | b, 0)),
        12 => (0, (a, a)),
        13 => (a & nb, (a & b, a)),
        14 => (a & b, (a & nb, a)),
        _ => (a, (a, 0)),
    };
    AluRow { logic, addends }
}

/// 74181, all 2^14 inputs in both readings of its pins. TI SDLS136, from memory; both tables agree
/// with the function table of National's DM74LS181 data sheet, which was read. A=B is high where
/// all F are. The mode input gates only the carries into the sums (logic diagram), so the carry
/// outputs follow the arithmetic function in both modes.
///
/// With active-high data a low Cn is a carry in and a low Cn+4 a carry out. With active-low data
/// both are active high, G (pin 17) is low where the addition carries by itself, and P (pin 15)
/// is low where every bit passes a carry on.
pub fn alu(chip: &Bench) -> Check {
    const INPUTS: [u8; 14] = [2, 23, 21, 19, 1, 22, 20, 18, 6, 5, 4, 3, 8, 7];
    chip.clone().expect_everywhere(&INPUTS, &[9, 10, 11, 13, 14, 16], |inputs| {
        let (a, b, select) = (field(inputs, 0, 4), field(inputs, 4, 4), field(inputs, 8, 4));
        let (logic_mode, carry) = (field(inputs, 12, 1), 1 - field(inputs, 13, 1));
        let row = active_high(select, a, b);
        let sum = row.addends.0 + row.addends.1 + carry;
        let f = if logic_mode == 1 { row.logic } else { sum & 15 };
        f | u64::from(f == 15) << 4 | u64::from(sum <= 15) << 5
    })?;
    chip.clone().expect_everywhere(&INPUTS, &[9, 10, 11, 13, 14, 16, 17, 15], |inputs| {
        let a = !field(inputs, 0, 4) & 15;
        let b = !field(inputs, 4, 4) & 15;
        let (logic_mode, carry) = (field(inputs, 12, 1), field(inputs, 13, 1));
        let row = active_low(field(inputs, 8, 4), a, b);
        let (x, y) = row.addends;
        let sum = x + y + carry;
        let f = if logic_mode == 1 { row.logic } else { sum & 15 };
        let levels = !f & 15;
        let generates = x + y > 15;
        let propagates = x | y == 15;
        levels
            | u64::from(levels == 15) << 4
            | u64::from(sum > 15) << 5
            | u64::from(!generates) << 6
            | u64::from(!propagates) << 7
    })
}
