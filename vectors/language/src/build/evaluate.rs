//! Lowers expressions to gates.

use super::gates::{ONE, ZERO};
use super::symbols::{Builder, Lazy, Shown, Symbol};
use crate::NodeId;
use crate::diagnostic::Span;
use crate::syntax::tree::{Comparison, Expr, Gate, Word};
use crate::{PinId, Role};

/// Expressions inside expressions, wires followed: far more than a description needs, few enough
/// for any stack.
const DEEPEST: usize = 700;

/// Bits that one expression may have.
const WIDEST: usize = 256;

impl<'a> Builder<'a> {
    /// How many bits an expression has by itself; `None` where it takes the width that it meets.
    pub fn width(&self, expr: &Expr) -> Option<usize> {
        let widest = |parts: &mut dyn Iterator<Item = &Expr>| {
            parts.filter_map(|part| self.width(part)).max()
        };
        match expr {
            Expr::Name(word) => Some(self.name_width(&word.text)),
            Expr::Pick { high, low, .. } => Some((high - low) as usize + 1),
            Expr::Number { width, .. } => width.map(|width| width as usize),
            Expr::Unknown(_) => None,
            Expr::Not(inner, _) => self.width(inner),
            Expr::Reduce(..) | Expr::Compare(..) => Some(1),
            Expr::Sum(terms) => widest(&mut terms.iter().map(|(_, term)| term)),
            Expr::Combine(_, parts) => widest(&mut parts.iter()),
            Expr::Choose(arms, otherwise) => {
                widest(&mut arms.iter().map(|(_, value)| value).chain([otherwise.as_ref()]))
            }
            Expr::Join(parts, _) => {
                Some(parts.iter().map(|part| self.width(part).unwrap_or(1)).sum())
            }
        }
    }

    fn name_width(&self, name: &str) -> usize {
        match self.find(name) {
            Some(Symbol::Group(index)) => self.group_width(index, 0),
            _ => 1,
        }
    }

    fn group_width(&self, index: usize, depth: usize) -> usize {
        let bits = self.groups[index].bits;
        if depth > 8 {
            return bits.len();
        }
        let width = |bit: &Word| match self.find(&bit.text) {
            Some(Symbol::Group(inner)) if inner < index => self.group_width(inner, depth + 1),
            _ => 1,
        };
        bits.iter().map(width).sum::<usize>().min(2 * WIDEST)
    }

    /// Whether an expression may be wider than its operands, which are then filled with zeros.
    fn stretches(expr: &Expr) -> bool {
        match expr {
            Expr::Sum(_) => true,
            Expr::Not(inner, _) => Self::stretches(inner),
            Expr::Combine(_, parts) => parts.iter().any(Self::stretches),
            Expr::Choose(arms, otherwise) => {
                arms.iter().any(|(_, value)| Self::stretches(value)) || Self::stretches(otherwise)
            }
            _ => false,
        }
    }

    /// Whether an expression can be had in a width; says so where not.
    pub fn fits(&mut self, expr: &Expr, width: usize) -> bool {
        let own = self.width(expr).unwrap_or(width);
        if own == width || (own < width && Self::stretches(expr)) {
            return true;
        }
        let bits =
            |count: usize| if count == 1 { "1 bit".to_owned() } else { format!("{count} bits") };
        let suggestion = (width == 1 && own > 1).then(|| {
            "one bit of several is made with `|NAME`, `&NAME`, `NAME == 0` or `NAME[0]`".to_owned()
        });
        self.sink.error_with(
            expr.span(),
            format!("the value has {}", bits(own)),
            format!("expected {}", bits(width)),
            suggestion,
        );
        false
    }

    /// A condition or clock: one bit.
    pub fn condition(&mut self, expr: &'a Expr) -> NodeId {
        if self.fits(expr, 1) { self.bits(expr, 1)[0] } else { ZERO }
    }

    /// The bits of an expression in a width, least significant first.
    pub fn bits(&mut self, expr: &'a Expr, width: usize) -> Vec<NodeId> {
        if self.depth >= DEEPEST || width > WIDEST {
            self.sink.error(
                expr.span(),
                "the expression is too large with the wires in it",
                format!("expected at most {DEEPEST} levels and {WIDEST} bits"),
            );
            return vec![ZERO; width.min(2 * WIDEST)];
        }
        self.depth += 1;
        let mut bits = self.bits_inside(expr, width);
        self.depth -= 1;
        bits.resize(width, ZERO);
        bits
    }

