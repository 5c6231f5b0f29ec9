//! What the maker allows at each pin in use, and what the fixture does to it.
//!
//! Figures of ST DS9405 (STM32F427xx and STM32F429xx). Where the same figure was read in the data
//! sheet of the sister parts, ST DocID022152 (STM32F405xx and STM32F407xx), tables 11 and 12, it
//! says so; the rest is from memory.

use crate::fixture::{
    DIVIDER_OHMS, DRIVE_MILLIVOLTS, FIRM_KEEPER_OHMS, INPUT_MAX_MILLIVOLTS, SERIES_OHMS,
    SUPERVISOR_MILLIVOLTS,
};
use crate::map::{Pin, Port};
use dipsift_pins::POSITIONS;

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
/// The most that may be drawn out of a pin below ground.
pub const INJECTED_MICROAMPS: Limit = Limit { value: 5_000, source: "ST DocID022152, table 12" };
/// The most over all pins that may be injected.
pub const ALL_INJECTED_MICROAMPS: Limit =
    Limit { value: 25_000, source: "ST DocID022152, table 12" };
/// The most into PC13, which the backup domain's switch supplies.
pub const PC13_MICROAMPS: Limit = Limit { value: 3_000, source: "ST DocID022152, table 48 note 1" };

/// Pins that are not five-volt tolerant (ST DS9405, pin definitions, from memory).
const TTA: [Pin; 2] = [Pin { port: Port::A, bit: 4 }, Pin { port: Port::A, bit: 5 }];

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

/// The most that a chip may hold on a position after the supply is off, in millivolts: the feed
/// switches block both ways and are off without the controller's supply, so that a high output of
/// a chip that nothing feeds is all that is left, and that is below the drivers' level.
pub const UNPOWERED_MILLIVOLTS: u32 = DRIVE_MILLIVOLTS as u32;

/// The most that a chip's clamp may take a position below ground: its input clamp, less the
/// controller pin's own clamp (TI SDLS025: VIK is -1.5 V at most; the pin's diode from memory).
const BELOW_GROUND_MILLIVOLTS: u32 = 1_500 - 500;
/// Out of a pin of a position that a chip holds below ground.
pub const BELOW_GROUND_MICROAMPS: u32 = BELOW_GROUND_MILLIVOLTS * 1_000 / SERIES_OHMS;

/// What the fixture does to a pin at worst, against what its maker allows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Margin {
    /// The case.
    pub what: &'static str,
    /// Whether the controller has its supply.
    pub powered: bool,
    /// Millivolts or microamperes.
    pub unit: Unit,
    /// The most that the fixture does.
    pub most: u32,
    /// The most that is allowed.
    pub allowed: u32,
    /// Where the limit is from.
    pub source: &'static str,
}

/// What a margin is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // words
pub enum Unit {
    Millivolts,
    Microamps,
}

const fn volts(what: &'static str, powered: bool, most: u32, allowed: u32, from: &Limit) -> Margin {
    Margin { what, powered, unit: Unit::Millivolts, most, allowed, source: from.source }
}

const fn amps(what: &'static str, powered: bool, most: u32, limit: &Limit) -> Margin {
    let (unit, allowed, source) = (Unit::Microamps, limit.value, limit.source);
    Margin { what, powered, unit, most, allowed, source }
}

/// Every margin, powered first.
pub const MARGINS: &[Margin] = &[
    volts(
        "a position at the full input, the controller's supply at its lowest",
        true,
        INPUT_MAX_MILLIVOLTS as u32,
        SUPERVISOR_MILLIVOLTS as u32 + FT_ABOVE_SUPPLY_MILLIVOLTS.value,
        &FT_ABOVE_SUPPLY_MILLIVOLTS,
    ),
    volts(
        "a measured pin, behind its divider",
        true,
        MEASURED_MILLIVOLTS,
        OTHER_MILLIVOLTS.value,
        &OTHER_MILLIVOLTS,
    ),
    amps("a low driver shorted to the full input", true, SHORT_TO_INPUT_MICROAMPS, &PIN_MICROAMPS),
    amps("a high driver shorted to ground", true, SHORT_TO_GROUND_MICROAMPS, &PIN_MICROAMPS),
    amps(
        "all drivers low with the heaviest chip",
        true,
        HEAVIEST_CHIP_MICROAMPS,
        &ALL_PINS_MICROAMPS,
    ),
    amps(
        "all drivers low with the largest chip",
        true,
        LARGEST_CHIP_MICROAMPS,
        &ALL_PINS_MICROAMPS,
    ),
    amps(
        "a position held below ground by a chip's clamp",
        true,
        BELOW_GROUND_MICROAMPS,
        &INJECTED_MICROAMPS,
    ),
    volts(
        "a position that nothing feeds",
        false,
        UNPOWERED_MILLIVOLTS,
        FT_ABOVE_SUPPLY_MILLIVOLTS.value,
        &FT_ABOVE_SUPPLY_MILLIVOLTS,
    ),
    volts(
        "a measured pin, behind its divider",
        false,
        MEASURED_MILLIVOLTS,
        OTHER_MILLIVOLTS.value,
        &OTHER_MILLIVOLTS,
    ),
    amps(
        "through a divider into a measured pin's clamp",
        false,
        UNPOWERED_DIVIDER_MICROAMPS,
        &INJECTED_MICROAMPS,
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_margin_is_kept_and_none_is_trivial() {
        for margin in MARGINS {
            assert!(margin.most < margin.allowed, "{margin:?}");
            assert!(margin.most > 0, "{margin:?}");
        }
    }
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
    fn a_position_below_ground_draws_little_from_its_pin() {
        const { assert!(BELOW_GROUND_MICROAMPS < INJECTED_MICROAMPS.value) };
    }

    #[test]
    fn the_weak_pin_is_only_read() {
        let weak = |pin: Pin| pin.port == Port::C && pin.bit >= 13;
        assert!(used().filter(|(.., pin)| weak(*pin)).all(|(.., pin)| pin == BUTTON));
        const { assert!(PC13_MICROAMPS.value < SHORT_TO_GROUND_MICROAMPS) };
    }
}
