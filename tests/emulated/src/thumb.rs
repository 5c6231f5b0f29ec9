//! How many instructions a block has and how many cycles they take.

/// Instructions and cycles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Cost {
    pub(crate) instructions: u32,
    pub(crate) cycles: u32,
    /// Instructions that do nothing but take a cycle: moves of r8 to itself, as assemblers write
    /// them for the time that they take.
    pub(crate) idle: u32,
}

/// What refilling the pipeline costs, of 1 to 3 cycles.
const REFILL: u32 = 2;
/// A division, of 2 to 12 cycles.
const DIVISION: u32 = 6;

/// The cost of a block of Thumb code (ARM DDI 0439, Cortex-M4 instruction set summary). A
/// conditional branch counts as taken every other time.
pub(crate) fn cost(code: &[u8]) -> Cost {
    let mut halves = code.chunks_exact(2).map(|half| u16::from_le_bytes([half[0], half[1]]));
    let mut cost = Cost::default();
    while let Some(first) = halves.next() {
        cost.instructions += 1;
        cost.idle += u32::from(first == 0x46c0);
        cost.cycles += if first >> 11 >= 0b11101 {
            wide(first, halves.next().unwrap_or(0))
        } else {
            narrow(first)
        };
    }
    cost
}

fn narrow(half: u16) -> u32 {
    match half >> 8 {
        0x47 => 1 + REFILL,
        // To the program counter.
        0x44 | 0x46 if half & 0x87 == 0x87 => 1 + REFILL,
        0x48..=0x9f => 2,
        0xb4 | 0xb5 | 0xbc => 1 + (half & 0x1ff).count_ones(),
        0xbd => 1 + REFILL + (half & 0x1ff).count_ones(),
        0xc0..=0xcf => 1 + (half & 0xff).count_ones(),
        0xb1 | 0xb3 | 0xb9 | 0xbb | 0xd0..=0xdd => 1 + REFILL / 2,
        0xe0..=0xe7 => 1 + REFILL,
        _ => 1,
    }
}

fn wide(first: u16, second: u16) -> u32 {
    match first >> 8 {
        0xe8 | 0xe9 if first & 0x40 == 0 => {
            let refill = if first & 0x10 != 0 && second & 0x8000 != 0 { REFILL } else { 0 };
            1 + second.count_ones() + refill
        }
        // A table branch, or two registers.
        0xe8 if first & 0xf0 == 0xd0 && second & 0xe0 == 0 => 2 + REFILL,
        0xe8 | 0xe9 => 3,
        0xf8 | 0xf9 => 2,
        0xfb if matches!(first & 0xf0, 0x90 | 0xb0) => DIVISION,
        0xf0..=0xf7 if second & 0x9000 == 0x9000 => 1 + REFILL,
        0xf0..=0xf7 if second & 0xd000 == 0x8000 && first & 0x380 != 0x380 => 1 + REFILL / 2,
        _ => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Encodings from ARM DDI 0403, cycles from ARM DDI 0439.
    #[test]
    fn known_instructions() {
        let known: [(&[u16], u32, u32); 9] = [
            (&[0xbf00], 1, 1),                 // nop
            (&[0x44af], 1, 3),                 // add pc, r5
            (&[0x6008], 1, 2),                 // str r0, [r1]
            (&[0xb570], 1, 5),                 // push {r4, r5, r6, lr}
            (&[0xbd70], 1, 7),                 // pop {r4, r5, r6, pc}
            (&[0xe7fe], 1, 3),                 // b .
            (&[0xf000, 0xf801], 1, 3),         // bl
            (&[0xfbb0, 0xf0f1], 1, 6),         // udiv r0, r0, r1
            (&[0xf8d0, 0x1004, 0x1c40], 2, 3), // ldr.w r1, [r0, #4]; adds r0, r0, #1
        ];
        for (halves, instructions, cycles) in known {
            let code: Vec<u8> = halves.iter().flat_map(|half| half.to_le_bytes()).collect();
            assert_eq!(cost(&code), Cost { instructions, cycles, idle: 0 }, "{halves:x?}");
        }
        let moves: Vec<u8> =
            [0x46c0_u16, 0x46c0].iter().flat_map(|half| half.to_le_bytes()).collect();
        assert_eq!(cost(&moves), Cost { instructions: 2, cycles: 2, idle: 2 });
    }
}
