//! What assignments assign to.

use super::symbols::{Builder, Layered, Shown, Symbol};
use crate::diagnostic::Span;
use crate::syntax::tree::{Assignment, Expr, Kind, Word};
use crate::{PinId, StateId};

/// A bit of a target.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Target {
    State(StateId),
    /// A pin; `inverted` where it was named by its activity.
    Pin {
        pin: PinId,
        inverted: bool,
    },
    /// Something that has been reported.
    Wrong,
}

/// A bit of a target with the value that it takes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bit<'a> {
    pub target: Target,
    pub span: Span,
    pub expr: &'a Expr,
    /// The width in which `expr` is taken.
    pub width: usize,
    /// The bit of it, counted from the least significant.
    pub bit: usize,
}

impl<'a> Builder<'a> {
    /// The bits of an assignment; empty where widths do not agree, which is reported.
    pub fn assignment_bits(&mut self, assignment: &'a Assignment, registers: bool) -> Vec<Bit<'a>> {
        let mut targets = Vec::new();
        for target in &assignment.targets {
            self.target(target, registers, &mut targets);
        }
        let mut values: Vec<(&Expr, usize)> = Vec::new();
        if let [value] = assignment.values.as_slice() {
            if !self.fits(value, targets.len()) {
                return Vec::new();
            }
            values.push((value, targets.len()));
        } else {
            for value in &assignment.values {
                values.push((value, self.width(value).unwrap_or(1)));
            }
        }
        let width: usize = values.iter().map(|(_, width)| width).sum();
        if width != targets.len() {
            self.sink.error(
                assignment.span,
                format!("{} bits are assigned to {}", width, targets.len()),
                "expected as many bits on the right as on the left",
            );
            return Vec::new();
        }
        let bits = values
            .into_iter()
            .flat_map(|(expr, width)| (0..width).rev().map(move |bit| (expr, width, bit)));
        targets
            .into_iter()
            .zip(bits)
            .map(|((target, span), (expr, width, bit))| Bit { target, span, expr, width, bit })
            .collect()
    }

    /// Adds the bits of a target, most significant first.
    fn target(&mut self, expr: &'a Expr, registers: bool, bits: &mut Vec<(Target, Span)>) {
        match expr {
            Expr::Name(word) => self.target_name(word, registers, bits, 0),
            Expr::Pick { name, high, low } => {
                let mut all = Vec::new();
                self.target_name(name, registers, &mut all, 0);
                all.reverse();
                match all.get(*low as usize..=*high as usize) {
                    Some(picked) => bits.extend(picked.iter().rev()),
                    None => {
                        self.no_such_bit(name, all.len());
                        bits.extend((*low..=*high).map(|_| (Target::Wrong, name.span)));
                    }
                }
            }
            Expr::Join(parts, _) => {
                for part in parts {
                    self.target(part, registers, bits);
                }
            }
            // The parser lets nothing else through.
            _ => {}
        }
    }

    fn target_name(
        &mut self,
        word: &'a Word,
        registers: bool,
        bits: &mut Vec<(Target, Span)>,
        depth: usize,
    ) {
        let found = self.target_symbol(word, registers);
        let target = match found {
            Some(Symbol::Group(index)) if depth < 8 && bits.len() < 512 => {
                self.groups[index].used = true;
                for bit in self.groups[index].bits {
                    self.target_name(bit, registers, bits, depth + 1);
                }
                return;
            }
            Some(Symbol::State(state)) => Target::State(state),
            Some(Symbol::Pin(pin)) => Target::Pin { pin, inverted: false },
            Some(Symbol::Activity(pin)) => Target::Pin { pin, inverted: true },
            _ => Target::Wrong,
        };
        bits.push((target, word.span));
    }

    /// A register or a pin, as demanded, or a group; anything else is reported.
    fn target_symbol(&mut self, word: &Word, registers: bool) -> Option<Symbol> {
        let symbol = match self.pin_named(&word.text) {
            // An output has the first claim to `=`, its register to `:=`.
            Some(pin) if !registers => Some(Symbol::Pin(pin)),
            _ => self.find(&word.text),
        };
        match symbol {
            Some(Symbol::Group(_)) => symbol,
            Some(Symbol::State(_)) if registers => symbol,
            Some(Symbol::Pin(_) | Symbol::Activity(_)) if !registers => symbol,
            None => {
                let expected =
                    if registers { "expected a register" } else { "expected an output pin" };
                self.no_such(word, expected);
                None
            }
            Some(Symbol::Wire(_)) => {
                self.sink.error(
                    word.span,
                    format!("`{}` is a wire", word.text),
                    "expected the value in its `wire` statement",
                );
                None
            }
            Some(Symbol::State(_)) => {
                self.sink.error(
                    word.span,
                    format!("`{}` is a register", word.text),
                    "expected `:=` after `when` or `on`",
                );
                None
            }
            Some(_) => {
                self.sink.error_with(
                    word.span,
                    format!("`{}` is a pin, not a register", word.text),
                    "expected a register",
                    Some(format!("declare it with `state {}`", word.text.trim_start_matches('/'))),
                );
                None
            }
        }
    }

    /// Finds out what each output shows, and which layer counts for each register.
    pub fn enter_targets(&mut self) {
        for index in 0..self.statements.len() {
            let (layer, statement) = self.statements[index];
            match &statement.kind {
                Kind::Drive(assignment, condition) => {
                    for bit in self.assignment_bits(assignment, false) {
                        let Target::Pin { pin, inverted } = bit.target else { continue };
                        let Bit { expr, width, bit, span, .. } = bit;
                        let condition = condition.as_ref();
                        let shown = Shown::Value { expr, width, bit, inverted, condition };
                        self.show(pin, shown, span, layer);
                    }
                }
                Kind::Table(table) => {
                    for (column, word) in table.outputs.iter().enumerate() {
                        if let Some(state) = self.state_named(&word.text) {
                            let entry = &mut self.states[state.0 as usize];
                            entry.layer = entry.layer.max(layer);
                        } else if let Some(pin) = self.pin_named(&word.text) {
                            let shown = Shown::Column { statement: index, column };
                            self.show(pin, shown, word.span, layer);
                        } else {
                            self.no_such_column(word, "expected an output pin or a register");
                        }
                    }
                }
                Kind::When(_, assignments) | Kind::On { assignments, .. } => {
                    self.raise_layers(assignments, layer);
                }
                _ => {}
            }
        }
        for state in 0..self.states.len() {
            let entry = &self.states[state];
            let Some(pin) = self.pin_named(&entry.name) else { continue };
            if let Some(assigned) = self.pin(pin).assigned {
                if self.pin(pin).layer > entry.layer {
                    continue;
                }
                let name = entry.name.clone();
                self.sink.error_with(
                    assigned,
                    format!("output `{name}` shows the register of its name already"),
                    "expected an output without a register of its name",
                    Some(
                        "give the register another name if the output shows something else".into(),
                    ),
                );
            }
            self.pin_mut(pin).shown = Some(Shown::State(StateId(state as u32)));
        }
    }

    fn raise_layers(&mut self, assignments: &'a [Assignment], layer: u8) {
        for assignment in assignments {
            let mut names = Vec::new();
            assignment.targets.iter().for_each(|target| leaves(target, &mut names));
            for name in names {
                match self.find(&name.text) {
                    Some(Symbol::State(state)) => self.raise(state, layer),
                    Some(Symbol::Group(index)) => {
                        for bit in self.groups[index].bits {
                            if let Some(state) = self.state_named(&bit.text) {
                                self.raise(state, layer);
                            }
                        }
                    }
                    _ => {}
                }
            }
        }
    }

    fn raise(&mut self, state: StateId, layer: u8) {
        let entry = &mut self.states[state.0 as usize];
        entry.layer = entry.layer.max(layer);
    }

    /// Enters what an output shows.
    pub fn show(&mut self, pin: PinId, shown: Shown<'a>, span: Span, layer: u8) {
        if self.is_special(pin, span) {
            return;
        }
        let entry = self.pin_mut(pin);
        if entry.assigned.is_some() && entry.layer == layer {
            let name = entry.name.clone();
            self.sink.error(
                span,
                format!("output `{name}` is assigned twice"),
                "expected one assignment for each output",
            );
            return;
        }
        if entry.assigned.is_none() || entry.layer < layer {
            entry.shown = Some(shown);
            entry.assigned = Some(span);
            entry.layer = layer;
        }
    }

    /// Says that a column of a table names nothing.
    pub fn no_such_column(&mut self, word: &Word, expected: &str) {
        if let Some(Symbol::Activity(pin)) = self.find(&word.text) {
            let name = self.pin(pin).name.clone();
            self.sink.error_with(
                word.span,
                format!("a table shows levels, and the pin is called `{name}`"),
                "expected the name from the pin list",
                Some(format!("write `{name}`")),
            );
        } else {
            self.no_such(word, expected);
        }
    }

    /// The statements in order.
    pub fn layered(&self) -> Vec<Layered<'a>> {
        self.statements.clone()
    }
}

fn leaves<'a>(expr: &'a Expr, names: &mut Vec<&'a Word>) {
    match expr {
        Expr::Name(word) | Expr::Pick { name: word, .. } => names.push(word),
        Expr::Join(parts, _) => parts.iter().for_each(|part| leaves(part, names)),
        _ => {}
    }
}
