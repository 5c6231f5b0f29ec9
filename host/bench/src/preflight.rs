//! What is looked at before a chip is powered.
//!
//! 1. At rest the supply position must be near 0 V.
//! 2. The ground pin is driven low and the supply pin pulled up by the light keeper. A chip the
//!    right way round draws little yet; one turned round conducts through the diode between its
//!    substrate and its supply; a short holds the pin at ground.
//! 3. Ground and all other pins are raised by their drivers, so that no supply stands across the
//!    chip. One pin after the other is released to the light keeper, which pulls it low: a
//!    connected pin is held up by its clamp or substrate diode to the raised ground, an open one
//!    is not.
//! 4. Where the ground would be if the chip were turned or shifted, that pin is released
//!    together with an input: a good chip's ground, raised elsewhere, holds both up; a real
//!    ground there is now low and lets the input fall.
//!
//! What does not fit leads to a survey of the whole socket: each position is raised alone, and
//! the chip's ground is the one that most others follow.

use crate::Placement;
use crate::seen::{SOCKET, levels};
use dipsift_language::Class;
use dipsift_wire::{Header, Kind, Pins, Rail, Seen, Step};

/// Below this a supply position counts as discharged.
const REST_MV: u16 = 300;
/// Below this a pulled-up supply position is shorted or conducts through one diode, for bipolar
/// chips: a good one stands at 2 V or more, one with an input at ground at 0.8 V or more, since its
/// input resistor pulls the supply down to that.
const TTL_DIODE_MV: u16 = 750;
/// The same for MOS: the keepers of the other pins feed a MOS chip through its upper diodes, and
/// lift a turned one to 1.4 V; a good one stands near 3 V.
const MOS_DIODE_MV: u16 = 1_500;

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

const fn light(rail: Rail) -> Step {
    Step::Keep { light: rail, firm: Rail::Off }
}

/// What one sample of the look tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Probe {
    /// Whether this pin has contact.
    Contact(u8),
    /// Whether the chip's ground is at `place`: then `witness` falls.
    Ground { place: u8, witness: u8 },
}

/// The look at a placed package: its steps and what their samples tell.
pub(crate) struct Look {
    pub steps: Vec<Step>,
    probes: Vec<Probe>,
    connected: Pins,
    diode_mv: u16,
}

/// How far a chip is shifted by mistake.
const SHIFTS: [i16; 6] = [-3, -2, -1, 1, 2, 3];

impl Look {
    /// The look at a placed package. `connected` are the pins with a function, `inputs` those of
    /// them that are inputs only.
    pub fn new(placement: &Placement, class: Class, connected: Pins, inputs: Pins) -> Self {
        let ground = placement.ground;
        let all = Pins(connected.0 | ground.0);
        let mut steps = Vec::new();
        if let Some(supply) = placement.feed.iter().next() {
            steps.extend([
                Step::Voltage { pin: supply },
                Step::Drive { pins: ground, high: Pins::NONE },
                light(Rail::High),
                Step::Voltage { pin: supply },
                Step::Release { pins: ground },
            ]);
        }
        steps.extend([light(Rail::Low), Step::Drive { pins: all, high: all }]);
        let mut probes: Vec<Probe> = connected.iter().map(Probe::Contact).collect();
        for place in misplaced_grounds(placement).iter().filter(|&pin| connected.contains(pin)) {
            let witness = inputs.iter().find(|&pin| pin != place);
            probes.extend(witness.map(|witness| Probe::Ground { place, witness }));
        }
        for probe in &probes {
            let pins = match *probe {
                Probe::Contact(pin) => Pins::one(pin),
                Probe::Ground { place, witness } => Pins::one(place).with(witness, true),
            };
            steps.extend([Step::Release { pins }, Step::Sample, Step::Drive { pins, high: pins }]);
        }
        steps.extend([Step::Release { pins: all }, light(Rail::Off)]);
        let diode_mv = if class == Class::Ttl { TTL_DIODE_MV } else { MOS_DIODE_MV };
        Self { steps, probes, connected, diode_mv }
    }

    /// The same look for a station that judges it itself: steps that expect what [`read`](Self::read)
    /// takes for ready, and the least and the most millivolts of each measured voltage.
    pub fn expecting(&self) -> (Vec<Step>, Vec<(u16, u16)>) {
        let mut probes = self.probes.iter();
        let mut voltages = [(0, REST_MV - 1), (self.diode_mv, u16::MAX)].into_iter();
        let mut bounds = Vec::new();
        let steps = self.steps.iter().map(|step| match (step, probes.as_slice().first()) {
            (Step::Sample, Some(probe)) => {
                probes.next();
                let (Probe::Contact(pin) | Probe::Ground { witness: pin, .. }) = *probe;
                Step::Expect { pins: Pins::one(pin), high: Pins::one(pin) }
            }
            (Step::Voltage { .. }, _) => {
                bounds.extend(voltages.next());
                *step
            }
            _ => *step,
        });
        let steps = steps.collect();
        (steps, bounds)
    }

    /// Reads what the look has shown. A chip that is not plainly `Ready` may deserve a survey.
    pub fn read(&self, seen: &[Seen]) -> Finding {
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
            && millivolts < self.diode_mv
        {
            return Finding::ShortOrTurned { millivolts };
        }
        let mut open = Pins::NONE;
        let mut elsewhere = false;
        for (probe, levels) in self.probes.iter().zip(levels(seen)) {
            match *probe {
                Probe::Contact(pin) => open = open.with(pin, !levels.contains(pin)),
                Probe::Ground { witness, .. } => {
                    elsewhere |= !open.contains(witness) && !levels.contains(witness);
                }
            }
        }
        if elsewhere {
            Finding::Misplaced("the chip's ground is not where it should be".into())
        } else if open.is_empty() {
            Finding::Ready
        } else if open == self.connected {
            Finding::Empty
        } else {
            Finding::Open(open)
        }
    }
}

