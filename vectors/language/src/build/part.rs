//! Puts a part together and says what is missing in it.

use super::evaluate::role_in_words;
use super::symbols::{Builder, Layered, Shown};
use crate::diagnostic::{Sink, Span, did_you_mean};
use crate::syntax::tree::{Kind, Listed, RawPart, Statement, Word};
use crate::{
    Driver, Network, NodeId, Output, Package, PackageKind, Part, Pin, PinId, Role, Steady,
};
use std::collections::HashMap;
use std::sync::Arc;

/// Parts as they were written, by number.
pub(crate) type Shelf = HashMap<String, Arc<RawPart>>;

/// Variants of variants go at most this deep.
const LONGEST_LINE: usize = 8;

/// Builds a part. `None` where there are errors, which are reported.
pub(crate) fn build(raw: &RawPart, shelf: &Shelf, sink: &mut Sink) -> Option<Part> {
    let errors = sink.errors();
    let line = line(raw, shelf, sink)?;
    let top = line.len() as u8 - 1;
    let statements = merged(&line);
    let mut builder = Builder::new(sink, statements, top);
    builder.broken = raw.broken;
    let part = builder.part(raw);
    (sink.errors() == errors && !raw.broken).then_some(part)
}

/// The part and those that it takes over, the first of them first.
fn line<'a>(raw: &'a RawPart, shelf: &'a Shelf, sink: &mut Sink) -> Option<Vec<&'a RawPart>> {
    let mut line = vec![raw];
    let mut next = raw.like.as_ref();
    while let Some(word) = next {
        let Some(base) = shelf.get(&word.text) else {
            let suggestion = if sink.full() {
                None
            } else {
                did_you_mean(&word.text, shelf.keys().map(String::as_str))
            };
            sink.error_with(
                word.span,
                format!("there is no part `{}`", word.text),
                "expected the number of a part in this file or in the library",
                suggestion,
            );
            return None;
        };
        let again = line.iter().any(|known| known.number.text == base.number.text);
        if again || line.len() >= LONGEST_LINE {
            sink.error(
                word.span,
                format!("the line of variants of `{}` does not end", raw.number.text),
                format!("expected a part that is not a variant after at most {LONGEST_LINE} steps"),
            );
            return None;
        }
        if base.broken {
            sink.error(
                word.span,
                format!("`{}` has errors itself", word.text),
                "expected a part without errors",
            );
            return None;
        }
        line.push(base);
        next = base.like.as_ref();
    }
    line.reverse();
    Some(line)
}

/// The statements that count, each with its layer.
fn merged<'a>(line: &[&'a RawPart]) -> Vec<Layered<'a>> {
    let mut merged: Vec<Layered<'a>> = Vec::new();
    for (layer, part) in line.iter().enumerate() {
        let replaced: Vec<_> = part.statements.iter().filter_map(replaces).collect();
        merged.retain(|(_, statement)| {
            replaces(statement).is_none_or(|what| !replaced.contains(&what))
        });
        merged.extend(part.statements.iter().map(|statement| (layer as u8, statement)));
    }
    merged
}

/// Statements that replace those of the same kind in the part that is taken over.
fn replaces(statement: &Statement) -> Option<&'static str> {
    match &statement.kind {
        Kind::Title(_) => Some("title"),
        Kind::Source(_) => Some("source"),
        Kind::Made(_) => Some("made"),
        Kind::Package { kind: PackageKind::Dip, .. } => Some("dip"),
        Kind::Package { kind: PackageKind::Flat, .. } => Some("flat"),
        Kind::Limit(_) => Some("limit"),
        Kind::Memory(_) => Some("memory"),
        Kind::Grade(_) => Some("grade"),
        Kind::Refresh(..) => Some("refresh"),
        _ => None,
    }
}

impl<'a> Builder<'a> {
    fn part(&mut self, raw: &RawPart) -> Part {
        let mut part = Part {
            number: raw.number.text.clone(),
            title: String::new(),
            sources: Vec::new(),
            made: Vec::new(),
            packages: Vec::new(),
            pins: Vec::new(),
            network: Network::default(),
            steady: Vec::new(),
            avoid: Vec::new(),
            memory: None,
            limit_ma: None,
            notes: Vec::new(),
            untested: Vec::new(),
        };
        self.texts(raw, &mut part);
        self.packages(raw, &mut part);
        if part.packages.is_empty() {
            return part;
        }
        self.enter_names();
        let traits = self.traits();
        self.enter_memory();
        self.enter_targets();
        let drivers = self.drivers(&traits);
        let registers = self.registers();
        part.memory = self.memory();
        self.conditions(&mut part);
        self.look_at_unused();
        self.unused();
        part.pins = self.roles(&traits);
        if self.gates.full {
            self.sink.error(
                raw.number.span,
                "the part needs too many gates",
                "expected a description of 100000 gates at most",
            );
        }
        let mut roots: Vec<&mut NodeId> = Vec::new();
        roots.extend(part.steady.iter_mut().map(|steady| &mut steady.condition));
        roots.extend(&mut part.avoid);
        if let Some(memory) = &mut part.memory {
            roots.extend(&mut memory.read);
            roots.extend(&mut memory.write);
        }
        let gates = std::mem::replace(&mut self.gates, super::gates::Gates::new());
        let network = Network { nodes: Vec::new(), registers, drivers };
        part.network = gates.finish(network, &mut roots);
        part
    }

