//! What each pin is for.

use super::evaluate::role_in_words;
use super::symbols::{Builder, Shown};
use crate::diagnostic::Span;
use crate::syntax::tree::{Kind, Listed, Word};
use crate::{Output, Pin, PinId, Role};
use std::collections::HashMap;

/// What lists say about pins.
#[derive(Default)]
pub(crate) struct Traits {
    pub open: Vec<(PinId, Span)>,
    schmitt: Vec<(PinId, Span)>,
    loads: Vec<(PinId, u16, Span)>,
    /// Supplies and the like.
    roles: HashMap<PinId, Role>,
}

impl<'a> Builder<'a> {
    pub fn traits(&mut self) -> Traits {
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
                Kind::Supply(supplies) => self.foreign(&mut traits, supplies),
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

    /// Pins at other voltages than their names promise; 0 V is ground, and 5 V a supply as usual.
    fn foreign(&mut self, traits: &mut Traits, supplies: &[(Word, i32)]) {
        for (word, millivolts) in supplies {
            let Some(pin) = self.pin_named(&word.text) else {
                self.no_such_pin(word);
                continue;
            };
            let role = match *millivolts {
                0 => Role::Ground,
                5_000 => Role::Supply,
                millivolts => Role::Foreign { millivolts },
            };
            self.pin_mut(pin).special = Some(role);
            traits.roles.insert(pin, role);
        }
    }

    /// The pins with their roles; those that have none are reported.
    pub fn roles(&mut self, traits: &Traits) -> Vec<Pin> {
        let mut pins = Vec::new();
        let mut idle: Vec<(String, Span)> = Vec::new();
        // What is never powered may be described by its pins alone.
        let powered = !traits.roles.values().any(|role| matches!(role, Role::Foreign { .. }));
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
                        if powered && self.idle(&name) {
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
pub(crate) fn role_of_name(name: &str) -> Option<Role> {
    match name {
        "VCC" | "VDD" => Some(Role::Supply),
        "GND" | "VSS" => Some(Role::Ground),
        _ => None,
    }
}