/// The package pins at which the ground would be if the chip were turned round or shifted.
fn misplaced_grounds(placement: &Placement) -> Pins {
    let half = placement.pins / 2;
    let mut places = Pins::NONE;
    for ground in placement.ground.iter() {
        places = places.with(opposite(placement.pins, ground), true);
        for away in SHIFTS {
            let moved = i16::from(ground) + if ground <= half { away } else { -away };
            let same_side = if ground <= half {
                1..=i16::from(half)
            } else {
                i16::from(half) + 1..=i16::from(placement.pins)
            };
            if same_side.contains(&moved) {
                places = places.with(moved as u8, true);
            }
        }
    }
    Pins(places.0 & !placement.ground.0)
}

/// The pin that lies where `pin` would, with the package turned round.
const fn opposite(pins: u8, pin: u8) -> u8 {
    let half = pins / 2;
    if pin > half { pin - half } else { pin + half }
}

/// Step 3 over the whole socket, as a 40-pin package.
pub(crate) fn contact_steps() -> Vec<Step> {
    let mut steps = vec![light(Rail::Low), Step::Drive { pins: SOCKET, high: SOCKET }];
    for pins in SOCKET.iter().map(Pins::one) {
        steps.extend([Step::Release { pins }, Step::Sample, Step::Drive { pins, high: pins }]);
    }
    steps.extend([Step::Release { pins: SOCKET }, light(Rail::Off)]);
    steps
}

/// The positions with contact to something.
pub(crate) fn contacts(seen: &[Seen]) -> Pins {
    SOCKET
        .iter()
        .zip(levels(seen))
        .filter(|(position, levels)| levels.contains(*position))
        .map(|(position, _)| position)
        .collect()
}

/// How often each position is sampled in a survey: followers sag with the keepers' load, and
/// between the certain levels a sample is a matter of luck.
const LOOKS: usize = 4;

/// The survey of the whole socket, as a 40-pin package.
pub(crate) fn survey_steps() -> Vec<Step> {
    let mut steps = vec![light(Rail::Low)];
    for pins in SOCKET.iter().map(Pins::one) {
        steps.push(Step::Drive { pins, high: pins });
        steps.extend([Step::Sample; LOOKS]);
        steps.push(Step::Release { pins });
    }
    steps.push(light(Rail::Off));
    steps
}

/// What a survey of the whole socket shows: the position of the chip's ground and the positions
/// that follow it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Survey {
    /// The position that most others follow.
    pub ground: u8,
    /// Those others.
    pub followers: Pins,
}

/// Finds the position that most others follow. At least three must: two shorted positions
/// follow each other.
///
/// `expected` are the positions where ground should be. Raising a supply pin starts a chip a
/// little and lets its inputs rise to doubtful levels, so an expected ground needs but three
/// quarters of the most followers.
pub(crate) fn survey(seen: &[Seen], expected: Pins) -> Option<Survey> {
    let surveys: Vec<Survey> = SOCKET
        .iter()
        .zip(levels(seen).chunks(LOOKS))
        .map(|(ground, looks)| {
            let high = looks.iter().fold(0, |all, levels| all | levels.0);
            Survey { ground, followers: Pins(high).with(ground, false) }
        })
        .filter(|survey| survey.followers.count() >= 3)
        .collect();
    let most = *surveys.iter().max_by_key(|survey| survey.followers.count())?;
    let enough = |survey: &&Survey| {
        expected.contains(survey.ground)
            && survey.followers.count() * 4 >= most.followers.count() * 3
    };
    Some(surveys.iter().find(enough).copied().unwrap_or(most))
}

/// The socket positions where a placed package has its ground.
pub(crate) fn expected_grounds(placement: &Placement) -> Pins {
    placement.ground.iter().map(|pin| placement.position(pin)).collect()
}

/// Says in words where a chip with this package really sits, given a survey.
pub(crate) fn whereabouts(placement: &Placement, survey: Option<Survey>) -> Finding {
    let Some(survey) = survey else { return Finding::Empty };
    if expected_grounds(placement).contains(survey.ground) {
        // Ground is right, so what does not follow has no contact.
        return Finding::Ready;
    }
    let turned: Pins = placement
        .ground
        .iter()
        .map(|pin| placement.position(opposite(placement.pins, pin)))
        .collect();
    if turned.contains(survey.ground) {
        return Finding::Misplaced("the chip is turned round: look at the notch".into());
    }
    for ground in placement.ground.iter() {
        for away in SHIFTS {
            let left = ground <= placement.pins / 2;
            let moved = i16::from(placement.position(ground)) + if left { away } else { -away };
            if moved == i16::from(survey.ground) {
                let towards = if away > 0 { 20 } else { 1 };
                let positions = if away.abs() == 1 { "position" } else { "positions" };
                return Finding::Misplaced(format!(
                    "the chip seems to sit {} {positions} too near to position {towards}",
                    away.abs(),
                ));
            }
        }
    }
    Finding::Misplaced(format!(
        "the chip's ground shows in position {}, followed by {} others: turned round, shifted, \
         or another part",
        survey.ground,
        survey.followers.count()
    ))
}
