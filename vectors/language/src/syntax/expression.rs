//! Expressions and assignments, by recursive descent.

use super::NESTING;
use super::token::{Placed, Token};
use super::tree::{Assignment, Comparison, Expr, Gate, Word};
use crate::diagnostic::{Sink, Span};

/// Reads the tokens of one statement. An error is reported once, and then the statement is given
/// up: every function returns `None`.
pub(crate) struct Parser<'a> {
    tokens: &'a [Placed],
    at: usize,
    /// For each `?`, whether a `:` of the same nesting follows: only then it is a choice.
    choices: Vec<bool>,
    /// Where the statement ends.
    end: Span,
    pub sink: &'a mut Sink,
}

const VALUE: &str = "expected a name, a number, `?`, `~`, `(` or `{`";

impl<'a> Parser<'a> {
    /// `span` is the whole statement.
    pub fn new(tokens: &'a [Placed], span: Span, sink: &'a mut Sink) -> Self {
        let end = Span { start: span.end, ..span };
        Self { tokens, at: 0, choices: choices(tokens), end, sink }
    }

    pub fn done(&self) -> bool {
        self.at >= self.tokens.len()
    }

    pub fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.at).map(|placed| &placed.token)
    }

    pub fn is_sign(&self, sign: &str) -> bool {
        matches!(self.peek(), Some(Token::Sign(found)) if *found == sign)
    }

    pub fn take_sign(&mut self, sign: &str) -> bool {
        let found = self.is_sign(sign);
        self.at += usize::from(found);
        found
    }

    pub fn take_reserved(&mut self, word: &str) -> bool {
        let found = matches!(self.peek(), Some(Token::Reserved(found)) if *found == word);
        self.at += usize::from(found);
        found
    }

    /// Passes over a token.
    pub fn skip(&mut self) {
        self.at += 1;
    }

    /// The place of the next token, or the end of the statement.
    pub fn here(&self) -> Span {
        self.tokens.get(self.at).map_or(self.end, |placed| placed.span)
    }

    fn before(&self) -> Span {
        self.at.checked_sub(1).and_then(|at| self.tokens.get(at)).map_or(self.end, |t| t.span)
    }

    /// Says that the next token does not fit.
    pub fn unexpected<T>(&mut self, expected: &str) -> Option<T> {
        let span = self.here();
        let message = match self.peek() {
            None => "the statement ends too early".to_owned(),
            // It was reported where it was read.
            Some(Token::Wrong) => return None,
            Some(Token::Name(name)) => format!("unexpected `{name}`"),
            Some(Token::Reserved(word)) => format!("unexpected `{word}`"),
            Some(Token::Number { .. }) => "unexpected number".to_owned(),
            Some(Token::Sign(sign)) => format!("unexpected `{sign}`"),
        };
        self.sink.error(span, message, expected);
        None
    }

    /// Demands that nothing follows.
    pub fn finish(&mut self, expected: &str) -> Option<()> {
        if self.done() { Some(()) } else { self.unexpected(expected) }
    }

    /// `TARGET … SIGN VALUE …`, up to the end or `while`.
    pub fn assignment(&mut self, sign: &'static str) -> Option<Assignment> {
        let start = self.here();
        let mut targets = Vec::new();
        while !self.is_sign("=") && !self.is_sign(":=") {
            if self.done() {
                let expected = format!("expected `{sign}` and a value");
                return self.unexpected(&expected);
            }
            let target = self.operand(0)?;
            check_target(&target, self.sink)?;
            targets.push(target);
        }
        if targets.is_empty() {
            return self.unexpected("expected the name of a target");
        }
        if !self.take_sign(sign) {
            let expected = if sign == ":=" {
                "expected `:=`: a register takes a value"
            } else {
                "expected `=`: an output shows a value; registers take theirs after `when` or `on`"
            };
            return self.unexpected(expected);
        }
        let mut values = vec![self.expression(0)?];
        while !self.done() && !matches!(self.peek(), Some(Token::Reserved(_))) {
            if self.is_sign(",") {
                let span = self.here();
                self.sink.error_with(
                    span,
                    "unexpected `,`",
                    "expected the next value without a comma",
                    Some("commas stand in a join: `{A, B}`".to_owned()),
                );
                return None;
            }
            values.push(self.expression(0)?);
        }
        Some(Assignment { targets, values, span: start.to(self.before()) })
    }

    /// An expression; `depth` counts parentheses around it.
    pub fn expression(&mut self, depth: usize) -> Option<Expr> {
        let mut arms = Vec::new();
        loop {
            let value = self.any_of(depth)?;
            let chooses = self.is_sign("?") && self.choices.get(self.at) == Some(&true);
            if !chooses {
                return Some(if arms.is_empty() {
                    value
                } else {
                    Expr::Choose(arms, Box::new(value))
                });
            }
            self.at += 1;
            let chosen = self.nested(depth)?;
            if !self.take_sign(":") {
                return self.unexpected("expected `:` and the value where the condition is low");
            }
            arms.push((value, chosen));
        }
    }

    fn nested(&mut self, depth: usize) -> Option<Expr> {
        if depth >= NESTING {
            let span = self.here();
            self.sink.error(
                span,
                "the expression is nested too deep",
                format!("expected at most {NESTING} levels: give a part of it a name with `wire`"),
            );
            return None;
        }
        self.expression(depth + 1)
    }

    fn any_of(&mut self, depth: usize) -> Option<Expr> {
        self.chain(depth, "|", Gate::Or, |parser, depth| {
            parser.chain(depth, "^", Gate::Xor, |parser, depth| {
                parser.chain(depth, "&", Gate::And, Self::equality)
            })
        })
    }

    fn chain(
        &mut self,
        depth: usize,
        sign: &str,
        gate: Gate,
        inner: fn(&mut Self, usize) -> Option<Expr>,
    ) -> Option<Expr> {
        let mut parts = vec![inner(self, depth)?];
        while self.take_sign(sign) {
            parts.push(inner(self, depth)?);
        }
        Some(if parts.len() == 1 { parts.remove(0) } else { Expr::Combine(gate, parts) })
    }

    fn equality(&mut self, depth: usize) -> Option<Expr> {
        let signs = [("==", Comparison::Equal), ("!=", Comparison::Unequal)];
        self.comparison(depth, &signs, |parser, depth| {
            let signs = [
                ("<=", Comparison::AtMost),
                (">=", Comparison::AtLeast),
                ("<", Comparison::Less),
                (">", Comparison::Greater),
            ];
            parser.comparison(depth, &signs, Self::sum)
        })
    }

    fn comparison(
        &mut self,
        depth: usize,
        signs: &[(&str, Comparison)],
        inner: fn(&mut Self, usize) -> Option<Expr>,
    ) -> Option<Expr> {
        let left = inner(self, depth)?;
        let Some((_, comparison)) = signs.iter().find(|(sign, _)| self.take_sign(sign)) else {
            return Some(left);
        };
        let right = inner(self, depth)?;
        if signs.iter().any(|(sign, _)| self.is_sign(sign)) {
            return self.unexpected("expected parentheses: comparisons do not join");
        }
        Some(Expr::Compare(*comparison, Box::new(left), Box::new(right)))
    }

    fn sum(&mut self, depth: usize) -> Option<Expr> {
        let first = self.operand(depth)?;
        let mut terms = vec![(false, first)];
        loop {
            let minus = self.is_sign("-");
            if !minus && !self.is_sign("+") {
                break;
            }
            self.at += 1;
            terms.push((minus, self.operand(depth)?));
        }
        Some(match terms.pop() {
            Some((_, only)) if terms.is_empty() => only,
            Some(last) => {
                terms.push(last);
                Expr::Sum(terms)
            }
            None => return None,
        })
    }

    fn operand(&mut self, depth: usize) -> Option<Expr> {
        let start = self.here();
        let Some(placed) = self.tokens.get(self.at) else { return self.unexpected(VALUE) };
        let gate = match &placed.token {
            Token::Name(name) => {
                let word = Word { text: name.clone(), span: start };
                self.at += 1;
                return self.pick(word);
            }
            Token::Number { value, width } => {
                let (value, width) = (*value, *width);
                self.at += 1;
                return Some(Expr::Number { value, width, span: start });
            }
            Token::Sign("?") => {
                self.at += 1;
                return Some(Expr::Unknown(start));
            }
            Token::Sign("(") => {
                self.at += 1;
                let inner = self.nested(depth)?;
                if !self.take_sign(")") {
                    return self.unexpected("expected an operator or `)`");
                }
                return Some(inner);
            }
            Token::Sign("{") => {
                self.at += 1;
                return self.join(depth, start);
            }
            Token::Sign("~") => None,
            Token::Sign("&") => Some(Gate::And),
            Token::Sign("|") => Some(Gate::Or),
            Token::Sign("^") => Some(Gate::Xor),
            _ => return self.unexpected(VALUE),
        };
        self.at += 1;
        if depth >= NESTING {
            return self.nested(depth);
        }
        let inner = self.operand(depth + 1)?;
        let span = start.to(self.before());
        Some(match gate {
            None => Expr::Not(Box::new(inner), span),
            Some(gate) => Expr::Reduce(gate, Box::new(inner), span),
        })
    }

    fn join(&mut self, depth: usize, start: Span) -> Option<Expr> {
        let mut parts = Vec::new();
        loop {
            parts.push(self.nested(depth)?);
            if self.take_sign("}") {
                return Some(Expr::Join(parts, start.to(self.before())));
            }
            if !self.take_sign(",") {
                return self.unexpected("expected `,` or `}`");
            }
        }
    }

    fn pick(&mut self, name: Word) -> Option<Expr> {
        if !self.take_sign("[") {
            return Some(Expr::Name(name));
        }
        let high = self.index()?;
        let low = if self.take_sign(":") { self.index()? } else { high };
        if !self.take_sign("]") {
            return self.unexpected("expected `]`, as in Q[2] or Q[6:0]");
        }
        let span = name.span.to(self.before());
        if low > high {
            self.sink.error(
                span,
                "the bits are picked upside down",
                "expected the higher number first, as in Q[6:0]",
            );
            return None;
        }
        Some(Expr::Pick { name: Word { text: name.text, span }, high, low })
    }

    fn index(&mut self) -> Option<u32> {
        match self.peek() {
            Some(Token::Number { value, width: None }) if *value < 1024 => {
                let index = *value as u32;
                self.at += 1;
                Some(index)
            }
            _ => self.unexpected("expected the number of a bit, counted from 0"),
        }
    }
}

