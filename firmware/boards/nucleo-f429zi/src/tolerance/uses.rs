//! Each pin in use against what its duty puts on it.

use super::{
    MEASURED_MILLIVOLTS, SHORT_TO_INPUT_MICROAMPS, UNPOWERED_DIVIDER_MICROAMPS,
    UNPOWERED_MILLIVOLTS, allowed_microamps, allowed_millivolts,
};
use crate::fixture::{
    DRIVE_MILLIVOLTS, INPUT_MAX_MILLIVOLTS, PULL_OHMS, SENSE_OHMS, SUPERVISOR_MILLIVOLTS,
};
use crate::map::Pin;

/// What a pin is used for, as far as it matters to the pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Duty {
    /// Behind the series resistor of a position.
    Position,
    /// Behind the divider of a fed position, in analog mode.
    Divided,
    /// At a shunt amplifier, in analog mode.
    Sensed,
    /// A line of the fixture, held by its pull: driven, or read from an open drain.
    Line,
    /// Something on the board itself.
    Board,
}

impl Duty {
    /// Every duty.
    pub const ALL: [Self; 5] =
        [Self::Position, Self::Divided, Self::Sensed, Self::Line, Self::Board];

    /// The duty of a pin by its name in the map; `None` for a name that nobody has thought about.
    pub fn of(name: &str) -> Option<Self> {
        Some(match name {
            "position" => Self::Position,
            "position voltage" => Self::Divided,
            "supply current" | "fine supply current" => Self::Sensed,
            "feed switch"
            | "ground switch"
            | "light keepers, level"
            | "light keepers, enable"
            | "firm keepers, level"
            | "firm keepers, enable"
            | "5 V select"
            | "supply enable"
            | "bleeder"
            | "fine current range"
            | "limiter fault"
            | "limiter reset" => Self::Line,
            "lamp go" | "lamp not decided" | "lamp no-go" | "button" | "serial out"
            | "serial in" => Self::Board,
            _ => return None,
        })
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Position => "positions",
            Self::Divided => "voltages, by dividers",
            Self::Sensed => "currents, at amplifiers",
            Self::Line => "switch and control lines",
            Self::Board => "the board's own",
        }
    }

    /// Whether the pin is in analog mode.
    pub const fn analog(self) -> bool {
        matches!(self, Self::Divided | Self::Sensed)
    }

    /// The most that stands at the pin, in millivolts.
    pub const fn millivolts(self, powered: bool) -> u32 {
        match (self, powered) {
            (Self::Position, true) => INPUT_MAX_MILLIVOLTS as u32,
            (Self::Position, false) => UNPOWERED_MILLIVOLTS,
            (Self::Divided, _) => MEASURED_MILLIVOLTS,
            // Amplifiers, pulls and the board run from the controller's supply, and go with it.
            (Self::Sensed | Self::Line | Self::Board, true) => DRIVE_MILLIVOLTS as u32,
            (Self::Sensed | Self::Line | Self::Board, false) => 0,
        }
    }

    /// The most into or out of the pin, in microamperes.
    pub const fn microamps(self) -> u32 {
        match self {
            Self::Position => SHORT_TO_INPUT_MICROAMPS,
            Self::Divided => UNPOWERED_DIVIDER_MICROAMPS,
            Self::Sensed => DRIVE_MILLIVOLTS as u32 * 1_000 / SENSE_OHMS,
            Self::Line => DRIVE_MILLIVOLTS as u32 * 1_000 / PULL_OHMS,
            // The board's maker has seen to its lamps; the button and the port are only signals.
            Self::Board => 0,
        }
    }

    /// The lowest supply of the controller at which [`Duty::millivolts`] may stand at the pin.
    pub const fn supply_millivolts(self, powered: bool) -> u16 {
        match (self, powered) {
            (_, false) => 0,
            (_, true) => SUPERVISOR_MILLIVOLTS,
        }
    }

    /// What a pin with this duty is allowed, in millivolts.
    pub fn allowed_millivolts(self, pin: Pin, powered: bool) -> u32 {
        allowed_millivolts(pin, self.analog(), self.supply_millivolts(powered))
    }
}

/// A pin that does not stand its duty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unfit {
    /// Its name in the map.
    pub name: &'static str,
    /// Its position, where it serves one.
    pub position: Option<u8>,
    /// The pin.
    pub pin: Pin,
}

/// The pins of a map that do not stand their duties, powered or not. A name without a duty counts
/// as unfit.
pub fn unfit(
    used: impl Iterator<Item = (&'static str, Option<u8>, Pin)>,
) -> impl Iterator<Item = Unfit> {
    used.filter(|&(name, _, pin)| {
        Duty::of(name).is_none_or(|duty| {
            let volts = |powered| duty.millivolts(powered) > duty.allowed_millivolts(pin, powered);
            volts(true) || volts(false) || duty.microamps() > allowed_microamps(pin)
        })
    })
    .map(|(name, position, pin)| Unfit { name, position, pin })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::{BUTTON, Port, pin, used};
    use std::vec::Vec;

    #[test]
    fn every_pin_in_use_stands_its_duty() {
        assert_eq!(unfit(used()).collect::<Vec<_>>(), []);
        for duty in Duty::ALL {
            assert!(used().any(|(name, ..)| Duty::of(name) == Some(duty)), "{duty:?}");
        }
    }

    /// The map, with what one line of it says moved to another pin.
    fn moved(what: &str, to: Pin) -> Vec<Unfit> {
        let mut map: Vec<_> = used().collect();
        map.iter_mut().find(|(name, ..)| *name == what).unwrap().2 = to;
        unfit(map.into_iter()).collect()
    }

    #[test]
    fn a_position_on_a_pin_without_tolerance_or_strength_is_found() {
        // PA4 and PA5 are not five-volt tolerant; PC13 to PC15 carry 3 mA.
        for to in [pin(Port::A, 4), pin(Port::A, 5), BUTTON, pin(Port::C, 15)] {
            let found = moved("position", to);
            assert_eq!(found, [Unfit { name: "position", position: Some(1), pin: to }]);
        }
        assert_eq!(moved("position", pin(Port::B, 12)), []);
        // Behind a divider or on a line of 3.3 V such a pin is good enough.
        assert_eq!(moved("position voltage", pin(Port::A, 5)), []);
        assert_eq!(moved("feed switch", pin(Port::A, 4)), []);
    }

    #[test]
    fn a_use_that_nobody_has_thought_about_is_found() {
        let strange = ("loudspeaker", None, pin(Port::A, 0));
        assert_eq!(unfit([strange].into_iter()).count(), 1);
    }
}
