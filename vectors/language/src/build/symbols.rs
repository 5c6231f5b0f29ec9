//! What the names of a part stand for.

use super::gates::Gates;
use super::mentions::mentions;
use crate::diagnostic::{Sink, Span, nearest};
use crate::syntax::tree::{Expr, Kind, Listed, Statement, Word};
use crate::{NodeId, PinId, Role, StateId};
use std::collections::{HashMap, HashSet};

/// A statement and how far down the line of variants it was written: 0 in the part that
/// everything comes from.
pub(crate) type Layered<'a> = (u8, &'a Statement);

/// Something that is worked out when it is first needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lazy<T> {
    Open,
    Busy,
    Done(T),
}

/// What decides the level of an output.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Shown<'a> {
    /// A register of the same name.
    State(StateId),
    /// A bit of a value.
    Value {
        expr: &'a Expr,
        width: usize,
        /// Counted from the least significant.
        bit: usize,
        inverted: bool,
        condition: Option<&'a Expr>,
    },
    /// A column of the table in a statement.
    Column { statement: usize, column: usize },
    /// A data pin of the memory.
    Memory,
}

#[derive(Debug)]
pub(crate) struct PinEntry<'a> {
    pub name: String,
    pub span: Span,
    pub read: bool,
    pub shown: Option<Shown<'a>>,
    /// Where it was assigned.
    pub assigned: Option<Span>,
    pub layer: u8,
    /// Its role where it is no signal.
    pub special: Option<Role>,
    pub driver: Lazy<(NodeId, Option<NodeId>)>,
    pub open: bool,
}

#[derive(Debug)]
pub(crate) struct StateEntry {
    pub name: String,
    pub span: Span,
    /// The layer of the last statement on it: earlier ones no longer count.
    pub layer: u8,
}

#[derive(Debug)]
pub(crate) struct WireEntry<'a> {
    pub word: &'a Word,
    pub expr: &'a Expr,
    pub layer: u8,
    pub value: Lazy<NodeId>,
    pub used: bool,
}

#[derive(Debug)]
pub(crate) struct GroupEntry<'a> {
    pub word: &'a Word,
    pub bits: &'a [Word],
    pub layer: u8,
    pub used: bool,
    /// Set while its bits are looked up, so that a group in itself is noticed.
    pub busy: bool,
}

/// What a name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Symbol {
    State(StateId),
    Wire(usize),
    Group(usize),
    /// The level on a pin.
    Pin(PinId),
    /// The inverse of the level on an active-low pin.
    Activity(PinId),
}

/// The workings of building one part.
pub(crate) struct Builder<'a> {
    pub sink: &'a mut Sink,
    pub statements: Vec<Layered<'a>>,
    /// The layer of the part itself.
    pub top: u8,
    pub pins: Vec<PinEntry<'a>>,
    pub states: Vec<StateEntry>,
    pub wires: Vec<WireEntry<'a>>,
    pub groups: Vec<GroupEntry<'a>>,
    by_name: Names,
    pub gates: Gates,
    /// How deep the present expression is inside others, wires followed.
    pub depth: usize,
    /// Names that statements mention.
    mentioned: HashSet<String>,
    /// Whether the part's text had errors.
    pub broken: bool,
    /// Errors before this part.
    errors_before: usize,
}

#[derive(Default)]
struct Names {
    pins: HashMap<String, PinId>,
    states: HashMap<String, StateId>,
    wires: HashMap<String, usize>,
    groups: HashMap<String, usize>,
}

impl<'a> Builder<'a> {
    pub fn new(sink: &'a mut Sink, statements: Vec<Layered<'a>>, top: u8) -> Self {
        Self {
            broken: false,
            errors_before: sink.errors(),
            mentioned: mentions(&statements),
            sink,
            statements,
            top,
            pins: Vec::new(),
            states: Vec::new(),
            wires: Vec::new(),
            groups: Vec::new(),
            by_name: Names::default(),
            gates: Gates::new(),
            depth: 0,
        }
    }

    /// Whether it is worth a message that nothing uses a name: not where a statement with an
    /// error mentions it.
    pub fn idle(&self, name: &str) -> bool {
        let clean = !self.broken && self.sink.errors() == self.errors_before;
        clean || !self.is_mentioned(name)
    }