    fn texts(&mut self, raw: &RawPart, part: &mut Part) {
        let mut title = None;
        let mut limit = None;
        for (layer, statement) in self.layered() {
            let place = (layer, statement.span);
            match &statement.kind {
                Kind::Title(text) => {
                    self.once(&mut title, place, "title");
                    part.title.clone_from(text);
                }
                Kind::Limit(milliamperes) => {
                    self.once(&mut limit, place, "limit");
                    part.limit_ma = Some(*milliamperes);
                }
                Kind::Source(text) => part.sources.push(text.clone()),
                Kind::Note(text) => part.notes.push(text.clone()),
                Kind::Untested(text) => part.untested.push(text.clone()),
                Kind::Made(families) => {
                    part.made.extend(families.iter().map(|(family, _)| *family))
                }
                _ => {}
            }
        }
        if raw.broken {
            return;
        }
        let missing = [
            ("title", part.title.is_empty(), "`title` and the function in words"),
            ("source", part.sources.is_empty(), "`source` and the document"),
            ("families", part.made.is_empty(), "`made` and the families it was made in"),
        ];
        for (what, missing, expected) in missing {
            if missing {
                self.sink.error(
                    raw.number.span,
                    format!("the part has no {what}"),
                    format!("expected {expected}"),
                );
            }
        }
    }

    fn once(&mut self, seen: &mut Option<u8>, (layer, span): (u8, Span), what: &str) {
        if seen.replace(layer) == Some(layer) {
            self.sink.error(span, format!("`{what}` stands twice"), "expected it once");
        }
    }

    /// Checks that a condition stands for something that is a pin.
    fn conditions(&mut self, part: &mut Part) {
        for (_, statement) in self.layered() {
            match &statement.kind {
                Kind::Steady(names, condition) => {
                    let condition = self.condition(condition);
                    let pins = self.look_up_pins(names);
                    part.steady.push(Steady { pins, condition });
                }
                Kind::Avoid(condition) => {
                    let condition = self.condition(condition);
                    part.avoid.push(condition);
                }
                _ => {}
            }
        }
    }

    fn drivers(&mut self, traits: &Traits) -> Vec<Driver> {
        for &(pin, _) in &traits.open {
            self.pin_mut(pin).open = true;
        }
        let mut drivers = Vec::new();
        for index in 0..self.pins.len() {
            let pin = PinId(index as u16);
            if matches!(self.pin(pin).shown, None | Some(Shown::Memory)) {
                continue;
            }
            let (value, enable) = self.driver(pin);
            drivers.push(match enable {
                // An open collector that is read as well is released where it is high, so that
                // the level on the pin is read.
                Some(enable) if self.pin(pin).open => {
                    let low = self.gates.not(value);
                    let enable = Some(self.gates.and(enable, low));
                    Driver { pin, value: self.gates.constant(false), enable }
                }
                _ => Driver { pin, value, enable },
            });
        }
        drivers
    }

    fn unused(&mut self) {
        for wire in &self.wires {
            if !wire.used && wire.layer == self.top && self.idle(&wire.word.text) {
                self.sink.warning(
                    wire.word.span,
                    format!("wire `{}` is never used", wire.word.text),
                    "expected a use of it",
                    None,
                );
            }
        }
        for group in &self.groups {
            if !group.used && group.layer == self.top && self.idle(&group.word.text) {
                self.sink.warning(
                    group.word.span,
                    format!("group `{}` is never used", group.word.text),
                    "expected a use of it",
                    None,
                );
            }
        }
    }
}

/// What lists say about pins.
#[derive(Default)]
pub(crate) struct Traits {
    open: Vec<(PinId, Span)>,
    schmitt: Vec<(PinId, Span)>,
    loads: Vec<(PinId, u16, Span)>,
    /// Supplies and the like.
    roles: HashMap<PinId, Role>,
}