fn choices(tokens: &[Placed]) -> Vec<bool> {
    let mut chooses = vec![false; tokens.len()];
    // Open question marks by nesting level: a colon decides those of its own level before it.
    let mut levels: Vec<Vec<usize>> = vec![Vec::new()];
    for (index, placed) in tokens.iter().enumerate() {
        let Token::Sign(sign) = placed.token else { continue };
        match sign {
            "(" | "{" | "[" => levels.push(Vec::new()),
            ")" | "}" | "]" if levels.len() > 1 => {
                levels.pop();
            }
            "?" => {
                if let Some(level) = levels.last_mut() {
                    level.push(index);
                }
            }
            ":" => {
                for question in levels.last_mut().map(std::mem::take).unwrap_or_default() {
                    chooses[question] = true;
                }
            }
            _ => {}
        }
    }
    chooses
}

fn check_target(target: &Expr, sink: &mut Sink) -> Option<()> {
    match target {
        Expr::Name(_) | Expr::Pick { .. } => Some(()),
        Expr::Join(parts, _) => {
            for part in parts {
                check_target(part, sink)?;
            }
            Some(())
        }
        other => {
            sink.error(
                other.span(),
                "this cannot be assigned to",
                "expected an output, a register, a group or a join of them",
            );
            None
        }
    }
}
