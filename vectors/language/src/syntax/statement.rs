//! Statements and parts.

use super::expression::Parser;
use super::lines::{self, Line};
use super::token::{Token, tokens};
use super::tree::{Assignment, Kind, Listed, RawPart, Statement, Word};
use super::words::{self, Variables, is_name};
use super::{NESTING, lists, memory, table, times};
use crate::diagnostic::{Sink, Span, did_you_mean};
use crate::{Edge, PackageKind};

/// The words that start a statement.
const STATEMENTS: [&str; 30] = [
    "title", "source", "made", "dip", "flat", "open", "totem", "schmitt", "load", "fed", "ground",
    "leave", "limit", "note", "untested", "group", "wire", "state", "when", "on", "table", "for",
    "steady", "avoid", "memory", "grade", "refresh", "timing", "startup", "supply",
];

/// Bytes of statements that `for` may write out for one file.
const MOST_TEXT: usize = 2 << 20;

/// What a statement counts for at least, in bytes.
const LEAST_TEXT: usize = 100;

/// Reads the parts of a source.
pub(crate) fn parts(source: u32, sink: &mut Sink) -> Vec<RawPart> {
    let holder = std::sync::Arc::clone(&sink.sources[source as usize]);
    let text = holder.text.as_str();
    let all = lines::split(text);
    let mut reader = Reader { source, text, sink, left: MOST_TEXT, statements: Vec::new() };
    let mut parts: Vec<RawPart> = Vec::new();
    let mut errors = 0;
    let mut rest = all.as_slice();
    let mut homeless = false;
    while !rest.is_empty() {
        let (statement, after) = lines::statement(rest);
        rest = after;
        let first = reader.words(&statement[..1]);
        if first[0].text == "part" {
            if let Some(part) = parts.last_mut() {
                part.statements = std::mem::take(&mut reader.statements);
                part.broken = reader.sink.errors() > errors;
            }
            reader.statements.clear();
            errors = reader.sink.errors();
            parts.extend(reader.part(statement));
        } else {
            if parts.is_empty() && !homeless {
                homeless = true;
                let suggestion = did_you_mean(&first[0].text, ["part"]);
                reader.sink.error_with(
                    first[0].span,
                    "the statement belongs to no part",
                    "expected `part NUMBER` first",
                    suggestion,
                );
            }
            reader.statement(statement, &Variables::default(), 0);
        }
    }
    if let Some(part) = parts.last_mut() {
        part.statements = std::mem::take(&mut reader.statements);
        part.broken = reader.sink.errors() > errors;
    }
    parts
}

struct Reader<'a> {
    source: u32,
    text: &'a str,
    sink: &'a mut Sink,
    /// Bytes that may still be read.
    left: usize,
    statements: Vec<Statement>,
}

