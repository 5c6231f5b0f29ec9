//! What the maker allows at each pin in use, and what the fixture does to it.
//!
//! Figures of ST DS9405 (STM32F427xx and STM32F429xx). Where the same figure was read in the data
//! sheet of the sister parts, ST DocID022152 (STM32F405xx and STM32F407xx), tables 11 and 12, it
//! says so; the rest is from memory.

use crate::fixture::{
    DIVIDER_OHMS, DRIVE_MILLIVOLTS, FIRM_KEEPER_OHMS, INPUT_MAX_MILLIVOLTS, SERIES_OHMS,
};
use crate::map::{Pin, Port};
use dipsift_pins::POSITIONS;

mod margins;
mod uses;

pub use margins::{MARGINS, Margin, Unit};
pub use uses::{Duty, Unfit, unfit};

/// How a pin is built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Five-volt tolerant, except in analog mode.
    Ft,
    /// 3.3 V, connected to the converters.
    Tta,
}

/// A limit with its source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// In the unit that the name of the constant says.
    pub value: u32,
    /// Where it is from.
    pub source: &'static str,
}

/// The most that a five-volt tolerant pin may have above the controller's supply.
pub const FT_ABOVE_SUPPLY_MILLIVOLTS: Limit =
    Limit { value: 4_000, source: "ST DocID022152, table 11: VDD + 4 V" };
/// The most that any other pin, or a pin in analog mode, may have.
pub const OTHER_MILLIVOLTS: Limit = Limit { value: 4_000, source: "ST DocID022152, table 11" };
/// The most into or out of one pin.
pub const PIN_MICROAMPS: Limit = Limit { value: 25_000, source: "ST DocID022152, table 12" };
/// The most into or out of all pins together.
pub const ALL_PINS_MICROAMPS: Limit =
    Limit { value: 120_000, source: "ST DS9405, current characteristics, from memory" };
/// The most that may be injected: out of any pin below ground, or into one that is not five-volt
/// tolerant above the supply. Nothing may be forced into a five-volt tolerant pin: it has its
/// voltage limit instead.
pub const INJECTED_MICROAMPS: Limit = Limit { value: 5_000, source: "ST DocID022152, table 12" };
/// The most over all pins that may be injected.
pub const ALL_INJECTED_MICROAMPS: Limit =
    Limit { value: 25_000, source: "ST DocID022152, table 12" };
/// The most into PC13, which the backup domain's switch supplies.
pub const PC13_MICROAMPS: Limit = Limit { value: 3_000, source: "ST DocID022152, table 48 note 1" };

/// Pins that are not five-volt tolerant (ST DS9405, pin definitions, from memory).
const TTA: [Pin; 2] = [Pin { port: Port::A, bit: 4 }, Pin { port: Port::A, bit: 5 }];

/// Pins that the backup domain's switch supplies (the same table, note on PC13 to PC15).
fn is_weak(pin: Pin) -> bool {
    pin.port == Port::C && pin.bit >= 13
}

/// The most into or out of a pin.
pub fn allowed_microamps(pin: Pin) -> u32 {
    if is_weak(pin) { PC13_MICROAMPS.value } else { PIN_MICROAMPS.value }
}

/// How a pin in use is built.
pub fn kind(pin: Pin) -> Kind {
    if TTA.contains(&pin) { Kind::Tta } else { Kind::Ft }
}

/// The most that a pin may have, in millivolts, with the controller at `supply_millivolts` (0 when
/// unpowered).
pub fn allowed_millivolts(pin: Pin, analog: bool, supply_millivolts: u16) -> u32 {
    match kind(pin) {
        Kind::Ft if !analog => u32::from(supply_millivolts) + FT_ABOVE_SUPPLY_MILLIVOLTS.value,
        Kind::Ft | Kind::Tta => OTHER_MILLIVOLTS.value,
    }
}

/// The most that the fixture puts on a measured pin, powered or not: half of the input.
pub const MEASURED_MILLIVOLTS: u32 = INPUT_MAX_MILLIVOLTS as u32 / 2;

/// The most into a driving pin: low, with its position shorted to the full input. The pin's own
/// resistance is left out, which errs on the safe side.
pub const SHORT_TO_INPUT_MICROAMPS: u32 = INPUT_MAX_MILLIVOLTS as u32 * 1_000 / SERIES_OHMS;
/// The most out of a driving pin: high, with its position shorted to ground.
pub const SHORT_TO_GROUND_MICROAMPS: u32 = DRIVE_MILLIVOLTS as u32 * 1_000 / SERIES_OHMS;
/// Into a pin that drives low against its firm keeper, at the input's nominal high.
pub const FIRM_KEEPER_MICROAMPS: u32 =
    DRIVE_MILLIVOLTS as u32 * 1_000 / (FIRM_KEEPER_OHMS + SERIES_OHMS);

/// A standard TTL input at a low level (JEDEC and makers' data books; TI SDLS025, SN7400).
pub const UNIT_LOAD_MICROAMPS: u32 = 1_600;
/// The most unit loads of one chip: 74181 with mode 1, eight operands of 3, four selects of 4 and
/// carry of 5 (TI SDLS136, SN54/74181, from memory).
pub const UNIT_LOADS: u32 = 1 + 8 * 3 + 4 * 4 + 5;

/// Into all pins at once with that chip, of 24 pins: all but its supplies drive low against their
/// firm keepers.
pub const HEAVIEST_CHIP_MICROAMPS: u32 =
    (24 - 2) * FIRM_KEEPER_MICROAMPS + UNIT_LOADS * UNIT_LOAD_MICROAMPS;
