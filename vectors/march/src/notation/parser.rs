//! From pieces to elements. What is wrong is noted and passed over, so that one run finds all.

use super::token::{Kind, Token, tokens};
use super::{Body, MOST_OPERATIONS, PAUSE_MAX, PAUSE_USUAL, Written, pause_max};
use crate::march::{Direction, Operation};
use crate::mistake::{Sink, nearest};
use std::ops::Range;
use std::time::Duration;

const AN_ELEMENT: &str = "expected an element: up(…), down(…), any(…) or pause(100ms)";
const AN_OPERATION: &str = "expected r0, r1, w0 or w1";
const A_TIME: &str = "expected a whole number with us, ms or s: 100ms";
const HEADS: [&str; 4] = ["up", "down", "any", "pause"];

/// Words that people use for the four heads.
const OTHER_WORDS: [(&str, &str); 14] = [
    ("ascending", "up"),
    ("asc", "up"),
    ("inc", "up"),
    ("u", "up"),
    ("descending", "down"),
    ("desc", "down"),
    ("dec", "down"),
    ("dn", "down"),
    ("d", "down"),
    ("either", "any"),
    ("updown", "any"),
    ("both", "any"),
    ("wait", "pause"),
    ("delay", "pause"),
];

/// Reads all elements of a text.
pub(super) fn parse<'t>(text: &'t str, sink: &mut Sink<'t>) -> Vec<Written> {
    let mut parser = Parser { text, tokens: tokens(text), next: 0, sink };
    parser.test()
}

struct Parser<'p, 't> {
    text: &'t str,
    tokens: Vec<Token>,
    next: usize,
    sink: &'p mut Sink<'t>,
}

impl Parser<'_, '_> {
    fn test(&mut self) -> Vec<Written> {
        let mut elements = Vec::new();
        let opening = self.take_mark('{');
        let mut closed = false;
        while let Some(token) = self.peek() {
            match token.kind {
                Kind::Mark(';') => self.next += 1,
                Kind::Mark('}') if opening.is_some() && !closed => {
                    self.next += 1;
                    closed = true;
                    continue;
                }
                _ => {}
            }
            if closed {
                let rest = token.at.start..self.text.trim_end().len();
                self.sink.say(
                    rest,
                    "something follows the closing brace",
                    "expected the end",
                    None,
                );
                break;
            }
            if token.kind == Kind::Mark(';') {
                continue;
            }
            let before = self.next;
            let head = token.at.clone();
            match self.element(token) {
                Some(element) => {
                    elements.push(element);
                    self.separator();
                }
                None => elements.push(Written { head, body: Body::Unknown }),
            }
            // Whatever was met, the text gets shorter.
            self.next = self.next.max(before + 1);
        }
        if let (Some(at), false) = (opening, closed) {
            self.sink.say(
                at,
                "this brace is never closed",
                "expected `}` at the end",
                Some("the braces may also be left out".into()),
            );
        }
        if elements.is_empty() {
            self.sink.say(0..self.text.len().min(1), "there is no element here", AN_ELEMENT, None);
        }
        elements
    }

    /// One element, from its head to its closing parenthesis.
    fn element(&mut self, head: Token) -> Option<Written> {
        self.next += 1;
        let word = self.text[head.at.clone()].to_lowercase();
        let direction = match head.kind {
            Kind::Arrow('⇑' | '↑') => Some(Direction::Up),
            Kind::Arrow('⇓' | '↓') => Some(Direction::Down),
            Kind::Arrow(_) => Some(Direction::Any),
            Kind::Word => match word.as_str() {
                "up" => Some(Direction::Up),
                "down" => Some(Direction::Down),
                "any" => Some(Direction::Any),
                "pause" | "del" => return Some(self.pause(head.at, word == "del")),
                _ if operation(&word).is_some() => {
                    self.sink.say(
                        head.at,
                        format!("`{word}` stands outside of an element"),
                        AN_ELEMENT,
                        Some(format!("did you mean `any({word})`?")),
                    );
                    return None;
                }
                _ => {
                    let other = OTHER_WORDS.iter().find(|(other, _)| *other == word);
                    let near = other.map(|(_, head)| *head).or_else(|| nearest(&word, HEADS));
                    self.sink.say(
                        head.at.clone(),
                        format!("`{}` starts no element", &self.text[head.at.clone()]),
                        AN_ELEMENT,
                        near.map(|near| format!("did you mean `{near}`?")),
                    );
                    if near == Some("pause") {
                        self.skip_parentheses();
                        return Some(Written { head: head.at, body: Body::Pause(None) });
                    }
                    if !self.opens(self.next) {
                        return None;
                    }
                    None
                }
            },
            Kind::Mark('(') => {
                self.next -= 1;
                self.sink.say(
                    head.at.clone(),
                    "this element has no direction",
                    "expected up, down or any before it",
                    None,
                );
                None
            }
            Kind::Mark(mark) | Kind::Stranger(mark) => {
                self.sink.say(head.at, format!("`{mark}` starts no element"), AN_ELEMENT, None);
                return None;
            }
        };
        let operations = self.operations(&head.at)?;
        Some(Written { head: head.at, body: Body::Sweep { direction, operations } })
    }

