//! Vectors for every part of the library.

use dipsift_generator::{Conditions, Expected, Player, Vectors, escapes, generate, replay};
use dipsift_language::{
    Class, Driver, Library, Node, Output, Package, PackageKind, Part, PinId, Role,
};
use dipsift_wire::{Pins, Step};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::sync::{Arc, OnceLock};

struct Case {
    part: Arc<Part>,
    package: Package,
    conditions: Conditions,
    vectors: Vectors,
}

/// Every part in its first family of each class that the library names, made once.
fn cases() -> &'static [Case] {
    static CASES: OnceLock<Vec<Case>> = OnceLock::new();
    CASES.get_or_init(make_cases)
}

/// One case of every part, for what hardly depends on the family.
fn one_of_each() -> impl Iterator<Item = &'static Case> {
    cases().chunk_by(|one, other| one.part.number == other.part.number).map(|cases| &cases[0])
}

fn make_cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for part in Library::builtin().iter() {
        if part.memory.is_some() {
            continue;
        }
        for class in [Class::Ttl, Class::TtlLevelMos, Class::Cmos] {
            let Some(&family) = part.made.iter().find(|family| family.class() == class) else {
                continue;
            };
            let package = part.package(PackageKind::Dip, family).expect("a package").clone();
            let conditions = Conditions::reference(family);
            let vectors = generate(part, &package, &conditions)
                .unwrap_or_else(|error| panic!("{}: {error}", part.number));
            println!("{} {}: {} steps", part.number, family.word(), vectors.steps.len());
            cases.push(Case { part: Arc::clone(part), package, conditions, vectors });
        }
    }
    cases
}

fn name(case: &Case) -> String {
    format!("{} {}", case.part.number, case.conditions.family.word())
}

/// The part with an input's level, or an output's, at a constant.
fn stuck(part: &Part, pin: PinId, high: bool, output: bool) -> Arc<Part> {
    let mut part = part.clone();
    let constant = if high { Node::One } else { Node::Zero };
    if output {
        // Nodes stand before their users, so the constant may stand last.
        part.network.nodes.push(constant);
        let value = dipsift_language::NodeId(part.network.nodes.len() as u32 - 1);
        for driver in part.network.drivers.iter_mut().filter(|driver| driver.pin == pin) {
            *driver = Driver { pin, value, enable: None };
        }
        // Stuck high shows against an open collector too.
        part.pins[usize::from(pin.0)].output = Some(Output::TotemPole);
    } else {
        for node in part.network.nodes.iter_mut().filter(|node| **node == Node::Pin(pin)) {
            *node = constant;
        }
    }
    Arc::new(part)
}

#[test]
fn every_stuck_pin_of_every_part_is_found() {
    let mut table = String::new();
    for case in cases() {
        let mut missed = Vec::new();
        for id in case.part.pin_ids().filter(|id| case.package.numbers(*id).next().is_some()) {
            let pin = case.part.pin(id);
            let sides: &[bool] = match pin.role {
                Role::Input => &[false],
                Role::Output => &[true],
                Role::Bidirectional => &[false, true],
                _ => &[],
            };
            for &output in sides {
                for high in [false, true] {
                    // An open collector that is stuck open is a stuck high.
                    let other = stuck(&case.part, id, high, output);
                    if escapes(&other, &case.package, &case.conditions, &case.vectors.steps) {
                        let level = if high { "high" } else { "low" };
                        let side = if output { "output" } else { "input" };
                        missed.push(format!("{} {side} stuck {level}", pin.name));
                    }
                }
            }
        }
        let steps = case.vectors.steps.len();
        assert!(steps < 6_000, "{}: {steps} steps", name(case));
        if !missed.is_empty() {
            writeln!(table, "{}: {}", name(case), missed.join(", ")).expect("writes");
        }
    }
    assert_eq!(table, "");
}

