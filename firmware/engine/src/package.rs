//! Package pins to socket positions.

use dipsift_pins::{POSITIONS, Positions};
use dipsift_wire::{Pins, Refusal};

/// Where a dual in-line package sits: its pins and their positions.
///
/// Pin 1 lies `shift` positions beyond position 1. The left half of the pins follows upwards from
/// there; the right half ends opposite pin 1, at position 40 − `shift`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Package {
    pins: u8,
    left: u8,
    right: u8,
}

impl Package {
    /// A package of `pins` pins, even, 4 to 40, placed `shift` positions beyond position 1.
    ///
    /// # Errors
    ///
    /// [`Refusal::Package`] where there is no such package or it would stick out of the socket.
    pub const fn new(pins: u8, shift: u8) -> Result<Self, Refusal> {
        let exists = pins >= 4 && pins <= POSITIONS && pins.is_multiple_of(2);
        if exists && shift <= (POSITIONS - pins) / 2 {
            Ok(Self { pins, left: shift, right: POSITIONS - pins - shift })
        } else {
            Err(Refusal::Package)
        }
    }

    /// How many pins it has.
    pub const fn count(self) -> u8 {
        self.pins
    }

    /// Its pins.
    pub const fn pins(self) -> Pins {
        Pins::all(self.pins)
    }

    /// Whether it has all these pins.
    pub const fn has(self, pins: Pins) -> bool {
        pins.0 & !self.pins().0 == 0
    }

    /// The positions of pins; pins that it lacks have none.
    pub const fn positions(self, pins: Pins) -> Positions {
        let left = Pins::all(self.pins / 2).0;
        let right = self.pins().0 & !left;
        Positions::from_bits((pins.0 & left) << self.left | (pins.0 & right) << self.right)
    }

    /// The pins at positions; positions outside the package have none.
    pub const fn at(self, positions: Positions) -> Pins {
        let left = Pins::all(self.pins / 2).0;
        let right = self.pins().0 & !left;
        let bits = positions.bits();
        Pins((bits >> self.left) & left | (bits >> self.right) & right)
    }

    /// The position of one pin; `None` where it lacks the pin.
    pub const fn position(self, pin: u8) -> Option<u8> {
        if pin == 0 || pin > self.pins {
            None
        } else if pin <= self.pins / 2 {
            Some(pin + self.left)
        } else {
            Some(pin + self.right)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The socket is numbered like a 40-pin package, so pins sit where a smaller package's rows
    /// lie beside the larger one's: typed, not computed.
    #[test]
    fn pins_sit_at_their_positions() {
        let dip14 = Package::new(14, 0).unwrap();
        assert_eq!(dip14.position(1), Some(1));
        assert_eq!(dip14.position(7), Some(7));
        assert_eq!(dip14.position(8), Some(34));
        assert_eq!(dip14.position(14), Some(40));
        assert_eq!(dip14.position(15), None);
        assert_eq!(dip14.position(0), None);
        let shifted = Package::new(16, 2).unwrap();
        assert_eq!(shifted.position(1), Some(3));
        assert_eq!(shifted.position(8), Some(10));
        assert_eq!(shifted.position(9), Some(31));
        assert_eq!(shifted.position(16), Some(38));
        let dip40 = Package::new(40, 0).unwrap();
        assert!((1..=40).all(|pin| dip40.position(pin) == Some(pin)));
    }

    #[test]
    fn sets_and_single_pins_agree() {
        for pins in (4..=40).step_by(2) {
            for shift in 0..=(40 - pins) / 2 {
                let package = Package::new(pins, shift).unwrap();
                let mut all = Positions::NONE;
                for pin in 1..=pins {
                    let one = package.positions(Pins::one(pin));
                    assert_eq!(Some(one), package.position(pin).map(Positions::one));
                    assert_eq!(package.at(one), Pins::one(pin));
                    assert!(!all.overlaps(one));
                    all |= one;
                }
                assert_eq!(package.positions(Pins(u64::MAX)), all);
                assert_eq!(package.at(Positions::ALL), package.pins());
            }
        }
    }

    #[test]
    fn packages_that_do_not_fit_are_refused() {
        for (pins, shift) in [(0, 0), (2, 0), (13, 0), (42, 0), (255, 0), (40, 1), (14, 14)] {
            assert_eq!(Package::new(pins, shift), Err(Refusal::Package), "{pins} {shift}");
        }
        assert!(Package::new(14, 13).is_ok());
        assert_eq!(Package::new(14, 255), Err(Refusal::Package));
    }
}
