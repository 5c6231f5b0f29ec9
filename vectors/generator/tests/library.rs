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

fn make_cases() -> Vec<Case> {
    let start = std::time::Instant::now();
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
            let t = std::time::Instant::now();
            let vectors = generate(part, &package, &conditions)
                .unwrap_or_else(|error| panic!("{}: {error}", part.number));
            println!("{} {} {:?}", part.number, vectors.steps.len(), t.elapsed());
            cases.push(Case { part: Arc::clone(part), package, conditions, vectors });
        }
    }
    println!("made in {:?}", start.elapsed());
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
    for case in cases().iter() {
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

#[test]
fn nothing_is_left_open_but_what_is_known() {
    let mut table = String::new();
    for case in cases().iter() {
        for line in &case.vectors.untested {
            writeln!(table, "{}: {line}", name(case)).expect("writes");
        }
    }
    assert_eq!(table, "");
}

#[test]
fn neighbours_are_seen_apart() {
    let mut table = String::new();
    for case in cases().iter() {
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
    for case in cases().iter() {
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
    for case in cases().iter() {
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
