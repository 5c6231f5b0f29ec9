//! Puts a part together and says what is missing in it.

use super::pins::Traits;
use super::symbols::{Builder, Layered, Shown};
use crate::diagnostic::{Sink, Span, did_you_mean};
use crate::syntax::tree::{Kind, RawPart, Statement};
use crate::{Driver, Network, NodeId, PackageKind, Part, PinId, Steady};
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
        Kind::MakerGrade(..) => Some("grade"),
        Kind::Timing(_) => Some("timing"),
        Kind::Startup(..) => Some("startup"),
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
            roots.extend(&mut memory.latch);
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

    /// Adds what `steady` and `avoid` say.
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