/// A keeper of 2.2 kΩ does not hold a Schottky input of one unit load low, so the pins that are
/// both inputs and outputs are not proven off there.
const LEFT_OPEN: [&str; 8] = [
    "74299 S: pin 4 (GQG) is never proven off",
    "74299 S: pin 5 (EQE) is never proven off",
    "74299 S: pin 6 (CQC) is never proven off",
    "74299 S: pin 7 (AQA) is never proven off",
    "74299 S: pin 13 (BQB) is never proven off",
    "74299 S: pin 14 (DQD) is never proven off",
    "74299 S: pin 15 (FQF) is never proven off",
    "74299 S: pin 16 (HQH) is never proven off",
];

#[test]
fn nothing_is_left_open_but_what_is_known() {
    let line = |case: &Case| {
        let name = name(case);
        case.vectors.untested.iter().map(move |line| format!("{name}: {line}")).collect::<Vec<_>>()
    };
    let all: Vec<String> = cases().iter().flat_map(line).collect();
    assert_eq!(all, LEFT_OPEN);
}

#[test]
fn neighbours_are_seen_apart() {
    let mut table = String::new();
    for case in one_of_each() {
        let count = case.package.pins.len() as u8;
        let signal = |number: u8| {
            case.package.at(number).is_some_and(|id| {
                matches!(case.part.pin(id).role, Role::Input | Role::Output | Role::Bidirectional)
            })
        };
        let mut apart = BTreeSet::new();
        let mut driven = (Pins::NONE, Pins::NONE);
        for step in &case.vectors.steps {
            match *step {
                Step::Drive { pins, high } => {
                    driven.0.0 |= pins.0;
                    driven.1.0 = (driven.1.0 & !pins.0) | high.0;
                }
                Step::Release { pins } => driven.0.0 &= !pins.0,
                Step::Pulse { .. } => {}
                Step::Expect { pins, high } => {
                    let known = Pins(pins.0 | driven.0.0);
                    let level = |pin: u8| {
                        if driven.0.contains(pin) {
                            driven.1.contains(pin)
                        } else {
                            high.contains(pin)
                        }
                    };
                    for a in (1..count).filter(|&a| a != count / 2) {
                        let b = a + 1;
                        if known.contains(a) && known.contains(b) && level(a) != level(b) {
                            apart.insert((a, level(a)));
                        }
                    }
                }
                _ => {}
            }
        }
        let possible = wander(case);
        let missed: Vec<String> = (1..count)
            .filter(|&a| a != count / 2 && signal(a) && signal(a + 1))
            .flat_map(|a| [(a, false), (a, true)])
            .filter(|pair| possible.contains(pair) && !apart.contains(pair))
            .map(|(a, high)| format!("{a}{}{}", if high { '>' } else { '<' }, a + 1))
            .collect();
        if !missed.is_empty() {
            writeln!(table, "{}: {}", name(case), missed.join(" ")).expect("writes");
        }
    }
    assert_eq!(table, "");
}

/// The neighbours that a long random walk sees held apart by the chip or by drivers.
fn wander(case: &Case) -> BTreeSet<(u8, bool)> {
    let mut player = Player::new(&case.part, &case.package, &case.conditions);
    let pins: Vec<u8> = player.drivable().iter().collect();
    let count = case.package.pins.len() as u8;
    let mut seed = 7_u32;
    let mut random = |bound: usize| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (seed >> 8) as usize % bound
    };
    let mut apart = BTreeSet::new();
    for _ in 0..6_000 {
        let pin = Pins::one(pins[random(pins.len())]);
        // A refused step is one that this walk does not take.
        let _ = match random(8) {
            0 => player.release(pin),
            at => player.drive(pin, if at % 2 == 0 { pin } else { Pins::NONE }),
        };
        let level = |pin: u8| match player.expected(pin) {
            Expected::High => Some(true),
            Expected::Low => Some(false),
            Expected::Released | Expected::Unknown => None,
        };
        for a in (1..count).filter(|&a| a != count / 2) {
            if let (Some(one), Some(other)) = (level(a), level(a + 1))
                && one != other
            {
                apart.insert((a, one));
            }
        }
    }
    apart
}

