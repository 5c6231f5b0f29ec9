//! A part's functions in the notation of its description: `1Y = ~(1A & 1B)`. They are written from
//! the model that vectors and verdicts come from, so a reader sees what a check goes by. A name
//! without the slash of its pin is the pin's activity: true when the pin is low.

use dipsift_language::{Edge, Network, Node, NodeId, Part, Rule};
use std::collections::BTreeSet;

/// Longer expressions are replaced by what they depend on.
const LONGEST: usize = 90;

/// Every register and output, one line each.
pub fn lines(part: &Part) -> Vec<String> {
    let network = &part.network;
    let mut lines: Vec<String> = network
        .registers
        .iter()
        .map(|register| {
            let rules: Vec<String> =
                register.rules.iter().map(|rule| self::rule(part, rule)).collect();
            format!("{}: {}", register.name, rules.join("; "))
        })
        .collect();
    let mut drivers: Vec<_> = network.drivers.iter().collect();
    drivers.sort_by_key(|driver| driver.pin);
    for driver in drivers {
        let name = &part.pin(driver.pin).name;
        let enable = match driver.enable {
            Some(enable) => format!(" while {}", short(part, enable)),
            None => String::new(),
        };
        // A register that has its pin's name is shown there; its own line says the rest.
        if let Node::State(state) = network.node(driver.value)
            && network.registers[state.0 as usize].name == *name
        {
            if driver.enable.is_some() {
                lines.push(format!("{name}: shows its register{enable}"));
            }
            continue;
        }
        lines.push(format!("{name} = {}{enable}", short(part, driver.value)));
    }
    lines
}

fn rule(part: &Part, rule: &Rule) -> String {
    match *rule {
        Rule::While { condition, value } => {
            format!(":= {} while {}", short(part, value), short(part, condition))
        }
        Rule::On { clock, edge, condition, value } => {
            let edge = if edge == Edge::Rise { "rise" } else { "fall" };
            let condition =
                condition.map_or(String::new(), |id| format!(" if {}", short(part, id)));
            format!("on {edge} {}{condition} := {}", short(part, clock), short(part, value))
        }
    }
}

/// An expression, or what it depends on where that is too long to read.
fn short(part: &Part, id: NodeId) -> String {
    let mut text = Text { part, out: String::new() };
    if text.write(id, Level::Choice).is_some() {
        return text.out;
    }
    let mut names = BTreeSet::new();
    depends(part, &part.network, id, &mut names, &mut vec![false; part.network.nodes.len()]);
    format!("a function of {}", names.into_iter().collect::<Vec<_>>().join(" "))
}

fn depends(
    part: &Part,
    network: &Network,
    id: NodeId,
    names: &mut BTreeSet<String>,
    seen: &mut [bool],
) {
    if std::mem::replace(&mut seen[id.0 as usize], true) {
        return;
    }
    match network.node(id) {
        Node::Zero | Node::One | Node::Unknown => {}
        Node::Pin(pin) => {
            names.insert(part.pin(pin).name.clone());
        }
        Node::State(state) => {
            names.insert(network.registers[state.0 as usize].name.clone());
        }
        Node::Not(a) => depends(part, network, a, names, seen),
        Node::And(a, b) | Node::Or(a, b) | Node::Xor(a, b) => {
            depends(part, network, a, names, seen);
            depends(part, network, b, names, seen);
        }
        Node::Mux { select, high, low } => {
            for operand in [select, high, low] {
                depends(part, network, operand, names, seen);
            }
        }
    }
}

/// How tightly operators bind, as in IEEE 1364: `~`, `&`, `^`, `|`, `? :`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Level {
    Choice,
    Or,
    Xor,
    And,
    Not,
}

struct Text<'a> {
    part: &'a Part,
    out: String,
}

impl Text<'_> {
    /// Writes an expression where at least `level` is expected; `None` once it is too long.
    fn write(&mut self, id: NodeId, level: Level) -> Option<()> {
        if self.out.len() > LONGEST {
            return None;
        }
        let network = &self.part.network;
        match network.node(id) {
            Node::Zero => self.push("0"),
            Node::One => self.push("1"),
            Node::Unknown => self.push("?"),
            Node::Pin(pin) => self.push(&self.part.pin(pin).name.clone()),
            Node::State(state) => self.push(&network.registers[state.0 as usize].name.clone()),
            Node::Not(operand) => {
                if let Node::Pin(pin) = network.node(operand)
                    && let Some(active) = self.part.pin(pin).name.strip_prefix('/')
                    && self.part.pin_named(active).is_none()
                {
                    return self.push(active);
                }
                self.push("~")?;
                self.write(operand, Level::Not)
            }
            Node::And(a, b) => self.binary(a, " & ", b, Level::And, level),
            Node::Or(a, b) => self.binary(a, " | ", b, Level::Or, level),
            Node::Xor(a, b) => self.binary(a, " ^ ", b, Level::Xor, level),
            Node::Mux { select, high, low } => self.enclosed(level > Level::Choice, |text| {
                text.write(select, Level::Or)?;
                text.push(" ? ")?;
                text.write(high, Level::Or)?;
                text.push(" : ")?;
                text.write(low, Level::Choice)
            }),
        }
    }

    fn binary(
        &mut self,
        a: NodeId,
        operator: &str,
        b: NodeId,
        own: Level,
        level: Level,
    ) -> Option<()> {
        self.enclosed(level > own, |text| {
            text.write(a, own)?;
            text.push(operator)?;
            text.write(b, own)
        })
    }

    fn enclosed(
        &mut self,
        parentheses: bool,
        inner: impl FnOnce(&mut Self) -> Option<()>,
    ) -> Option<()> {
        if parentheses {
            self.push("(")?;
        }
        inner(self)?;
        if parentheses { self.push(")") } else { Some(()) }
    }

    fn push(&mut self, text: &str) -> Option<()> {
        self.out.push_str(text);
        (self.out.len() <= LONGEST).then_some(())
    }
}
