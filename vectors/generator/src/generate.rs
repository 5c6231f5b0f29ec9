//! The whole program for a part.

use crate::expect::{Program, neighbours};
use crate::faults::{FaultyChips, Site, of_inputs};
use crate::isolation::isolate;
use crate::mover::Mover;
use crate::random::Random;
use crate::section::Task;
use crate::structure::Structure;
use crate::{Conditions, Player};
use dipsift_language::{Class, Family, Output, Package, Part, Role};
use dipsift_wire::{Pins, Rail, Step};
use std::sync::Arc;

/// How a section is exercised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Every combination of its inputs.
    Exhaustive {
        /// How many inputs it has.
        inputs: u8,
    },
    /// A seeded search for steps that reach all goals.
    Directed,
}

/// An independent section of the chip and how it is exercised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SectionMethod {
    /// Its pins that are driven.
    pub inputs: Pins,
    /// Its pins that the chip drives.
    pub outputs: Pins,
    /// How it is exercised.
    pub method: Method,
}

/// A part's vectors.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Vectors {
    /// The program, in package pins. It sets the keepers first.
    pub steps: Vec<Step>,
    /// How each section is exercised.
    pub methods: Vec<SectionMethod>,
    /// The settling time to put into the program's header, in nanoseconds.
    pub settle_ns: u32,
    /// The keepers' settling time to put into the program's header, in nanoseconds.
    pub keeper_ns: u32,
    /// What these vectors leave open, in words.
    pub untested: Vec<String>,
}

/// Why there are no vectors for a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unsupported {
    /// It has a memory array.
    #[error("a memory is marched: it has no vectors")]
    Memory,
    /// It drives no pin.
    #[error("the part has no outputs to look at")]
    NoOutputs,
    /// Nothing can be driven.
    #[error("the part has no inputs to drive")]
    NoInputs,
    /// Its description never settles.
    #[error("the description does not come to rest, so nothing can be expected")]
    Restless,
}

/// The vectors for a part in a package.
///
/// # Errors
///
/// A part that has nothing to drive or to look at, memory arrays, and descriptions without rest.
pub fn generate(
    part: &Arc<Part>,
    package: &Package,
    conditions: &Conditions,
) -> Result<Vectors, Unsupported> {
    let mut player = Player::new(part, package, conditions);
    if part.memory.is_some() {
        return Err(Unsupported::Memory);
    }
    if player.outputs().is_empty() {
        return Err(Unsupported::NoOutputs);
    }
    if player.drivable().is_empty() {
        return Err(Unsupported::NoInputs);
    }
    let mut program = Program::new(player.clone());
    program.take(conditions.keep(Rail::High));
    player = program.player.clone();

    let structure = Structure::new(part);
    let (mut methods, mut sections) = (Vec::new(), Vec::new());
    for index in 0..structure.sections.len() {
        let structure = &structure;
        let task = Task { part, package, conditions, structure, player: &player, index };
        let exhaustive = task.is_exhaustive();
        if task.inputs().is_empty() {
            continue;
        }
        let inputs = task.inputs().count() as u8;
        let method = if exhaustive { Method::Exhaustive { inputs } } else { Method::Directed };
        methods.push(SectionMethod { inputs: task.inputs(), outputs: task.outputs(), method });
        sections.push((task.steps(), exhaustive));
    }
    merge(&mut program, &sections);
    part_neighbours(&mut program);
    if program.low.is_empty() && program.high.is_empty() {
        return Err(Unsupported::Restless);
    }
    let (settle_ns, keeper_ns) = Vectors::times(part, conditions);
    low_phase(&mut program);
    let unproven = isolate(&mut program, keeper_ns);
    let untested = untested(part, package, conditions, &program, unproven);
    Ok(Vectors { steps: program.steps, methods, settle_ns, keeper_ns, untested })
}

/// Runs the sections side by side. Short exhaustive ones start over until the longest has ended.
fn merge(program: &mut Program, sections: &[(Vec<Step>, bool)]) {
    let longest = sections.iter().map(|(steps, _)| steps.len()).max().unwrap_or(0);
    for index in 0..longest {
        let now = sections.iter().filter_map(|(steps, cycles)| {
            if *cycles && !steps.is_empty() {
                steps.get(index % steps.len())
            } else {
                steps.get(index)
            }
        });
        let (mut released, mut driven, mut levels) = (Pins::NONE, Pins::NONE, Pins::NONE);
        let mut others = Vec::new();
        for step in now {
            match *step {
                Step::Release { pins } => released.0 |= pins.0,
                Step::Drive { pins, high } => {
                    driven.0 |= pins.0;
                    levels.0 |= high.0;
                }
                other => others.push(other),
            }
        }
        if !released.is_empty() {
            program.take(Step::Release { pins: released });
        }
        if !driven.is_empty() {
            program.take(Step::Drive { pins: driven, high: levels });
        }
        for step in others {
            program.take(step);
        }
        program.observe();
    }
}

