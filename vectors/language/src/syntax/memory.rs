//! The `memory` statement and the lines below it.

use super::expression::Parser;
use super::lines::{self, Line};
use super::token::tokens;
use super::tree::{Expr, Kind, MemoryText, Word};
use super::words::{self, Variables};
use crate::diagnostic::{Sink, Span, did_you_mean};

const LINES: [&str; 9] =
    ["address", "data", "read", "write", "strobe", "column", "half", "latch", "array"];

/// Reads the statement and what is indented below it.
pub(crate) fn read(
    source: u32,
    text: &str,
    head: &Word,
    lines: &[Line],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Kind> {
    let first = words::raw(source, text, &lines[..1]);
    let size = |word: &Word| word.text.parse::<u32>().ok().filter(|size| *size > 0);
    let sizes = match first.as_slice() {
        [_, words, by, bits] if by.text == "x" => size(words).zip(size(bits)),
        _ => None,
    };
    let Some((words, bits @ ..=64)) = sizes else {
        sink.error(
            head.span,
            "the size of the memory is not understood",
            "expected `memory WORDS x BITS` alone on its line, as in `memory 1024 x 4`",
        );
        return None;
    };
    let mut memory = MemoryText { words, bits, ..MemoryText::default() };
    let mut rest = &lines[1..];
    let mut good = true;
    let mut seen: Vec<String> = Vec::new();
    while !rest.is_empty() {
        let (statement, after) = lines::statement(rest);
        rest = after;
        let mut reader = Reader { source, text, variables, sink: &mut *sink };
        good &= reader.line(statement, &mut memory, &mut seen).is_some();
    }
    for (what, missing) in
        [("address", memory.address.is_empty()), ("data", memory.data_out.is_empty())]
    {
        if good && missing {
            good = false;
            sink.error(
                head.span,
                format!("the memory has no {what} pins"),
                format!("expected a line `{what} …` below"),
            );
        }
    }
    if good && memory.read.is_none() {
        good = false;
        sink.error(
            head.span,
            "the memory is never read",
            "expected a line `read while CONDITION` below",
        );
    }
    if good && memory.strobes.is_empty() && (!memory.column.is_empty() || memory.half.is_some()) {
        good = false;
        sink.error(
            head.span,
            "`column` and `half` belong to a memory with strobes",
            "expected a line `strobe …` below",
        );
    }
    good.then(|| Kind::Memory(Box::new(memory)))
}

struct Reader<'a> {
    source: u32,
    text: &'a str,
    variables: &'a Variables,
    sink: &'a mut Sink,
}

impl Reader<'_> {
    fn line(
        &mut self,
        lines: &[Line],
        memory: &mut MemoryText,
        seen: &mut Vec<String>,
    ) -> Option<()> {
        let found = words::raw(self.source, self.text, lines);
        let (head, rest) = found.split_first()?;
        if seen.contains(&head.text) {
            self.sink.error(
                head.span,
                format!("`{}` stands twice", head.text),
                "expected each line of a memory once",
            );
            return None;
        }
        seen.push(head.text.clone());
        match head.text.as_str() {
            "address" => memory.address = self.names(head, rest)?,
            "strobe" => memory.strobes = self.names(head, rest)?,
            "data" => self.data(head, rest, memory)?,
            "read" => memory.read = Some(self.condition(lines)?),
            "write" => memory.write = Some(self.condition(lines)?),
            "column" => memory.column = self.names(head, rest)?,
            "half" => memory.half = Some(self.half(head, rest)?),
            "latch" => memory.latch = Some(self.condition(lines)?),
            "array" => memory.array = Some(self.array(head, rest)?),
            other => {
                self.sink.error_with(
                    head.span,
                    format!("`{other}` is not a line of a memory"),
                    "expected address, data, read, write, strobe, column, half, latch or array",
                    did_you_mean(other, LINES),
                );
                return None;
            }
        }
        Some(())
    }

    fn names(&mut self, head: &Word, rest: &[Word]) -> Option<Vec<Word>> {
        super::lists::names(head, rest, self.variables, self.sink)
    }

    fn data(&mut self, head: &Word, rest: &[Word], memory: &mut MemoryText) -> Option<()> {
        let out = rest.iter().position(|word| word.text == "out");
        if rest.first().is_some_and(|word| word.text == "in")
            && let Some(out) = out
        {
            memory.data_in = self.names(head, &rest[1..out])?;
            memory.data_out = self.names(head, &rest[out + 1..])?;
        } else {
            memory.data_out = self.names(head, rest)?;
            memory.data_in = memory.data_out.clone();
            memory.shared = true;
        }
        Some(())
    }

    /// `half row NAME` or `half column NAME`.
    fn half(&mut self, head: &Word, rest: &[Word]) -> Option<(Word, bool)> {
        if let [at, name] = rest
            && let column @ (true | false) = at.text == "column"
            && (column || at.text == "row")
        {
            let mut names = self.names(head, std::slice::from_ref(name))?;
            return Some((names.pop()?, column));
        }
        self.sink.error(
            head.span,
            "the half is not understood",
            "expected `half row NAME` or `half column NAME`",
        );
        None
    }

    /// `array row NAME … column NAME …`.
    fn array(&mut self, head: &Word, rest: &[Word]) -> Option<(Vec<Word>, Vec<Word>)> {
        let column = rest.iter().position(|word| word.text == "column");
        if rest.first().is_some_and(|word| word.text == "row")
            && let Some(column) = column
        {
            let rows = self.names(head, &rest[1..column])?;
            return Some((rows, self.names(head, &rest[column + 1..])?));
        }
        self.sink.error(
            head.span,
            "the array is not understood",
            "expected `array row NAME … column NAME …`, most significant first",
        );
        None
    }

    /// `read while CONDITION`.
    fn condition(&mut self, lines: &[Line]) -> Option<Expr> {
        let errors = self.sink.errors();
        let tokens = tokens(self.source, self.text, lines, self.variables, self.sink);
        if self.sink.errors() > errors {
            return None;
        }
        let span = Span {
            source: self.source,
            start: lines[0].start as u32,
            end: lines[lines.len() - 1].end as u32,
        };
        let mut parser = Parser::new(&tokens, span, self.sink);
        parser.skip();
        if !parser.take_reserved("while") {
            return parser.unexpected("expected `while` and a condition");
        }
        let condition = parser.expression(0)?;
        parser.finish("expected an operator or the end of the line")?;
        Some(condition)
    }
}