    fn bits_inside(&mut self, expr: &'a Expr, width: usize) -> Vec<NodeId> {
        match expr {
            Expr::Name(word) => self.name(word),
            Expr::Pick { name, high, low } => self.picked(name, *high as usize, *low as usize),
            Expr::Number { value, span, .. } => self.number(*value, *span, width),
            Expr::Unknown(_) => vec![self.gates.unknown(); width],
            Expr::Not(inner, span) => {
                self.warn_of_double_inversion(inner, *span);
                let bits = self.bits(inner, width);
                bits.into_iter().map(|bit| self.gates.not(bit)).collect()
            }
            Expr::Reduce(gate, inner, _) => {
                let own = self.width(inner).unwrap_or(1);
                let bits = self.bits(inner, own);
                let first = if *gate == Gate::And { ONE } else { ZERO };
                vec![bits.into_iter().fold(first, |all, bit| self.gate(*gate, all, bit))]
            }
            Expr::Sum(terms) => self.sum(terms, width),
            Expr::Compare(comparison, left, right) => {
                vec![self.compare(*comparison, left, right)]
            }
            Expr::Combine(gate, parts) => {
                self.warn_of_filling(parts);
                let mut all = self.bits(&parts[0], width);
                for part in &parts[1..] {
                    let bits = self.bits(part, width);
                    for (all, bit) in all.iter_mut().zip(bits) {
                        *all = self.gate(*gate, *all, bit);
                    }
                }
                all
            }
            Expr::Choose(arms, otherwise) => {
                let mut chosen = self.bits(otherwise, width);
                for (condition, value) in arms.iter().rev() {
                    let select = self.condition(condition);
                    let high = self.bits(value, width);
                    for (low, high) in chosen.iter_mut().zip(high) {
                        *low = self.gates.mux(select, high, *low);
                    }
                }
                chosen
            }
            Expr::Join(parts, _) => {
                let mut joined = Vec::new();
                for part in parts.iter().rev() {
                    let own = self.width(part).unwrap_or(1);
                    joined.extend(self.bits(part, own));
                    joined.truncate(2 * WIDEST);
                }
                joined
            }
        }
    }

    fn gate(&mut self, gate: Gate, a: NodeId, b: NodeId) -> NodeId {
        match gate {
            Gate::And => self.gates.and(a, b),
            Gate::Or => self.gates.or(a, b),
            Gate::Xor => self.gates.xor(a, b),
        }
    }

    fn number(&mut self, value: u64, span: Span, width: usize) -> Vec<NodeId> {
        let needed = (u64::BITS - value.leading_zeros()) as usize;
        if needed > width {
            self.sink.error(
                span,
                format!("the number {value} needs {needed} bits"),
                match width {
                    1 => "expected one bit here: 0 or 1".to_owned(),
                    _ => format!("expected at most {width} bits here"),
                },
            );
        }
        let bit = |index: usize| index < 64 && value >> index & 1 == 1;
        (0..width).map(|index| self.gates.constant(bit(index))).collect()
    }

    fn sum(&mut self, terms: &'a [(bool, Expr)], width: usize) -> Vec<NodeId> {
        let mut sum = self.bits(&terms[0].1, width);
        let mut rest = terms[1..].iter().peekable();
        while let Some((minus, term)) = rest.next() {
            let bits = self.bits(term, width);
            if *minus {
                sum = self.gates.difference(&sum, &bits);
                continue;
            }
            // A one-bit term beside it goes in as the carry: one row of adders instead of two.
            let carry = match rest.peek() {
                Some((false, next)) if self.width(next) == Some(1) => {
                    rest.next();
                    self.bits(next, 1)[0]
                }
                _ => ZERO,
            };
            sum = self.gates.sum(&sum, &bits, carry);
        }
        sum
    }

    fn compare(&mut self, comparison: Comparison, left: &'a Expr, right: &'a Expr) -> NodeId {
        let least = |expr: &Expr| match expr {
            Expr::Number { value, .. } => (u64::BITS - value.leading_zeros()) as usize,
            _ => 1,
        };
        let width = match (self.width(left), self.width(right)) {
            (None, None) => least(left).max(least(right)),
            (left, right) => left.max(right).unwrap_or(1),
        };
        let (a, b) = (self.bits(left, width), self.bits(right, width));
        let gates = &mut self.gates;
        match comparison {
            Comparison::Equal => gates.equal(&a, &b),
            Comparison::Unequal => {
                let equal = gates.equal(&a, &b);
                gates.not(equal)
            }
            Comparison::Less => gates.less(&a, &b),
            Comparison::Greater => gates.less(&b, &a),
            Comparison::AtLeast => {
                let less = gates.less(&a, &b);
                gates.not(less)
            }
            Comparison::AtMost => {
                let more = gates.less(&b, &a);
                gates.not(more)
            }
        }
    }

