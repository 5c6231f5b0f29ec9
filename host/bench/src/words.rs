//! Says in words what failed.

use crate::PinFault;
use dipsift_language::{Network, Node, NodeId, Package, Part, PinId, Role, Rule};
use dipsift_wire::{Failure, PinCount, Pins, Place, Step};
use std::collections::BTreeSet;

/// Name more inputs than this and nobody reads them.
const MOST_INPUTS: usize = 6;

/// The faults of all pins that failed, in words.
pub(crate) fn pin_faults(
    part: &Part,
    package: &Package,
    steps: &[Step],
    counts: &[PinCount],
    first: &[Failure],
) -> Vec<PinFault> {
    counts
        .iter()
        .map(|count| {
            let name = package
                .at(count.pin)
                .map_or_else(|| format!("pin {}", count.pin), |id| part.pin(id).name.clone());
            let seen = first.iter().find(|failure| failure.pins.contains(count.pin));
            PinFault {
                pin: count.pin,
                sentence: sentence(part, package, steps, count, seen, &name),
                name,
                low: count.low,
                high: count.high,
                held: count.held,
            }
        })
        .collect()
}

fn letter(high: bool) -> char {
    if high { 'H' } else { 'L' }
}

fn sentence(
    part: &Part,
    package: &Package,
    steps: &[Step],
    count: &PinCount,
    first: Option<&Failure>,
    name: &str,
) -> String {
    let who = format!("{name} (pin {})", count.pin);
    let what = match (count.low, count.high, count.held) {
        (0, 0, _) => return format!("{who} still drives where it should be high impedance"),
        (_, 0, _) => "stays low",
        (0, _, _) => "stays high",
        _ => "is wrong",
    };
    let Some(Failure { place: Place::Step(step), expected, seen, .. }) = first else {
        return format!("{who} {what}");
    };
    let (driven, high) = dipsift_generator::driven_at(steps, *step as usize);
    let should = letter(expected.contains(count.pin));
    let is = letter(seen.contains(count.pin));
    if driven.contains(count.pin) {
        return format!("{who} {what}: driven {should}, it reads {is}; stuck, or shorted");
    }
    let id = package.at(count.pin);
    if id.is_some_and(|id| part.pin(id).role == Role::Input) {
        return format!(
            "{who} is pulled low when nothing drives it: leaky, or shorted to a neighbour"
        );
    }
    let Some(driver) = id.and_then(|id| part.network.driver(id)) else {
        return format!("{who} {what}: should be {should}");
    };
    let cone = Cone::of(&part.network, driver.value, driver.enable);
    let levels = inputs(part, package, &cone.pins, driven, high);
    match (cone.registers, levels) {
        (false, Some(levels)) => format!("{who} {what}: {levels} should give {should}"),
        (true, Some(levels)) => {
            format!("{who} {what}: should be {should} at step {step}, with {levels}")
        }
        (_, None) => format!("{who} {what}: should be {should} at step {step}"),
    }
}

/// The levels of the inputs as `1A=H 1B=L`, unless there are too many to read.
fn inputs(
    part: &Part,
    package: &Package,
    cone: &BTreeSet<PinId>,
    driven: Pins,
    high: Pins,
) -> Option<String> {
    let listed: Vec<String> = (1..=package.pins.len() as u8)
        .filter(|&number| driven.contains(number))
        .filter_map(|number| Some((number, package.at(number)?)))
        .filter(|(_, id)| cone.contains(id))
        .map(|(number, id)| format!("{}={}", part.pin(id).name, letter(high.contains(number))))
        .collect();
    (!listed.is_empty() && listed.len() <= MOST_INPUTS).then(|| listed.join(" "))
}

/// Everything that a node depends on.
struct Cone {
    pins: BTreeSet<PinId>,
    registers: bool,
}

impl Cone {
    fn of(network: &Network, value: NodeId, enable: Option<NodeId>) -> Self {
        let mut cone = Self { pins: BTreeSet::new(), registers: false };
        let mut seen = vec![false; network.nodes.len()];
        let mut open: Vec<NodeId> = std::iter::once(value).chain(enable).collect();
        while let Some(id) = open.pop() {
            if std::mem::replace(&mut seen[id.0 as usize], true) {
                continue;
            }
            match network.node(id) {
                Node::Zero | Node::One | Node::Unknown => {}
                Node::Pin(pin) => {
                    cone.pins.insert(pin);
                }
                Node::State(state) => {
                    cone.registers = true;
                    for rule in &network.registers[state.0 as usize].rules {
                        match *rule {
                            Rule::While { condition, value } => open.extend([condition, value]),
                            Rule::On { clock, condition, value, .. } => {
                                open.extend([clock, value]);
                                open.extend(condition);
                            }
                        }
                    }
                }
                Node::Not(a) => open.push(a),
                Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => open.extend([a, b]),
                Node::Mux { select, high, low } => open.extend([select, high, low]),
            }
        }
        cone
    }
}