impl<'a> Builder<'a> {
    fn traits(&mut self) -> Traits {
        let mut traits = Traits::default();
        for index in 0..self.pins.len() {
            let entry = &mut self.pins[index];
            if let Some(role) = role_of_name(&entry.name) {
                entry.special = Some(role);
                traits.roles.insert(PinId(index as u16), role);
            }
        }
        for (_, statement) in self.layered() {
            match &statement.kind {
                Kind::Listed(listed, words) if *listed != Listed::State => {
                    for word in words {
                        let Some(pin) = self.pin_named(&word.text) else {
                            self.no_such_pin(word);
                            continue;
                        };
                        match listed {
                            Listed::Open => traits.open.push((pin, word.span)),
                            Listed::Totem => self.totem(&mut traits, pin, word),
                            Listed::Schmitt => traits.schmitt.push((pin, word.span)),
                            Listed::Fed => self.role(&mut traits, pin, Role::Fed, word),
                            Listed::Ground => self.role(&mut traits, pin, Role::Ground, word),
                            Listed::Leave => self.role(&mut traits, pin, Role::Open, word),
                            Listed::State => {}
                        }
                    }
                }
                Kind::Load(loads) => {
                    for (word, tenths) in loads {
                        match self.pin_named(&word.text) {
                            Some(pin) => traits.loads.push((pin, *tenths, word.span)),
                            None => self.no_such_pin(word),
                        }
                    }
                }
                _ => {}
            }
        }
        traits
    }

    fn totem(&mut self, traits: &mut Traits, pin: PinId, word: &Word) {
        let before = traits.open.len();
        traits.open.retain(|(open, _)| *open != pin);
        if traits.open.len() == before {
            self.sink.error(
                word.span,
                format!("`{}` is not open", word.text),
                "expected an output that `open` names in the part that is taken over",
            );
        }
    }

    fn role(&mut self, traits: &mut Traits, pin: PinId, role: Role, word: &Word) {
        self.pin_mut(pin).special = Some(role);
        if let Some(earlier) = traits.roles.insert(pin, role)
            && earlier != role
        {
            self.sink.error(
                word.span,
                format!("`{}` is {} already", word.text, role_in_words(earlier)),
                "expected one purpose for each pin",
            );
        }
    }

    /// The pins with their roles; those that have none are reported.
    fn roles(&mut self, traits: &Traits) -> Vec<Pin> {
        let mut pins = Vec::new();
        let mut idle: Vec<(String, Span)> = Vec::new();
        for index in 0..self.pins.len() {
            let id = PinId(index as u16);
            let entry = &self.pins[index];
            let (name, span) = (entry.name.clone(), entry.span);
            let (read, shown) = (entry.read, entry.shown);
            let floats = match shown {
                None | Some(Shown::State(_)) => false,
                Some(Shown::Value { condition, .. }) => condition.is_some(),
                Some(Shown::Column { statement, column }) => self.column_floats(statement, column),
                Some(Shown::Memory) => true,
            };
            let open = self.pin(id).open;
            let output = match shown {
                None => None,
                Some(_) if open => Some(Output::OpenCollector),
                Some(_) if floats => Some(Output::ThreeState),
                Some(_) => Some(Output::TotemPole),
            };
            let role = match traits.roles.get(&id) {
                Some(role) => *role,
                None => match (read, output) {
                    (true, Some(_)) if floats => Role::Bidirectional,
                    (_, Some(_)) => Role::Output,
                    (true, None) => Role::Input,
                    (false, None) => {
                        if self.idle(&name) {
                            idle.push((name.clone(), span));
                        }
                        Role::Open
                    }
                },
            };
            let load = traits.loads.iter().rev().find(|(pin, ..)| *pin == id);
            pins.push(Pin {
                name,
                role,
                output,
                schmitt: traits.schmitt.iter().any(|(pin, _)| *pin == id),
                load_tenths: load.map_or(10, |(_, tenths, _)| *tenths),
            });
        }
        self.check_traits(traits, &pins);
        self.without_function(&idle);
        pins
    }

    /// Reports pins that nothing reads or assigns, all in one message.
    fn without_function(&mut self, idle: &[(String, Span)]) {
        let Some((first, span)) = idle.first() else { return };
        let message = match idle {
            [_] => format!("pin `{first}` has no function"),
            _ => {
                let names: Vec<String> = idle.iter().map(|(name, _)| format!("`{name}`")).collect();
                format!("pins {} have no function", names.join(" "))
            }
        };
        self.sink.error_with(
            *span,
            message,
            "expected a statement that reads or assigns it",
            Some(format!("write `-` where nothing is connected, or `leave {first}`")),
        );
    }

    fn check_traits(&mut self, traits: &Traits, pins: &[Pin]) {
        let input =
            |pin: PinId| matches!(pins[usize::from(pin.0)].role, Role::Input | Role::Bidirectional);
        let name = |pin: PinId| &pins[usize::from(pin.0)].name;
        let loads = traits.loads.iter().map(|(pin, _, span)| (pin, span));
        for (&pin, &span) in traits.schmitt.iter().map(|(pin, span)| (pin, span)).chain(loads) {
            if !input(pin) {
                self.sink.error(
                    span,
                    format!("`{}` is not an input", name(pin)),
                    "expected an input",
                );
            }
        }
        for &(pin, span) in &traits.open {
            if pins[usize::from(pin.0)].output.is_none() {
                self.sink.error(
                    span,
                    format!("`{}` is not an output", name(pin)),
                    "expected an output",
                );
            }
        }
    }
}