/// Adds arrangements in which neighbours differ that did not yet.
fn part_neighbours(program: &mut Program) {
    const TRIES: usize = 300;
    let wanted: Vec<(u8, u8)> =
        neighbours(&program.player).into_iter().flat_map(|(a, b)| [(a, b), (b, a)]).collect();
    let mut random = Random::new(&program.player.chip.part.number, 0xa9a);
    let pins = program.player.drivable();
    for _ in 0..TRIES {
        let missing = |program: &Program| {
            wanted.iter().filter(|pair| !program.differing.contains(pair)).count()
        };
        let before = missing(program);
        if before == 0 {
            break;
        }
        let mut mover = Mover::new(program.player.clone());
        let (_, now) = mover.player.driven();
        let high = if random.flip() {
            Pins(random.word() & pins.0)
        } else {
            Pins(now.0 ^ (random.word() & random.word() & pins.0))
        };
        if !mover.set(pins, high) {
            continue;
        }
        let mut tried = program.clone();
        for step in mover.steps {
            tried.take(step);
            tried.observe();
        }
        if missing(&tried) < before {
            *program = tried;
        }
    }
}

/// A shorter second phase with the light keeper low, for outputs that pull both ways.
fn low_phase(program: &mut Program) {
    const STEPS: usize = 160;
    let chip = &program.player.chip;
    let both_ways = chip.numbers(|chip, id| {
        let pin = chip.part.pin(id);
        matches!(pin.role, Role::Output | Role::Bidirectional)
            && pin.output != Some(Output::OpenCollector)
    });
    if both_ways.is_empty() {
        return;
    }
    let conditions = chip.conditions;
    let wanted = (Pins(program.high.0 & both_ways.0), Pins(program.low.0 & both_ways.0));
    let first: Vec<Step> = program
        .steps
        .iter()
        .filter(|step| {
            matches!(step, Step::Drive { .. } | Step::Release { .. } | Step::Pulse { times: 1, .. })
        })
        .copied()
        .collect();
    program.take(Step::Keep { light: Rail::Low, firm: Rail::Off });
    let (high, low) = (program.high, program.low);
    (program.high, program.low) = (Pins::NONE, Pins::NONE);
    let start = program.steps.len();
    for step in first {
        let missing = (wanted.0.0 & !program.high.0) | (wanted.1.0 & !program.low.0);
        let taken = program.steps.len() - start;
        let few = missing.count_ones() * 8 < both_ways.count();
        if missing == 0 || (few && taken >= STEPS) || taken >= 4 * STEPS {
            break;
        }
        if program.take(step) {
            program.observe();
        }
    }
    (program.high, program.low) = (high, low);
    program.take(conditions.keep(Rail::High));
}

impl Vectors {
    /// (settling time, keepers' settling time) in nanoseconds.
    pub(crate) fn times(part: &Part, conditions: &Conditions) -> (u32, u32) {
        // 22 kΩ into about 60 pF of socket and wiring, five time constants.
        const LIGHT_NS: u32 = 10_000;
        let weak = part.pins.iter().any(|pin| {
            pin.output == Some(Output::OpenCollector) || pin.output == Some(Output::ThreeState)
        });
        let bipolar = conditions.family.class() == Class::Ttl;
        let settle = match conditions.family {
            _ if weak && !bipolar => LIGHT_NS,
            Family::B | Family::Ub => 3_000,
            Family::C => 2_000,
            _ => 1_000,
        };
        (settle, LIGHT_NS)
    }
}

fn untested(
    part: &Arc<Part>,
    package: &Package,
    conditions: &Conditions,
    program: &Program,
    unproven: Pins,
) -> Vec<String> {
    let chip = &program.player.chip;
    let name = |number: u8| {
        let name = chip.id(number).map_or("", |id| &part.pin(id).name);
        format!("pin {number} ({name})")
    };
    let mut lines = Vec::new();
    for number in chip.outputs().iter() {
        let Some(id) = chip.id(number) else { continue };
        let pin = part.pin(id);
        if !program.low.contains(number) {
            lines.push(format!("{} is never seen low", name(number)));
        }
        if !program.high.contains(number) {
            lines.push(format!("{} is never seen high", name(number)));
        }
        if pin.output == Some(Output::ThreeState) && !program.proven_off(number) {
            lines.push(format!("{} is never proven off", name(number)));
        }
    }
    for number in unproven.iter() {
        lines.push(format!("{} is not proven free of leakage", name(number)));
    }
    for (id, high) in undetected_inputs(part, package, conditions, program) {
        for number in package.numbers(id) {
            let level = if high { "high" } else { "low" };
            lines.push(format!("nothing shows whether {} is stuck {level} inside", name(number)));
        }
    }
    for pin in part.pin_ids().filter(|&id| part.pin(id).role == Role::Open) {
        lines.extend(package.numbers(pin).map(|number| format!("{} is left open", name(number))));
    }
    lines
}

/// Inputs whose stuck level no expectation at an output shows.
fn undetected_inputs(
    part: &Arc<Part>,
    package: &Package,
    conditions: &Conditions,
    program: &Program,
) -> Vec<(dipsift_language::PinId, bool)> {
    let all = of_inputs(&program.player.chip);
    let mut faulty = FaultyChips::new(part, package, conditions, &all);
    for step in &program.steps {
        if let Step::Expect { pins, high } = *step {
            faulty.compare(pins, high);
            faulty.drop_done();
        }
        faulty.run(step);
    }
    let pin = |site: Site| match site {
        Site::Pin(pin) => Some(pin),
        Site::Node(_) => None,
    };
    faulty.undetected().iter().filter_map(|fault| Some((pin(fault.site)?, fault.high))).collect()
}