    /// `(r0,w1)`.
    fn operations(
        &mut self,
        head: &Range<usize>,
    ) -> Option<Vec<(Range<usize>, Option<Operation>)>> {
        if self.take_mark('(').is_none() {
            self.sink.say(
                self.here(),
                format!("`{}` has no operations", &self.text[head.clone()]),
                "expected `(`",
                Some(format!("write it as `{}(r0,w1)`", &self.text[head.clone()])),
            );
            return None;
        }
        let mut operations = Vec::new();
        let mut wanted = true;
        loop {
            let Some(token) = self.peek().filter(|token| self.belongs(token)) else {
                self.sink.say(self.here(), "this element is not closed", "expected `)`", None);
                return Some(operations);
            };
            self.next += 1;
            match token.kind {
                Kind::Mark(')') => {
                    if wanted {
                        self.sink.say(token.at, "an operation is missing", AN_OPERATION, None);
                    }
                    break;
                }
                Kind::Mark(',') => {
                    if wanted {
                        self.sink.say(token.at, "an operation is missing", AN_OPERATION, None);
                    }
                    wanted = true;
                }
                // Within parentheses a semicolon can only be a slip for a comma.
                Kind::Mark(';') => {
                    self.sink.say(
                        token.at,
                        "`;` ends no operation",
                        "expected `,` or `)`",
                        Some("`;` goes between elements, `,` between operations".into()),
                    );
                    wanted = true;
                }
                _ => {
                    if !wanted {
                        let at = token.at.start..token.at.start + self.width(&token);
                        self.sink.say(at, "a comma is missing", "expected `,` or `)`", None);
                    }
                    let read = self.operation(&token);
                    operations.push((token.at, read));
                    wanted = false;
                }
            }
        }
        if let Some((at, _)) = operations.get(MOST_OPERATIONS) {
            self.sink.say(
                at.clone(),
                format!("an element of {} operations is too long", operations.len()),
                format!("at most {MOST_OPERATIONS} operations"),
                Some("go on in a further element".into()),
            );
        }
        Some(operations)
    }

    fn operation(&mut self, token: &Token) -> Option<Operation> {
        let text = &self.text[token.at.clone()];
        let word = text.to_lowercase();
        let read = operation(&word);
        if read.is_none() {
            self.sink.say(
                token.at.clone(),
                format!("`{text}` is no operation"),
                AN_OPERATION,
                meant(&word).map(|meant| format!("did you mean `{meant}`?")),
            );
        }
        read
    }

    /// `(100ms)`, which may be left out after `Del`.
    fn pause(&mut self, head: Range<usize>, usual: bool) -> Written {
        if self.take_mark('(').is_none() {
            if usual {
                return Written { head, body: Body::Pause(Some(PAUSE_USUAL)) };
            }
            self.sink.say(
                self.here(),
                "this pause has no time",
                "expected `(`",
                Some("write it as `pause(100ms)`".into()),
            );
            return Written { head, body: Body::Pause(None) };
        }
        let from = self.next;
        while self.peek().is_some_and(|token| {
            !matches!(token.kind, Kind::Mark(')' | ';' | '}')) && self.belongs(&token)
        }) {
            self.next += 1;
        }
        let inside = &self.tokens[from..self.next];
        let at = match (inside.first(), inside.last()) {
            (Some(first), Some(last)) => first.at.start..last.at.end,
            _ => self.here(),
        };
        let text: String = self.text[at.clone()].split_whitespace().collect();
        let time = if from == self.next { None } else { self.time(&text, at.clone()) };
        if from == self.next {
            self.sink.say(at, "this pause has no time", A_TIME, None);
        }
        if self.take_mark(')').is_none() {
            self.sink.say(self.here(), "this pause is not closed", "expected `)`", None);
        }
        Written { head, body: Body::Pause(time) }
    }