    fn picked(&mut self, name: &'a Word, high: usize, low: usize) -> Vec<NodeId> {
        let bits = self.name(name);
        match bits.get(low..=high) {
            Some(bits) => bits.to_vec(),
            None => {
                self.no_such_bit(name, bits.len());
                vec![ZERO; high - low + 1]
            }
        }
    }

    pub fn no_such_bit(&mut self, name: &Word, width: usize) {
        self.sink.error(
            name.span,
            format!("`{}` has {width} bits", name.text),
            format!("expected bit numbers up to {}", width.saturating_sub(1)),
        );
    }

    /// The bits that a name stands for, least significant first.
    pub fn name(&mut self, word: &'a Word) -> Vec<NodeId> {
        match self.look_up(word) {
            None => vec![ZERO],
            Some(Symbol::Group(index)) => self.group(index, word),
            Some(symbol) => vec![self.bit(symbol, word.span)],
        }
    }

    fn group(&mut self, index: usize, word: &Word) -> Vec<NodeId> {
        let group = &mut self.groups[index];
        group.used = true;
        if std::mem::replace(&mut group.busy, true) {
            self.sink.error(
                word.span,
                format!("group `{}` holds itself", word.text),
                "expected names of single bits or of groups above",
            );
            return vec![ZERO];
        }
        let bits = group.bits;
        let mut all = Vec::new();
        for bit in bits.iter().rev() {
            match self.look_up(bit) {
                Some(Symbol::Group(inner)) if inner < index => all.extend(self.group(inner, bit)),
                Some(Symbol::Group(_)) => {
                    self.sink.error(
                        bit.span,
                        format!("group `{}` is not known yet", bit.text),
                        "expected single bits or groups from above",
                    );
                    all.push(ZERO);
                }
                Some(symbol) => all.push(self.bit(symbol, bit.span)),
                None => all.push(ZERO),
            }
            all.truncate(2 * WIDEST);
        }
        self.groups[index].busy = false;
        all
    }

    /// A single bit.
    pub fn bit(&mut self, symbol: Symbol, span: Span) -> NodeId {
        match symbol {
            Symbol::State(state) => self.gates.state(state),
            Symbol::Pin(pin) => self.read_pin(pin, span),
            Symbol::Activity(pin) => {
                let level = self.read_pin(pin, span);
                self.gates.not(level)
            }
            Symbol::Wire(index) => self.wire(index, span),
            // Groups are taken apart by `name`.
            Symbol::Group(_) => ZERO,
        }
    }

    fn wire(&mut self, index: usize, span: Span) -> NodeId {
        self.wires[index].used = true;
        self.wire_value(index, span)
    }

    /// Looks at wires and groups that nothing uses, for their errors alone.
    pub fn look_at_unused(&mut self) {
        let read: Vec<bool> = self.pins.iter().map(|pin| pin.read).collect();
        for index in 0..self.wires.len() {
            self.wire_value(index, self.wires[index].word.span);
        }
        for (pin, read) in self.pins.iter_mut().zip(read) {
            pin.read = read;
        }
        for index in 0..self.groups.len() {
            if !self.groups[index].used {
                for bit in self.groups[index].bits {
                    self.look_up(bit);
                }
            }
        }
    }

    fn wire_value(&mut self, index: usize, span: Span) -> NodeId {
        let wire = &mut self.wires[index];
        match wire.value {
            Lazy::Done(node) => node,
            Lazy::Busy => {
                let name = wire.word.text.clone();
                self.loop_found(&name, span);
                ZERO
            }
            Lazy::Open => {
                wire.value = Lazy::Busy;
                let expr = wire.expr;
                let node = self.condition(expr);
                self.wires[index].value = Lazy::Done(node);
                node
            }
        }
    }

    fn loop_found(&mut self, name: &str, span: Span) {
        self.sink.error_with(
            span,
            format!("`{name}` depends on itself: a loop of gates without a register"),
            "expected a chain of gates that ends at inputs and registers",
            Some("what is kept is written as a register: `state`, then `when` or `on`".to_owned()),
        );
    }