/// Into all pins at once with a chip in the whole socket, a unit load at each of its pins.
pub const LARGEST_CHIP_MICROAMPS: u32 =
    (POSITIONS as u32 - 2) * (FIRM_KEEPER_MICROAMPS + UNIT_LOAD_MICROAMPS);

/// Through the divider into the clamp of a measured pin of an unpowered controller.
pub const UNPOWERED_DIVIDER_MICROAMPS: u32 = INPUT_MAX_MILLIVOLTS as u32 * 1_000 / DIVIDER_OHMS;

/// The most into a pin of a position through its series resistor if the full input stood there
/// while the controller has no supply, with nothing but the pin's own clamp to hold it. The maker
/// allows no current into such a pin at all, which is why the supervisor must prevent it.
pub const UNPOWERED_POSITION_MICROAMPS: u32 = SHORT_TO_INPUT_MICROAMPS;
/// The controller's supply below which the full input at a position is too much.
pub const FULL_INPUT_NEEDS_MILLIVOLTS: u32 =
    INPUT_MAX_MILLIVOLTS as u32 - FT_ABOVE_SUPPLY_MILLIVOLTS.value;

/// The most that a chip may hold on a position after the supply is off, in millivolts: the feed
/// switches block both ways and are off without the controller's supply, so that a high output of
/// a chip that nothing feeds is all that is left, and that is below the drivers' level.
pub const UNPOWERED_MILLIVOLTS: u32 = DRIVE_MILLIVOLTS as u32;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::{BUTTON, CURRENT, FEEDS, FINE_CURRENT, SOCKET, used};

    #[test]
    fn a_powered_controller_stands_the_full_input_at_every_position() {
        for pin in SOCKET {
            let allowed = allowed_millivolts(pin, false, DRIVE_MILLIVOLTS);
            assert!(u32::from(INPUT_MAX_MILLIVOLTS) <= allowed, "{pin:?}");
            // And with its own supply at the lowest at which the supervisor lets the feeds on.
            let low = allowed_millivolts(pin, false, crate::fixture::SUPERVISOR_MILLIVOLTS);
            assert!(u32::from(INPUT_MAX_MILLIVOLTS) <= low, "{pin:?}");
        }
    }

    #[test]
    fn an_unpowered_controller_does_not_stand_the_input_so_nothing_may_feed_then() {
        for pin in SOCKET {
            let allowed = allowed_millivolts(pin, false, 0);
            assert!(
                u32::from(INPUT_MAX_MILLIVOLTS) > allowed,
                "the supervisor would not be needed"
            );
            assert!(UNPOWERED_MILLIVOLTS <= allowed, "{pin:?}");
        }
    }

    #[test]
    fn measured_pins_stand_half_of_the_input_powered_or_not() {
        let measured = FEEDS.iter().map(|feed| feed.voltage).chain([CURRENT, FINE_CURRENT]);
        for analog in measured {
            for supply in [0, DRIVE_MILLIVOLTS] {
                assert!(MEASURED_MILLIVOLTS <= allowed_millivolts(analog.pin, true, supply));
            }
        }
        const { assert!(UNPOWERED_DIVIDER_MICROAMPS < INJECTED_MICROAMPS.value) };
        assert!(FEEDS.len() as u32 * UNPOWERED_DIVIDER_MICROAMPS < ALL_INJECTED_MICROAMPS.value);
    }

    #[test]
    fn only_five_volt_tolerant_pins_are_at_positions_and_switches() {
        for (name, position, pin) in used().filter(|(name, ..)| *name != "position voltage") {
            assert_eq!(kind(pin), Kind::Ft, "{name} {position:?}");
        }
        assert!(used().any(|(_, _, pin)| kind(pin) == Kind::Tta), "the table has no such pin");
    }

    #[test]
    fn currents_stay_within_the_maximum_of_a_pin_and_of_all() {
        const { assert!(SHORT_TO_INPUT_MICROAMPS < PIN_MICROAMPS.value) };
        const { assert!(SHORT_TO_GROUND_MICROAMPS < PIN_MICROAMPS.value) };
        for all in [HEAVIEST_CHIP_MICROAMPS, LARGEST_CHIP_MICROAMPS] {
            assert!(all < ALL_PINS_MICROAMPS.value, "{all}");
        }
    }

    #[test]
    fn the_supervisor_opens_the_feeds_long_before_the_input_is_too_much() {
        for pin in SOCKET {
            let needed = FULL_INPUT_NEEDS_MILLIVOLTS as u16;
            assert_eq!(allowed_millivolts(pin, false, needed), u32::from(INPUT_MAX_MILLIVOLTS));
        }
        // Half of what is between leaves the switches their time while the supply falls.
        let opens = u32::from(crate::fixture::SUPERVISOR_MILLIVOLTS);
        assert!(opens >= 2 * FULL_INPUT_NEEDS_MILLIVOLTS);
        const { assert!(UNPOWERED_POSITION_MICROAMPS > INJECTED_MICROAMPS.value) };
    }

    #[test]
    fn the_weak_pin_is_only_read() {
        assert!(used().filter(|(.., pin)| is_weak(*pin)).all(|(.., pin)| pin == BUTTON));
        const { assert!(PC13_MICROAMPS.value < SHORT_TO_GROUND_MICROAMPS) };
    }
}