/// The role that a name alone gives a pin.
fn role_of_name(name: &str) -> Option<Role> {
    match name {
        "VCC" | "VDD" => Some(Role::Supply),
        "GND" | "VSS" => Some(Role::Ground),
        _ => None,
    }
}

impl<'a> Builder<'a> {
    /// Reads the pinouts.
    fn packages(&mut self, raw: &RawPart, part: &mut Part) {
        let grounds: Vec<&str> = self
            .layered()
            .iter()
            .filter_map(|(_, statement)| match &statement.kind {
                Kind::Listed(Listed::Ground | Listed::Fed, words) => Some(words),
                _ => None,
            })
            .flatten()
            .map(|word| word.text.as_str())
            .collect();
        for (_, statement) in self.layered() {
            let Kind::Package { kind, families, pins } = &statement.kind else { continue };
            self.check_package(*kind, pins, &grounds, statement.span);
            for (family, span) in families {
                if !part.made.contains(family) {
                    self.sink.error(
                        *span,
                        format!("the part is not made in `{}`", family.word()),
                        "expected a family of the `made` statement",
                    );
                }
            }
            let families: Vec<_> = families.iter().map(|(family, _)| *family).collect();
            let same = part.packages.iter().any(|package| {
                package.kind == *kind
                    && (package.families.is_empty() && families.is_empty()
                        || package.families.iter().any(|family| families.contains(family)))
            });
            if same {
                self.sink.error(
                    statement.span,
                    "a pinout stands twice",
                    "expected one for each package and family",
                );
            }
            let pins =
                pins.iter().map(|word| (word.text != "-").then(|| self.enter_pin(word))).collect();
            part.packages.push(Package { kind: *kind, families, pins });
        }
        if raw.broken {
            return;
        }
        let uncovered: Vec<&str> = part
            .made
            .iter()
            .filter(|&&family| part.package(PackageKind::Dip, family).is_none())
            .map(|family| family.word())
            .collect();
        if part.packages.iter().all(|package| package.kind != PackageKind::Dip) {
            self.sink.error(
                raw.number.span,
                "the part has no pinout",
                "expected `dip` and the pins from pin 1 on",
            );
        } else if !uncovered.is_empty() {
            self.sink.error(
                raw.number.span,
                format!("there is no `dip` for {}", uncovered.join(" ")),
                "expected a pinout for every family it was made in",
            );
        }
    }

    fn check_package(&mut self, kind: PackageKind, pins: &[Word], grounds: &[&str], span: Span) {
        let (sizes, name): (&[usize], _) = match kind {
            PackageKind::Dip => {
                (&[4, 6, 8, 14, 16, 18, 20, 22, 24, 28, 32, 36, 40], "a dual in-line package")
            }
            PackageKind::Flat => (&[10, 14, 16, 18, 20, 22, 24, 28, 32], "a flat pack"),
        };
        let place = match (pins.first(), pins.last()) {
            (Some(first), Some(last)) => first.span.to(last.span),
            _ => span,
        };
        if !sizes.contains(&pins.len()) {
            let list = sizes.iter().map(usize::to_string).collect::<Vec<_>>().join(", ");
            self.sink.error(
                place,
                format!("the pinout has {} pins", pins.len()),
                format!("expected the pins of {name}: {list}"),
            );
        }
        let mut seen: HashMap<&str, usize> = HashMap::new();
        for (index, word) in pins.iter().enumerate() {
            let text = word.text.as_str();
            let may_repeat = text == "-" || role_of_name(text).is_some() || grounds.contains(&text);
            if let Some(first) = seen.insert(text, index)
                && !may_repeat
            {
                self.sink.error(
                    word.span,
                    format!("pin `{text}` is named twice"),
                    format!("it is pin {} already, and this is pin {}", first + 1, index + 1),
                );
            }
        }
        for (role, what, names) in [
            (Role::Supply, "supply", "expected VCC or VDD among the pins"),
            (Role::Ground, "ground", "expected GND or VSS among the pins"),
        ] {
            if !pins.iter().any(|word| role_of_name(&word.text) == Some(role)) {
                let near: &[&str] =
                    if role == Role::Supply { &["VCC", "VDD"] } else { &["GND", "VSS"] };
                let suggestion = pins.iter().find_map(|word| {
                    did_you_mean(&word.text, near.iter().copied()).filter(|_| word.text.len() == 3)
                });
                self.sink.error_with(place, format!("the pinout has no {what}"), names, suggestion);
            }
        }
    }
}
