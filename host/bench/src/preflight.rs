//! What is looked at before a chip is powered.
//!
//! 1. At rest the supply position must be near 0 V.
//! 2. The ground pin is driven low and the supply pin pulled up by the light keeper. A chip the
//!    right way round draws nothing yet; one turned round conducts through the diode between its
//!    substrate and its supply; a short holds the pin at ground.
//! 3. Ground and all other pins are raised by the light keepers, and one pin after the other is
//!    driven low. A connected pin takes the chip's ground along through its substrate or clamp
//!    diode, so the ground pin reads low. This shows each contact, and that ground is where the
//!    description says.
//!
//! Where step 3 does not fit, the same is done over the whole socket: the one position that
//! follows all connected pins is the chip's ground, and tells a chip that is turned round or
//! shifted. The largest current through a diode is one keeper's, 150 µA, so nothing is fed.

use crate::Placement;
use dipsift_wire::{Header, Kind, Pins, Rail, Seen, Step};

/// Below this a supply position counts as discharged, and a pulled-up one as shorted.
const REST_MV: u16 = 300;
/// Below this a pulled-up supply position conducts through one diode.
const DIODE_MV: u16 = 1_000;

/// What was found before power.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Finding {
    /// Everything is where it should be.
    Ready,
    /// Nothing shows a diode.
    Empty,
    /// The supply pin is shorted to ground, or the chip is turned round.
    ShortOrTurned {
        /// The voltage at the supply pin in millivolts.
        millivolts: u16,
    },
    /// These pins show no diode.
    Open(Pins),
    /// The chip's ground follows at another place than expected; the words say where.
    Misplaced(String),
    /// A voltage remains at rest, in millivolts.
    NotAtRest(u16),
}

/// The keepers' settling time: 5 · 22 kΩ · 60 pF is 7 µs.
pub(crate) const KEEPER_NS: u32 = 10_000;

/// The header of an unpowered program.
pub(crate) fn unpowered(pins: u8, shift: u8) -> Header {
    Header {
        kind: Kind::Vector,
        pins,
        shift,
        power: None,
        settle_ns: KEEPER_NS,
        keeper_ns: KEEPER_NS,
        capture: false,
    }
}

const KEEPERS_HIGH: Step = Step::Keep { light: Rail::High, firm: Rail::Off };
const KEEPERS_OFF: Step = Step::Keep { light: Rail::Off, firm: Rail::Off };

/// The steps of the look at a placed package, for pins that have a function.
pub(crate) fn steps(placement: &Placement, connected: Pins) -> Vec<Step> {
    let ground = placement.ground;
    let supply = placement.feed.iter().next().unwrap_or(0);
    let mut steps = vec![
        Step::Voltage { pin: supply },
        Step::Drive { pins: ground, high: Pins::NONE },
        KEEPERS_HIGH,
        Step::Voltage { pin: supply },
        Step::Release { pins: ground },
    ];
    steps.extend(walk(connected));
    steps.push(KEEPERS_OFF);
    steps
}

/// Drives one pin after the other low and samples all.
fn walk(pins: Pins) -> impl Iterator<Item = Step> {
    pins.iter().flat_map(|pin| {
        let one = Pins::one(pin);
        [Step::Drive { pins: one, high: Pins::NONE }, Step::Sample, Step::Release { pins: one }]
    })
}

/// The steps of the look at the whole socket, as a 40-pin package.
pub(crate) fn survey_steps() -> Vec<Step> {
    let mut steps = vec![KEEPERS_HIGH];
    steps.extend(walk(Pins::all(40)));
    steps.push(KEEPERS_OFF);
    steps
}

fn levels(seen: &[Seen]) -> Vec<Pins> {
    seen.iter()
        .filter_map(|record| match record {
            Seen::Levels(levels) => Some(*levels),
            _ => None,
        })
        .collect()
}

/// Reads the look at a placed package. A chip that is not plainly `Ready` may deserve a survey.
pub(crate) fn read(placement: &Placement, connected: Pins, seen: &[Seen]) -> Finding {
    let mut voltages = seen.iter().filter_map(|record| match record {
        Seen::Voltage(voltage) => *voltage,
        _ => None,
    });
    if let Some(rest) = voltages.next()
        && rest >= REST_MV
    {
        return Finding::NotAtRest(rest);
    }
    if let Some(millivolts) = voltages.next()
        && millivolts < DIODE_MV
    {
        return Finding::ShortOrTurned { millivolts };
    }
    let open: Pins = connected
        .iter()
        .zip(levels(seen))
        .filter(|(_, levels)| placement.ground.iter().any(|ground| levels.contains(ground)))
        .map(|(pin, _)| pin)
        .collect();
    if open.is_empty() {
        Finding::Ready
    } else if open == connected {
        Finding::Empty
    } else {
        Finding::Open(open)
    }
}

/// What a survey of the whole socket shows: the position of the chip's ground and the positions
/// that have contact to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Survey {
    /// The position that follows every other.
    pub ground: u8,
    /// The positions it follows, without itself.
    pub followed: Pins,
}

/// Finds the position that goes low with most others. At least three must take it along: two
/// shorted positions take each other along.
pub(crate) fn survey(seen: &[Seen]) -> Option<Survey> {
    let samples = levels(seen);
    (1..=40u8)
        .map(|ground| Survey {
            ground,
            followed: samples
                .iter()
                .zip(1..=40u8)
                .filter(|(levels, driven)| *driven != ground && !levels.contains(ground))
                .map(|(_, driven)| driven)
                .collect(),
        })
        .max_by_key(|survey| survey.followed.count())
        .filter(|survey| survey.followed.count() >= 3)
}

/// Says in words where a chip with this package really sits, given a survey.
pub(crate) fn whereabouts(placement: &Placement, survey: Option<Survey>) -> Finding {
    let Some(survey) = survey else { return Finding::Empty };
    let expected: Pins = placement.ground.iter().map(|pin| placement.position(pin)).collect();
    if expected.contains(survey.ground) {
        // Ground is right, so what does not follow has no contact.
        return Finding::Ready;
    }
    let occupied = survey.followed.with(survey.ground, true);
    let turned: Pins = placement
        .ground
        .iter()
        .map(|pin| {
            let half = placement.pins / 2;
            placement.position(if pin > half { pin - half } else { pin + half })
        })
        .collect();
    if turned.contains(survey.ground) {
        return Finding::Misplaced("the chip is turned round: look at the notch".into());
    }
    for ground in placement.ground.iter() {
        for away in [-3i16, -2, -1, 1, 2, 3] {
            let left = ground <= placement.pins / 2;
            let moved = i16::from(placement.position(ground)) + if left { away } else { -away };
            if moved == i16::from(survey.ground) {
                let direction = if away > 0 { "away from" } else { "towards" };
                return Finding::Misplaced(format!(
                    "the chip seems to sit {} position{} too far {direction} the end of position 1",
                    away.abs(),
                    if away.abs() == 1 { "" } else { "s" },
                ));
            }
        }
    }
    Finding::Misplaced(format!(
        "the chip's ground shows in position {}, and contacts in {} positions: turned round, \
         shifted, or another part",
        survey.ground,
        occupied.count()
    ))
}
