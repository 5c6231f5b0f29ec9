//! The worst cases beside those of each pin's own duty.

use super::{
    ALL_INJECTED_MICROAMPS, ALL_PINS_MICROAMPS, FULL_INPUT_NEEDS_MILLIVOLTS,
    HEAVIEST_CHIP_MICROAMPS, INJECTED_MICROAMPS, LARGEST_CHIP_MICROAMPS, Limit, PIN_MICROAMPS,
    SHORT_TO_GROUND_MICROAMPS, SHORT_TO_INPUT_MICROAMPS, UNPOWERED_DIVIDER_MICROAMPS,
};
use crate::fixture::{
    DRIVE_MILLIVOLTS, FIRM_KEEPER_OHMS, LIGHT_KEEPER_OHMS, SERIES_OHMS, SUPERVISOR_MILLIVOLTS,
};
use crate::map::FEEDS;
use dipsift_pins::POSITIONS;

/// The most that a chip's clamp may take a position below ground: its input clamp, less the
/// controller pin's own clamp (TI SDLS025: VIK is -1.5 V at most; the pin's diode from memory).
const BELOW_GROUND_MILLIVOLTS: u32 = 1_500 - 500;
/// Out of a pin of a position that a chip holds below ground.
const BELOW_GROUND_MICROAMPS: u32 = BELOW_GROUND_MILLIVOLTS * 1_000 / SERIES_OHMS;

/// Out of all pins at once that drive high against both keepers low.
const ALL_HIGH_MICROAMPS: u32 = POSITIONS as u32
    * (DRIVE_MILLIVOLTS as u32 * 1_000 / (FIRM_KEEPER_OHMS + SERIES_OHMS)
        + DRIVE_MILLIVOLTS as u32 * 1_000 / (LIGHT_KEEPER_OHMS + SERIES_OHMS));

/// What the fixture does at worst, against what the maker allows.
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

const fn amps(what: &'static str, powered: bool, most: u32, limit: &Limit) -> Margin {
    let (unit, allowed, source) = (Unit::Microamps, limit.value, limit.source);
    Margin { what, powered, unit, most, allowed, source }
}

/// Every margin, powered first.
pub const MARGINS: &[Margin] = &[
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
        "all drivers high against both keepers low",
        true,
        ALL_HIGH_MICROAMPS,
        &ALL_PINS_MICROAMPS,
    ),
    amps(
        "a position held below ground by a chip's clamp",
        true,
        BELOW_GROUND_MICROAMPS,
        &INJECTED_MICROAMPS,
    ),
    Margin {
        what: "the controller's supply that the full input needs, and where the supervisor opens \
               the feeds while it falls",
        powered: false,
        unit: Unit::Millivolts,
        most: FULL_INPUT_NEEDS_MILLIVOLTS,
        allowed: SUPERVISOR_MILLIVOLTS as u32,
        source: "ST DocID022152, table 11: VDD + 4 V",
    },
    amps(
        "through a divider into a measured pin's clamp",
        false,
        UNPOWERED_DIVIDER_MICROAMPS,
        &INJECTED_MICROAMPS,
    ),
    amps(
        "through all dividers together",
        false,
        FEEDS.len() as u32 * UNPOWERED_DIVIDER_MICROAMPS,
        &ALL_INJECTED_MICROAMPS,
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
        assert!(MARGINS.is_sorted_by_key(|margin| !margin.powered));
    }
}