    fn is_mentioned(&self, name: &str) -> bool {
        let bare = name.strip_prefix('/').unwrap_or(name);
        self.mentioned.contains(bare) || self.mentioned.contains(&format!("/{bare}"))
    }

    /// A pin by its name in the pin list.
    pub fn pin_named(&self, name: &str) -> Option<PinId> {
        self.by_name.pins.get(name).copied()
    }

    pub fn state_named(&self, name: &str) -> Option<StateId> {
        self.by_name.states.get(name).copied()
    }

    pub fn pin(&self, id: PinId) -> &PinEntry<'a> {
        &self.pins[usize::from(id.0)]
    }

    pub fn pin_mut(&mut self, id: PinId) -> &mut PinEntry<'a> {
        &mut self.pins[usize::from(id.0)]
    }

    /// Enters a pin, or finds it where it stands in another pinout already.
    pub fn enter_pin(&mut self, word: &Word) -> PinId {
        if let Some(id) = self.pin_named(&word.text) {
            return id;
        }
        let id = PinId(self.pins.len() as u16);
        self.pins.push(PinEntry {
            name: word.text.clone(),
            span: word.span,
            read: false,
            shown: None,
            assigned: None,
            layer: 0,
            special: None,
            driver: Lazy::Open,
            open: false,
        });
        self.by_name.pins.insert(word.text.clone(), id);
        id
    }

    /// Enters registers, wires and groups.
    pub fn enter_names(&mut self) {
        for index in 0..self.statements.len() {
            let (layer, statement) = self.statements[index];
            match &statement.kind {
                Kind::Listed(Listed::State, names) => {
                    for name in names {
                        self.enter_state(layer, name);
                    }
                }
                Kind::Wire(word, expr) => self.enter_wire(layer, word, expr),
                Kind::Group(word, bits) => self.enter_group(layer, word, bits),
                _ => {}
            }
        }
    }

    fn enter_state(&mut self, layer: u8, word: &Word) {
        if word.text.starts_with('/') {
            self.sink.error(
                word.span,
                format!("`{}` cannot name a register", word.text),
                "expected a name without a slash; say what /Q shows with `/Q = ~Q`",
            );
            return;
        }
        if let Some(id) = self.state_named(&word.text) {
            let entry = &mut self.states[id.0 as usize];
            if entry.layer == layer {
                self.twice(word, "register");
            } else {
                entry.layer = layer;
            }
            return;
        }
        if self.taken(word, layer) {
            return;
        }
        let id = StateId(self.states.len() as u32);
        self.states.push(StateEntry { name: word.text.clone(), span: word.span, layer });
        self.by_name.states.insert(word.text.clone(), id);
    }

    fn enter_wire(&mut self, layer: u8, word: &'a Word, expr: &'a Expr) {
        let entry = WireEntry { word, expr, layer, value: Lazy::Open, used: false };
        if let Some(&index) = self.by_name.wires.get(&word.text) {
            if self.wires[index].layer == layer {
                self.twice(word, "wire");
            } else {
                self.wires[index] = entry;
            }
        } else if !self.taken(word, layer) && !self.is_pin(word, "wire") {
            self.by_name.wires.insert(word.text.clone(), self.wires.len());
            self.wires.push(entry);
        }
    }

    fn enter_group(&mut self, layer: u8, word: &'a Word, bits: &'a [Word]) {
        let entry = GroupEntry { word, bits, layer, used: false, busy: false };
        if let Some(&index) = self.by_name.groups.get(&word.text) {
            if self.groups[index].layer == layer {
                self.twice(word, "group");
            } else {
                self.groups[index] = entry;
            }
        } else if !self.taken(word, layer) && !self.is_pin(word, "group") {
            self.by_name.groups.insert(word.text.clone(), self.groups.len());
            self.groups.push(entry);
        }
    }

    fn twice(&mut self, word: &Word, what: &str) {
        self.sink.error(
            word.span,
            format!("{what} `{}` is named twice", word.text),
            "expected each name once",
        );
    }

    /// Whether another kind of thing has the name already.
    fn taken(&mut self, word: &Word, _layer: u8) -> bool {
        let names = &self.by_name;
        let what = if names.states.contains_key(&word.text) {
            "a register"
        } else if names.wires.contains_key(&word.text) {
            "a wire"
        } else if names.groups.contains_key(&word.text) {
            "a group"
        } else {
            return false;
        };
        self.sink.error(
            word.span,
            format!("`{}` is {what} already", word.text),
            "expected another name",
        );
        true
    }

    fn is_pin(&mut self, word: &Word, what: &str) -> bool {
        let (pin, expected) = if self.pin_named(&word.text).is_some() {
            (word.text.clone(), "expected another name, or an assignment to the pin itself")
        } else {
            let active_low = format!("/{}", word.text);
            if self.pin_named(&active_low).is_none() {
                return false;
            }
            (active_low, "expected another name: this one is the activity of the pin")
        };
        self.sink.error(
            word.span,
            format!("{what} `{}` has the name of pin `{pin}`", word.text),
            expected,
        );
        true
    }

    /// What a name stands for in an expression.
    pub fn find(&self, name: &str) -> Option<Symbol> {
        let names = &self.by_name;
        if let Some(id) = names.states.get(name) {
            return Some(Symbol::State(*id));
        }
        if let Some(index) = names.wires.get(name) {
            return Some(Symbol::Wire(*index));
        }
        if let Some(index) = names.groups.get(name) {
            return Some(Symbol::Group(*index));
        }
        if let Some(id) = names.pins.get(name) {
            return Some(Symbol::Pin(*id));
        }
        names.pins.get(&format!("/{name}")).map(|id| Symbol::Activity(*id))
    }

    /// As [`find`](Self::find), and says so where there is nothing.
    pub fn look_up(&mut self, word: &Word) -> Option<Symbol> {
        let found = self.find(&word.text);
        if found.is_none() {
            self.no_such(word, "expected a pin, register, wire or group");
        }
        found
    }

    /// The pins of a list; those that are not pins are reported.
    pub fn look_up_pins(&mut self, words: &[Word]) -> Vec<PinId> {
        let mut pins = Vec::new();
        for word in words {
            match self.pin_named(&word.text) {
                Some(pin) => pins.push(pin),
                None => self.no_such_pin(word),
            }
        }
        pins
    }

    pub fn no_such_pin(&mut self, word: &Word) {
        let suggestion = self.suggestion(&word.text, true);
        self.sink.error_with(
            word.span,
            format!("`{}` is not a pin", word.text),
            "expected a name from the pin list",
            suggestion,
        );
    }

    pub fn no_such(&mut self, word: &Word, expected: &str) {
        let suggestion = self.suggestion(&word.text, false);
        self.sink.error_with(
            word.span,
            format!("there is no `{}`", word.text),
            expected,
            suggestion,
        );
    }

    fn suggestion(&self, name: &str, pins_only: bool) -> Option<String> {
        if self.sink.full() {
            return None;
        }
        if let Some(bare) = name.strip_prefix('/')
            && self.find(bare).is_some()
        {
            return Some(if pins_only {
                format!("did you mean `{bare}`?")
            } else {
                format!("only an active-low pin is written with a slash; did you mean `~{bare}`?")
            });
        }
        if pins_only && self.pin_named(&format!("/{name}")).is_some() {
            return Some(format!("did you mean `/{name}`?"));
        }
        let names = &self.by_name;
        let pins = names.pins.keys().map(String::as_str);
        // The activity of `/CLR` is written `CLR`.
        let activities = pins.clone().filter_map(|pin| pin.strip_prefix('/'));
        let others = names.states.keys().chain(names.wires.keys()).chain(names.groups.keys());
        let near = if pins_only {
            nearest(name, pins)
        } else {
            nearest(name, pins.chain(activities).chain(others.map(String::as_str)))
        };
        // One that nothing else mentions is likelier meant.
        let idle = near.iter().find(|name| !self.is_mentioned(name));
        idle.or(near.first()).map(|name| format!("did you mean `{name}`?"))
    }
}