#[test]
fn the_order_of_changes_in_a_step_makes_no_difference() {
    for case in one_of_each() {
        let mut player = Player::new(&case.part, &case.package, &case.conditions);
        let mut seed = 1_u32;
        for (index, step) in case.vectors.steps.iter().enumerate() {
            let before = player.clone();
            player
                .step(step)
                .unwrap_or_else(|error| panic!("{} step {index}: {error}", name(case)));
            let Step::Drive { pins, high } = *step else { continue };
            if pins.count() < 2 {
                continue;
            }
            for _ in 0..8 {
                let mut order: Vec<u8> = pins.iter().collect();
                for at in (1..order.len()).rev() {
                    seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    order.swap(at, (seed >> 8) as usize % (at + 1));
                }
                let mut other = before.clone();
                for pin in order {
                    let one = Pins::one(pin);
                    other.drive_in_any_order(one, Pins(high.0 & one.0)).unwrap_or_else(|error| {
                        panic!("{} step {index} pin {pin}: {error}", name(case))
                    });
                }
                let known = player.levels().0;
                let (other_known, other_high) = other.levels();
                assert_eq!(Pins(known.0 & !other_known.0), Pins::NONE, "{}", name(case));
                let same = Pins(other_high.0 & known.0);
                assert_eq!(same, player.levels().1, "{} step {index}", name(case));
            }
        }
    }
}

#[test]
fn expectations_agree_with_a_replay() {
    for case in cases() {
        let steps = &case.vectors.steps;
        for shown in replay(&case.part, &case.package, &case.conditions, steps, &[]) {
            match steps[shown.step as usize] {
                Step::Expect { pins, high } => {
                    let known = Pins(shown.pins.0 & pins.0);
                    assert_eq!(known, pins, "{} step {}", name(case), shown.step);
                    assert_eq!(Pins(shown.high.0 & pins.0), high, "{}", name(case));
                }
                Step::ExpectReleased { pins, .. } => assert_eq!(pins, shown.pins),
                _ => {}
            }
        }
    }
}

/// Parts that do the same with the keepers of these vectors: the output's kind shows only where
/// the low phase is sure of an output that is off, which it is not on bipolar chips (leakage), and
/// hysteresis does not show at all. A 74125 that is off reads high, as an OR gate would.
const SAME: [&str; 15] = [
    "7400 in place of 7403 74",
    "7400 in place of 7403 HC",
    "7400 in place of 7403 HCT",
    "7403 in place of 7400 74",
    "7404 in place of 7406 74",
    "7404 in place of 7414 74",
    "7404 in place of 7414 C",
    "7404 in place of 7414 HCT",
    "7406 in place of 7404 74",
    "7406 in place of 7414 74",
    "7414 in place of 7404 74",
    "7414 in place of 7404 C",
    "7414 in place of 7404 HCT",
    "7414 in place of 7406 74",
    "74125 in place of 7432 74",
];

#[test]
fn other_parts_are_told_apart() {
    let mut all = BTreeSet::new();
    for case in cases() {
        for other in cases() {
            if other.part.number == case.part.number || roles(other) != roles(case) {
                continue;
            }
            let steps = &case.vectors.steps;
            if escapes(&other.part, &other.package, &case.conditions, steps) {
                all.insert(format!("{} in place of {}", other.part.number, name(case)));
            }
        }
    }
    assert_eq!(all, SAME.iter().map(|line| (*line).to_owned()).collect());
}

/// What each pin is for. Where these differ, the other part meets contention before any expectation.
fn roles(case: &Case) -> Vec<Option<Role>> {
    case.package.pins.iter().map(|at| at.map(|id| case.part.pin(id).role)).collect()
}
