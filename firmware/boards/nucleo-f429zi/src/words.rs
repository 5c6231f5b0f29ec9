//! Words of the three socket ports.
//!
//! Everything that masks over positions cost is paid when a program is checked; driving and
//! sampling then move whole words. The order of the ports in every array is [`PORTS`].

use crate::map::Port;
use dipsift_pins::Positions;

/// The socket's ports.
pub const PORTS: [Port; 3] = [Port::E, Port::F, Port::D];

/// What the mode register of port D always holds in its upper half: alternate function for the
/// serial port (PD8, PD9), outputs for switches and supply (PD10 to PD15).
pub const D_UPPER_MODES: u32 = 0x555a_0000;

/// The mode registers with every position released.
pub const RELEASED: [u32; 3] = [0, 0, D_UPPER_MODES];

/// What every driver does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Drive {
    /// For the set/reset registers: levels of driven positions; the others keep theirs.
    pub levels: [u32; 3],
    /// For the mode registers: driven positions are outputs, the others inputs.
    pub modes: [u32; 3],
}

/// For the set/reset registers: the levels of some positions; the others keep theirs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Levels(pub [u32; 3]);

/// For the mode registers: which positions are outputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Directions(pub [u32; 3]);

/// Levels to compare a sample with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Compare {
    mask: [u32; 2],
    high: [u32; 2],
}

/// The input registers, read one after the other: ports E and F in one word, as in the order of
/// positions, port D in the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample([u32; 2]);

/// The bits of each port.
const fn split(positions: Positions) -> [u16; 3] {
    let bits = positions.bits();
    [bits as u16, (bits >> 16) as u16, (bits >> 32) as u16]
}

/// The positions of two words; what port D has above position 40 drops out.
const fn join([low, high]: [u32; 2]) -> Positions {
    Positions::from_bits(low as u64 | (high as u64) << 32)
}

/// The two words of positions.
const fn halves(positions: Positions) -> [u32; 2] {
    let bits = positions.bits();
    [bits as u32, (bits >> 32) as u32]
}

/// Moves bit n to bit 2n.
const fn spread(bits: u16) -> u32 {
    let mut word = bits as u32;
    word = (word | word << 8) & 0x00ff_00ff;
    word = (word | word << 4) & 0x0f0f_0f0f;
    word = (word | word << 2) & 0x3333_3333;
    (word | word << 1) & 0x5555_5555
}

/// The words that drive `driven`, those of them in `high` high and the rest low.
pub fn drive(driven: Positions, high: Positions) -> Drive {
    let [e, f, d] = split(driven);
    let [e_high, f_high, d_high] = split(high.and(driven));
    let levels = |driven: u16, high: u16| u32::from(high) | u32::from(driven & !high) << 16;
    Drive {
        levels: [levels(e, e_high), levels(f, f_high), levels(d, d_high)],
        modes: [spread(e), spread(f), spread(d) | D_UPPER_MODES],
    }
}

/// The words that set `positions`, those of them in `high` high and the rest low.
pub fn levels(positions: Positions, high: Positions) -> Levels {
    Levels(drive(positions, high).levels)
}

/// The words that drive `driven` alone.
pub fn directions(driven: Positions) -> Directions {
    Directions(drive(driven, Positions::NONE).modes)
}

impl Levels {
    /// The words that do what both do.
    #[inline]
    pub fn join(self, other: Self) -> Self {
        let ([a, b, c], [d, e, f]) = (self.0, other.0);
        Self([a | d, b | e, c | f])
    }
}

/// The words that compare `compared` with `high`.
pub fn compare(compared: Positions, high: Positions) -> Compare {
    Compare { mask: halves(compared), high: halves(high.and(compared)) }
}

impl Compare {
    #[inline]
    fn differing_bits(&self, sample: &Sample) -> [u32; 2] {
        let ([low, high], [low_mask, high_mask]) = (sample.0, self.mask);
        let [low_wanted, high_wanted] = self.high;
        [(low ^ low_wanted) & low_mask, (high ^ high_wanted) & high_mask]
    }

    /// The compared positions at which the sample differs.
    pub fn differing(&self, sample: &Sample) -> Positions {
        join(self.differing_bits(sample))
    }

    /// Whether the sample agrees.
    #[inline]
    pub fn agrees(&self, sample: &Sample) -> bool {
        let [low, high] = self.differing_bits(sample);
        low | high == 0
    }
}

impl Sample {
    /// The input registers in the order of [`PORTS`]. Of port D, only what is compared or below
    /// position 41 counts.
    #[inline]
    pub const fn new([e, f, d]: [u32; 3]) -> Self {
        Self([e & 0xffff | f << 16, d])
    }

