//! Networks that are wrong in one place.

use dipsift_language::{Driver, Edge, Network, Node, NodeId, Part, PinId, Rule};

/// A network with one thing wrong, and what that is.
pub struct Mutant {
    /// In words.
    pub what: String,
    /// The whole network.
    pub network: Network,
}

fn add(network: &mut Network, node: Node) -> NodeId {
    network.nodes.push(node);
    NodeId(network.nodes.len() as u32 - 1)
}

/// The pin's driver, to be changed.
fn driver(network: &mut Network, pin: PinId) -> &mut Driver {
    match network.drivers.iter_mut().find(|driver| driver.pin == pin) {
        Some(driver) => driver,
        None => unreachable!("mutants are made of the drivers there are"),
    }
}

/// Every mutant of a part: each output inverted, stuck, swapped with each other output, released,
/// with its enable inverted and with its enable stuck; each register rule missing, with its
/// value inverted and, where it is an edge, at the other edge.
pub fn mutants(part: &Part) -> Vec<Mutant> {
    let original = &part.network;
    let mut mutants = Vec::new();
    let mut make = |what: String, change: &dyn Fn(&mut Network)| {
        let mut network = original.clone();
        change(&mut network);
        mutants.push(Mutant { what, network });
    };
    for (index, Driver { pin, value, enable }) in original.drivers.iter().copied().enumerate() {
        let name = &part.pin(pin).name;
        make(format!("{name} inverted"), &|network| {
            driver(network, pin).value = add(network, Node::Not(value));
        });
        for (word, level) in [("low", Node::Zero), ("high", Node::One)] {
            // An output that only ever pulls one way is that already.
            if original.node(value) != level {
                make(format!("{name} stuck {word}"), &|network| {
                    driver(network, pin).value = add(network, level);
                });
            }
        }
        make(format!("{name} never driven"), &|network| {
            driver(network, pin).enable = Some(add(network, Node::Zero));
        });
        if let Some(enable) = enable {
            make(format!("{name} always driven"), &|network| driver(network, pin).enable = None);
            make(format!("{name} enable inverted"), &|network| {
                driver(network, pin).enable = Some(add(network, Node::Not(enable)));
            });
        }
        for other in original.drivers[index + 1..].iter().copied() {
            // Two pins that show the same node cannot be told apart.
            if other.value == value {
                continue;
            }
            make(format!("{name} and {} swapped", part.pin(other.pin).name), &|network| {
                driver(network, pin).value = other.value;
                driver(network, other.pin).value = value;
            });
        }
    }
    for (index, register) in original.registers.iter().enumerate() {
        for (at, rule) in register.rules.iter().copied().enumerate() {
            let (Rule::While { value, .. } | Rule::On { value, .. }) = rule;
            // The inverse of unknown is unknown.
            if original.node(value) != Node::Unknown {
                make(format!("{} rule {at} inverted", register.name), &|network| {
                    let inverse = add(network, Node::Not(value));
                    match &mut network.registers[index].rules[at] {
                        Rule::While { value, .. } | Rule::On { value, .. } => *value = inverse,
                    }
                });
            }
            if register.rules.len() > 1 {
                make(format!("{} rule {at} missing", register.name), &|network| {
                    network.registers[index].rules.remove(at);
                });
            }
            if let Rule::On { .. } = rule {
                make(format!("{} rule {at} at the other edge", register.name), &|network| {
                    if let Rule::On { edge, .. } = &mut network.registers[index].rules[at] {
                        *edge = match edge {
                            Edge::Rise => Edge::Fall,
                            Edge::Fall => Edge::Rise,
                        };
                    }
                });
            }
        }
    }
    mutants
}