    /// Whether a pin is no signal, which is reported.
    pub fn is_special(&mut self, pin: PinId, span: Span) -> bool {
        let entry = self.pin(pin);
        let Some(role) = entry.special else { return false };
        self.sink.error(
            span,
            format!("`{}` is {}", entry.name, role_in_words(role)),
            "expected a signal",
        );
        true
    }

    /// The level on a pin.
    pub fn read_pin(&mut self, pin: PinId, span: Span) -> NodeId {
        if self.is_special(pin, span) {
            return ZERO;
        }
        let entry = self.pin_mut(pin);
        entry.read = true;
        let Some(shown) = entry.shown else { return self.gates.pin(pin) };
        let floats = match shown {
            Shown::State(_) => false,
            Shown::Value { condition, .. } => condition.is_some(),
            Shown::Column { statement, column } => self.column_floats(statement, column),
            Shown::Memory => true,
        };
        if floats {
            // A bidirectional pin.
            return self.gates.pin(pin);
        }
        if self.pin(pin).open {
            let name = self.pin(pin).name.clone();
            self.sink.error_with(
                span,
                format!("`{name}` is an open-collector output: its level may float here"),
                "expected an input, a register, a wire or an output that is always driven",
                Some(format!("give the value of `{name}` a name with `wire` and use that")),
            );
            return ZERO;
        }
        if self.pin(pin).driver == Lazy::Busy {
            let name = self.pin(pin).name.clone();
            self.loop_found(&name, span);
            return ZERO;
        }
        self.driver(pin).0
    }

    /// What drives an output: its level, and the condition where there is one.
    pub fn driver(&mut self, pin: PinId) -> (NodeId, Option<NodeId>) {
        let entry = self.pin_mut(pin);
        if let Lazy::Done(driver) = entry.driver {
            return driver;
        }
        let Some(shown) = entry.shown else { return (ZERO, None) };
        if self.depth >= DEEPEST {
            let span = self.pin(pin).span;
            self.sink.error(
                span,
                "the chain of outputs that depend on each other is too long",
                format!("expected at most {DEEPEST} levels"),
            );
            return (ZERO, None);
        }
        self.pin_mut(pin).driver = Lazy::Busy;
        self.depth += 1;
        let driver = match shown {
            Shown::State(state) => (self.gates.state(state), None),
            Shown::Value { expr, width, bit, inverted, condition } => {
                let level = self.bits(expr, width).get(bit).copied().unwrap_or(ZERO);
                let level = if inverted { self.gates.not(level) } else { level };
                (level, condition.map(|condition| self.condition(condition)))
            }
            Shown::Column { statement, column } => self.output_column(statement, column),
            Shown::Memory => (ZERO, None),
        };
        self.depth -= 1;
        self.pin_mut(pin).driver = Lazy::Done(driver);
        driver
    }

    fn warn_of_double_inversion(&mut self, inner: &Expr, span: Span) {
        if let Expr::Name(word) = inner
            && let Some(bare) = word.text.strip_prefix('/')
            && self.pin_named(&word.text).is_some()
            && matches!(self.find(bare), Some(Symbol::Activity(_)))
        {
            self.sink.warning(
                span,
                format!("`~{}` is the activity of the pin", word.text),
                "expected the name without the slash",
                Some(format!("write `{bare}`")),
            );
        }
    }

    fn warn_of_filling(&mut self, parts: &[Expr]) {
        let mut widths = parts.iter().filter_map(|part| Some((self.width(part)?, part)));
        let Some((first, _)) = widths.next() else { return };
        let other = widths.find(|(width, _)| *width != first);
        let Some((second, part)) = other.map(|(width, part)| (width, part.span())) else { return };
        self.sink.warning(
            part,
            format!("{first} and {second} bits meet"),
            "the narrower operand is filled with zeros",
            Some("repeat a bit with a join, as in `{EN, EN, EN, EN}`".to_owned()),
        );
    }
}

/// A role after `is`.
pub(crate) fn role_in_words(role: Role) -> &'static str {
    match role {
        Role::Supply => "a supply",
        Role::Ground => "a ground",
        Role::Fed => "fed",
        Role::Open => "left open",
        Role::Foreign { .. } => "a supply of another voltage",
        Role::Input | Role::Output | Role::Bidirectional => "a signal",
    }
}