    /// The positions at which the sample is high.
    pub fn high(&self) -> Positions {
        join(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::{GROUNDS, Pin, SERIAL_RX, SERIAL_TX, SOCKET, SUPPLY_5V, SUPPLY_ENABLE, used};
    use std::collections::BTreeSet;

    /// Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8 (2003) no. 14.
    struct Random(u64);

    impl Random {
        fn positions(&mut self) -> Positions {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            Positions::from_bits(self.0)
        }
    }

    fn word(port: Port) -> usize {
        PORTS.iter().position(|&other| other == port).unwrap()
    }

    /// Pin by pin, as the reference manual describes the registers: two mode bits a pin (0 input,
    /// 1 output), one set bit a pin, one reset bit 16 above it (ST RM0090, GPIO registers).
    #[test]
    fn drive_words_do_at_each_pin_what_they_should() {
        let mut random = Random(0x1234_5678_9abc_def1);
        for _ in 0..2_000 {
            let (driven, high) = (random.positions(), random.positions());
            let words = drive(driven, high);
            let mut spare = [0; 3];
            for (position, pin) in (1..).zip(SOCKET) {
                let (at, bit) = (word(pin.port), u32::from(pin.bit));
                let mode = words.modes[at] >> (2 * bit) & 3;
                let set = words.levels[at] >> bit & 1 == 1;
                let reset = words.levels[at] >> (bit + 16) & 1 == 1;
                let is_driven = driven.contains(position);
                assert_eq!(mode, u32::from(is_driven));
                assert_eq!(set, is_driven && high.contains(position));
                assert_eq!(reset, is_driven && !high.contains(position));
                spare[at] |= 1 << bit | 1 << (bit + 16);
            }
            for (levels, socket) in words.levels.into_iter().zip(spare) {
                assert_eq!(levels & !socket, 0, "moves a pin beside the socket");
            }
            assert_eq!(words.modes[2] & 0xffff_0000, D_UPPER_MODES);
        }
        assert_eq!(drive(Positions::NONE, Positions::ALL).modes, RELEASED);
        assert_eq!(drive(Positions::NONE, Positions::ALL).levels, [0; 3]);
    }

    #[test]
    fn comparisons_find_just_the_pins_that_differ() {
        let mut random = Random(99);
        for round in 0..2_000 {
            let (compared, high) = (random.positions(), random.positions());
            // Half of the rounds differ in few pins, so that agreement occurs.
            let seen = if round % 2 == 0 {
                random.positions()
            } else {
                high ^ random.positions().and(random.positions()).and(random.positions())
            };
            let mut sample = [0; 3];
            // The serial port and the switches must not matter.
            sample[2] = if round % 3 == 0 { 0xff00 } else { 0 };
            for (position, pin) in (1..).zip(SOCKET) {
                sample[word(pin.port)] |= u32::from(seen.contains(position)) << pin.bit;
            }
            let words = compare(compared, high);
            let expected = (1..=40)
                .filter(|&at| compared.contains(at) && seen.contains(at) != high.contains(at))
                .fold(Positions::NONE, |set, at| set | Positions::one(at));
            let sample = Sample::new(sample);
            assert_eq!(words.differing(&sample), expected);
            assert_eq!(words.agrees(&sample), expected.is_empty());
            assert_eq!(sample.high(), seen);
        }
    }

    #[test]
    fn agreement_is_possible() {
        let words = compare(Positions::one(40) | Positions::one(3), Positions::one(40));
        assert!(words.agrees(&Sample::new([0, 0, 0x80])));
        assert!(words.agrees(&Sample::new([0xfffb, 0xffff, 0xff80])));
        assert!(!words.agrees(&Sample::new([4, 0, 0x80])));
    }

    /// Mode 2 is alternate function, mode 1 output (ST RM0090, GPIO mode register).
    #[test]
    fn the_upper_half_of_port_d_is_as_the_map_says() {
        let mode = |pin: Pin| D_UPPER_MODES >> (2 * pin.bit) & 3;
        let outputs = GROUNDS.iter().map(|ground| ground.switch).chain([SUPPLY_5V, SUPPLY_ENABLE]);
        let mut named = BTreeSet::new();
        for pin in outputs.filter(|pin| pin.port == Port::D) {
            assert_eq!(mode(pin), 1, "{pin:?}");
            named.insert(pin);
        }
        for pin in [SERIAL_TX, SERIAL_RX] {
            assert_eq!(mode(pin), 2, "{pin:?}");
            named.insert(pin);
        }
        let upper = used().filter(|(_, _, pin)| pin.port == Port::D && pin.bit >= 8);
        assert!(upper.map(|(_, _, pin)| pin).collect::<BTreeSet<_>>() == named);
    }
}