impl Reader<'_> {
    fn words(&self, lines: &[Line]) -> Vec<Word> {
        words::raw(self.source, self.text, lines)
    }

    fn span(&self, lines: &[Line]) -> Span {
        let start = lines.first().map_or(0, |line| line.start) as u32;
        let end = lines.last().map_or(0, |line| line.end) as u32;
        Span { source: self.source, start, end }
    }

    fn part(&mut self, lines: &[Line]) -> Option<RawPart> {
        let words = self.words(lines);
        let good = |word: &Word| {
            word.text.bytes().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit())
                && word.text.len() <= 16
        };
        let part = |number: &Word, like: Option<&Word>| RawPart {
            number: number.clone(),
            like: like.cloned(),
            statements: Vec::new(),
            broken: false,
        };
        match words.as_slice() {
            [_, number] if good(number) => Some(part(number, None)),
            [_, number, like, base] if like.text == "like" && good(number) && good(base) => {
                Some(part(number, Some(base)))
            }
            _ => {
                let span = words.get(1).map_or(words[0].span, |word| word.span);
                self.sink.error(
                    span,
                    "the head of the part is not understood",
                    "expected `part NUMBER` or `part NUMBER like NUMBER`, one statement a line",
                );
                // What follows is read all the same, for its own errors.
                let stand_in = Word { text: "?".to_owned(), span };
                Some(part(&stand_in, None))
            }
        }
    }

    fn statement(&mut self, lines: &[Line], variables: &Variables, depth: usize) {
        let span = self.span(lines);
        let size = LEAST_TEXT + (span.end - span.start) as usize;
        if size > self.left {
            if self.left > 0 {
                self.sink.error(
                    span,
                    "the blocks of `for` write out too much",
                    "expected fewer nested `for` or shorter lists",
                );
            }
            self.left = 0;
            return;
        }
        self.left -= size;
        let words = self.words(lines);
        let head = &words[0];
        if head.text == "for" {
            self.repeat(lines, variables, depth);
            return;
        }
        let errors = self.sink.errors();
        let kind = self.kind(head, &words[1..], lines, variables, depth);
        let broken = self.sink.errors() > errors;
        if let Some(kind) = kind.or_else(|| broken.then(|| self.broken(lines, variables))) {
            self.statements.push(Statement { kind, span });
        }
    }

    /// What is left of a statement that was not understood.
    fn broken(&self, lines: &[Line], variables: &Variables) -> Kind {
        let names = lines
            .iter()
            .flat_map(|line| {
                self.text[line.start..line.end]
                    .split(|c: char| !c.is_ascii_alphanumeric() && !"_/.".contains(c))
            })
            .filter(|word| !word.is_empty())
            .map(|word| variables.fill(word))
            .flat_map(|word| {
                let ends = word.split_once("..");
                ends.and_then(|(first, last)| words::range(first, last)).unwrap_or(vec![word])
            })
            .collect();
        Kind::Broken(names)
    }

    fn kind(
        &mut self,
        head: &Word,
        rest: &[Word],
        lines: &[Line],
        variables: &Variables,
        depth: usize,
    ) -> Option<Kind> {
        let listed = |listed| move |names| Kind::Listed(listed, names);
        let what = head.text.as_str();
        match what {
            "title" | "source" | "note" | "untested" => {
                let text = self.words_as_text(head, rest)?;
                Some(match what {
                    "title" => Kind::Title(text),
                    "source" => Kind::Source(text),
                    "note" => Kind::Note(text),
                    _ => Kind::Untested(text),
                })
            }
            "made" => lists::families(head, rest, self.sink).map(Kind::Made),
            "dip" => lists::package(PackageKind::Dip, head, rest, variables, self.sink),
            "flat" => lists::package(PackageKind::Flat, head, rest, variables, self.sink),
            "open" => self.names(head, rest, variables).map(listed(Listed::Open)),
            "totem" => self.names(head, rest, variables).map(listed(Listed::Totem)),
            "schmitt" => self.names(head, rest, variables).map(listed(Listed::Schmitt)),
            "fed" => self.names(head, rest, variables).map(listed(Listed::Fed)),
            "ground" => self.names(head, rest, variables).map(listed(Listed::Ground)),
            "leave" => self.names(head, rest, variables).map(listed(Listed::Leave)),
            "state" => self.names(head, rest, variables).map(listed(Listed::State)),
            "load" => lists::load(head, rest, variables, self.sink),
            "limit" => lists::limit(head, rest, self.sink),
            "group" => lists::group(head, rest, variables, self.sink),
            "grade" => times::grade(head, rest, self.sink),
            "refresh" => times::refresh(head, rest, self.sink),
            "startup" => times::startup(head, rest, self.sink),
            "supply" => times::supply(head, rest, variables, self.sink),
            "timing" => times::timing(self.source, self.text, head, lines, self.sink),
            "memory" => memory::read(self.source, self.text, head, lines, variables, self.sink),
            "wire" => self.wire(lines, variables),
            "when" => self.when(lines, variables),
            "on" => self.on(lines, variables),
            "avoid" => self.avoid(lines, variables),
            "steady" => self.steady(head, rest, lines, variables),
            "table" => self.table(head, rest, lines, variables, depth),
            _ => self.drive(head, lines, variables),
        }
    }

    fn words_as_text(&mut self, head: &Word, rest: &[Word]) -> Option<String> {
        if rest.is_empty() {
            self.sink.error(head.span, format!("`{}` says nothing", head.text), "expected a text");
            return None;
        }
        Some(rest.iter().map(|word| word.text.as_str()).collect::<Vec<_>>().join(" "))
    }

    fn names(&mut self, head: &Word, rest: &[Word], variables: &Variables) -> Option<Vec<Word>> {
        lists::names(head, rest, variables, self.sink)
    }

    /// Runs a reader over the tokens of a statement, its first word left out.
    fn parse<T>(
        &mut self,
        lines: &[Line],
        variables: &Variables,
        skip: usize,
        read: impl FnOnce(&mut Parser<'_>) -> Option<T>,
    ) -> Option<T> {
        let span = self.span(lines);
        let errors = self.sink.errors();
        let tokens = tokens(self.source, self.text, lines, variables, self.sink);
        if self.sink.errors() > errors {
            return None;
        }
        let mut parser = Parser::new(tokens.get(skip..).unwrap_or_default(), span, self.sink);
        read(&mut parser)
    }

    fn wire(&mut self, lines: &[Line], variables: &Variables) -> Option<Kind> {
        self.parse(lines, variables, 1, |parser| {
            let name = match parser.assignment("=")? {
                Assignment { mut targets, mut values, .. }
                    if targets.len() == 1 && values.len() == 1 =>
                {
                    (targets.remove(0), values.remove(0))
                }
                other => {
                    parser.sink.error(
                        other.span,
                        "a wire is one name for one bit",
                        "expected `wire NAME = EXPRESSION`",
                    );
                    return None;
                }
            };
            parser.finish("expected the end of the statement")?;
            match name {
                (super::tree::Expr::Name(word), value) if !word.text.starts_with('/') => {
                    Some(Kind::Wire(word, value))
                }
                (other, _) => {
                    parser.sink.error(
                        other.span(),
                        "this cannot name a wire",
                        "expected a name without a slash",
                    );
                    None
                }
            }
        })
    }

    fn when(&mut self, lines: &[Line], variables: &Variables) -> Option<Kind> {
        let pieces = self.pieces(lines);
        let (condition, first) = self.parse(pieces[0], variables, 1, |parser| {
            let condition = parser.expression(0)?;
            Some((condition, rule(parser)?))
        })?;
        let more = self.assignments(&pieces[1..], variables)?;
        Some(Kind::When(condition, std::iter::once(first).chain(more).collect()))
    }

    fn on(&mut self, lines: &[Line], variables: &Variables) -> Option<Kind> {
        let pieces = self.pieces(lines);
        let (edge, clock, condition, first) = self.parse(pieces[0], variables, 1, |parser| {
            let edge = if parser.take_reserved("rise") {
                Edge::Rise
            } else if parser.take_reserved("fall") {
                Edge::Fall
            } else {
                return parser.unexpected("expected `rise` or `fall`");
            };
            let clock = parser.expression(0)?;
            let condition =
                if parser.take_reserved("if") { Some(parser.expression(0)?) } else { None };
            Some((edge, clock, condition, rule(parser)?))
        })?;
        let more = self.assignments(&pieces[1..], variables)?;
        let assignments = std::iter::once(first).chain(more).collect();
        Some(Kind::On { edge, clock, condition, assignments })
    }

    /// Splits a rule where an indented line starts a further assignment.
    fn pieces<'l>(&self, lines: &'l [Line]) -> Vec<&'l [Line]> {
        let mut starts = vec![0];
        let mut assigned = self.text[lines[0].start..lines[0].end].contains(":=");
        for (index, line) in lines.iter().enumerate().skip(1) {
            if self.text[line.start..line.end].contains(":=") {
                if assigned {
                    starts.push(index);
                }
                assigned = true;
            }
        }
        let ends = starts.iter().skip(1).copied().chain([lines.len()]);
        starts.iter().zip(ends).map(|(start, end)| &lines[*start..end]).collect()
    }

    fn assignments(
        &mut self,
        pieces: &[&[Line]],
        variables: &Variables,
    ) -> Option<Vec<Assignment>> {
        // All are read before one that failed counts, for its errors.
        let read: Vec<_> =
            pieces.iter().map(|piece| self.parse(piece, variables, 0, rule)).collect();
        read.into_iter().collect()
    }

    fn avoid(&mut self, lines: &[Line], variables: &Variables) -> Option<Kind> {
        self.parse(lines, variables, 1, |parser| {
            let condition = parser.expression(0)?;
            parser.finish("expected an operator or the end of the statement")?;
            Some(Kind::Avoid(condition))
        })
    }

    fn steady(
        &mut self,
        head: &Word,
        rest: &[Word],
        lines: &[Line],
        variables: &Variables,
    ) -> Option<Kind> {
        let count = rest.iter().position(|word| word.text == "while").unwrap_or(rest.len());
        let names = self.names(head, &rest[..count], variables)?;
        let condition = self.parse(lines, variables, 0, |parser| {
            while !parser.done() && !parser.take_reserved("while") {
                parser.skip();
            }
            let condition = parser.expression(0)?;
            parser.finish("expected an operator or the end of the statement")?;
            Some(condition)
        })?;
        Some(Kind::Steady(names, condition))
    }

    fn drive(&mut self, head: &Word, lines: &[Line], variables: &Variables) -> Option<Kind> {
        let text = &self.text[lines[0].start..lines[lines.len() - 1].end];
        let lower = head.text.bytes().all(|c| c.is_ascii_lowercase());
        if !text.contains('=') || (lower && head.text.len() > 1) {
            let suggestion = did_you_mean(&head.text, STATEMENTS);
            let expected = if lower {
                "expected a statement: title, source, made, dip, wire, state, when, on, table …"
            } else {
                "expected a statement, or an assignment with `=`"
            };
            self.sink.error_with(
                head.span,
                format!("`{}` starts no statement", head.text),
                expected,
                suggestion,
            );
            return None;
        }
        self.parse(lines, variables, 0, |parser| {
            let assignment = parser.assignment("=")?;
            let condition =
                if parser.take_reserved("while") { Some(parser.expression(0)?) } else { None };
            parser.finish("expected `while` or the end of the statement")?;
            Some(Kind::Drive(assignment, condition))
        })
    }

    /// The variable and the words of `VARIABLE in LIST`.
    fn range(
        &mut self,
        head: &Word,
        rest: &[Word],
        variables: &Variables,
    ) -> Option<(char, Vec<String>)> {
        let form = "expected `for VARIABLE in LIST`, the variable one lower-case letter";
        let [variable, word, list @ ..] = rest else {
            self.sink.error(head.span, "the `for` is incomplete", form);
            return None;
        };
        let mut letters = variable.text.chars();
        let letter = letters.next().filter(char::is_ascii_lowercase);
        let (Some(letter), None, true) = (letter, letters.next(), word.text == "in") else {
            self.sink.error(variable.span.to(word.span), "the `for` is not understood", form);
            return None;
        };
        if variables.0.iter().any(|(outer, _)| *outer == letter) {
            self.sink.error(
                variable.span,
                format!("`{letter}` is the variable of an outer `for` already"),
                "expected another letter",
            );
            return None;
        }
        let mut values = Vec::new();
        for word in list {
            let text = variables.fill(&word.text);
            let spread = text.split_once("..").map(|(first, last)| words::range(first, last));
            match spread {
                None if is_name(&text) || text.bytes().all(|c| c.is_ascii_digit()) => {
                    values.push(text);
                }
                Some(Some(range)) => values.extend(range),
                _ => {
                    self.sink.error(
                        word.span,
                        format!("`{text}` cannot stand for a variable"),
                        "expected a number, a name or a range such as 1..8",
                    );
                    return None;
                }
            }
        }
        if values.is_empty() {
            self.sink.error(head.span, "the list of the `for` is empty", form);
            return None;
        }
        Some((letter, values))
    }

    fn repeat(&mut self, lines: &[Line], variables: &Variables, depth: usize) {
        let words = self.words(&lines[..1]);
        let Some((letter, values)) = self.range(&words[0], &words[1..], variables) else { return };
        if depth >= NESTING {
            self.sink.error(
                words[0].span,
                "the `for` is nested too deep",
                format!("expected at most {NESTING} levels"),
            );
            return;
        }
        if lines.len() == 1 {
            self.sink.error(
                words[0].span,
                "the `for` repeats nothing",
                "expected indented statements below",
            );
        }
        for value in values {
            let mut inner = variables.clone();
            inner.0.push((letter, value));
            let mut rest = &lines[1..];
            while !rest.is_empty() {
                let (statement, after) = lines::statement(rest);
                rest = after;
                self.statement(statement, &inner, depth + 1);
            }
            if self.left == 0 {
                return;
            }
        }
    }

    fn table(
        &mut self,
        head: &Word,
        rest: &[Word],
        lines: &[Line],
        variables: &Variables,
        depth: usize,
    ) -> Option<Kind> {
        let first = self.words(&lines[..1]);
        let heading = first[0].span.to(first[first.len() - 1].span);
        if first.len() == 1 {
            return self.one_table(heading, lines, variables);
        }
        if rest[0].text != "for" {
            self.sink.error(
                rest[0].span,
                format!("unexpected `{}`", rest[0].text),
                "expected `for`, or the column names on a line of their own below",
            );
            return None;
        }
        let (letter, values) = self.range(head, &first[2..], variables)?;
        if depth >= NESTING {
            return None;
        }
        for value in values {
            let mut inner = variables.clone();
            inner.0.push((letter, value));
            let size = LEAST_TEXT + lines[lines.len() - 1].end - lines[0].start;
            self.left = self.left.saturating_sub(size);
            if self.left == 0 {
                return None;
            }
            let kind = self
                .one_table(heading, lines, &inner)
                .unwrap_or_else(|| self.broken(lines, &inner));
            self.statements.push(Statement { kind, span: heading });
        }
        None
    }

    fn one_table(&mut self, heading: Span, lines: &[Line], variables: &Variables) -> Option<Kind> {
        table::read(self.source, self.text, heading, &lines[1..], variables, self.sink)
            .map(Kind::Table)
    }
}

/// One assignment to registers, to the end.
fn rule(parser: &mut Parser<'_>) -> Option<Assignment> {
    let assignment = parser.assignment(":=")?;
    match parser.peek() {
        None => Some(assignment),
        Some(Token::Reserved("if")) => parser
            .unexpected("expected the condition before the targets, as in `on rise CLK if EN`"),
        Some(_) => parser.unexpected("expected the end of the assignment"),
    }
}