    fn time(&mut self, text: &str, at: Range<usize>) -> Option<Duration> {
        let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let (number, unit) = text.split_at(digits);
        let size: Option<u64> = match unit.to_lowercase().as_str() {
            "us" | "µs" | "μs" => Some(1),
            "ms" => Some(1_000),
            "s" => Some(1_000_000),
            _ => None,
        };
        let (Some(size), false) = (size, number.is_empty()) else {
            let suggestion = match unit {
                "" => Some(format!("did you mean `{number}ms`?")),
                _ if unit.starts_with('.') => Some("write it in the next smaller unit".into()),
                _ => None,
            };
            self.sink.say(at, format!("`{text}` is no time"), A_TIME, suggestion);
            return None;
        };
        // More digits than a number can hold are too long in any unit.
        let microseconds = number.parse::<u64>().ok().and_then(|n| n.checked_mul(size));
        let pause = microseconds.map(Duration::from_micros);
        match pause {
            Some(pause) if pause.is_zero() => {
                self.sink.say(at, "a pause of no time does nothing", "at least 1us", None);
                None
            }
            Some(pause) if pause <= PAUSE_MAX => Some(pause),
            _ => {
                self.sink.say(at, format!("a pause of {text} is too long"), pause_max(), None);
                None
            }
        }
    }

    /// What comes between two elements, or ends the test.
    fn separator(&mut self) {
        match self.peek() {
            None => {}
            Some(token) if matches!(token.kind, Kind::Mark(';' | '}')) => {}
            Some(token) => {
                let comma = token.kind == Kind::Mark(',');
                let width = self.width(&token);
                self.sink.say(
                    token.at.start..token.at.start + width,
                    "a semicolon is missing",
                    "expected `;` between elements",
                    comma.then(|| "`,` goes between operations".into()),
                );
                if comma {
                    self.next += 1;
                }
            }
        }
    }

    /// Passes over the parentheses of an element that is not understood.
    fn skip_parentheses(&mut self) {
        if self.take_mark('(').is_none() {
            return;
        }
        while let Some(token) = self.peek().filter(|token| self.belongs(token)) {
            self.next += 1;
            if token.kind == Kind::Mark(')') {
                break;
            }
        }
    }

    /// Whether a piece can still stand within parentheses that were opened: the next element's
    /// head, or a semicolon before one, shows that they were not closed.
    fn belongs(&self, token: &Token) -> bool {
        let head = |token: &Token| match token.kind {
            Kind::Arrow(_) => true,
            Kind::Word => {
                let word = self.text[token.at.clone()].to_lowercase();
                word == "del" || HEADS.contains(&word.as_str())
            }
            _ => false,
        };
        match token.kind {
            Kind::Mark('{' | '}' | '(') => false,
            Kind::Mark(';') => self.tokens.get(self.next + 1).is_some_and(|next| {
                next.kind == Kind::Word && !head(next) && !self.opens(self.next + 2)
            }),
            _ => !head(token),
        }
    }

    fn opens(&self, index: usize) -> bool {
        self.tokens.get(index).is_some_and(|token| token.kind == Kind::Mark('('))
    }

    fn peek(&self) -> Option<Token> {
        self.tokens.get(self.next).cloned()
    }

    /// Takes a mark if it is next, and gives its bytes.
    fn take_mark(&mut self, mark: char) -> Option<Range<usize>> {
        let token = self.peek().filter(|token| token.kind == Kind::Mark(mark))?;
        self.next += 1;
        Some(token.at)
    }

    /// The bytes of the next piece, or the last character of the text.
    fn here(&self) -> Range<usize> {
        match self.tokens.get(self.next) {
            Some(token) => token.at.clone(),
            None => {
                let end = self.text.trim_end().len();
                let last = self.text[..end].chars().next_back().map_or(0, char::len_utf8);
                end - last..end
            }
        }
    }

    /// The bytes of a piece's first character.
    fn width(&self, token: &Token) -> usize {
        self.text[token.at.clone()].chars().next().map_or(0, char::len_utf8)
    }
}

/// The operation that a word in lower case names.
fn operation(word: &str) -> Option<Operation> {
    Some(match word {
        "r0" => Operation::Read(false),
        "r1" => Operation::Read(true),
        "w0" => Operation::Write(false),
        "w1" => Operation::Write(true),
        _ => return None,
    })
}

/// The operation that a word was likely meant to be: letters and digit in another order or spelt
/// out, as in `0r`, `read1` or `ro`.
fn meant(word: &str) -> Option<String> {
    let letter = word.chars().find(|c| matches!(c, 'r' | 'w'))?;
    let zero = word.contains('0') || word.ends_with('o');
    let one = word.contains('1') || word.ends_with('l') || word.ends_with('i');
    match (zero, one) {
        (true, false) => Some(format!("{letter}0")),
        (false, true) => Some(format!("{letter}1")),
        (true, true) => None,
        (false, false) => Some(format!("{letter}0` or `{letter}1")),
    }
}
