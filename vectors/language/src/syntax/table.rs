//! Function tables as they are printed.

use super::lines::Line;
use super::tree::{Cell, Row, Table, Word};
use super::words::{self, Variables, bad_name, is_name};
use crate::Edge;
use crate::diagnostic::{Sink, Span, did_you_mean};

/// Columns of a table at most: more would be a data sheet nobody prints.
const COLUMNS: usize = 64;

/// Reads the lines below `table`.
pub(crate) fn read(
    source: u32,
    text: &str,
    heading: Span,
    lines: &[Line],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Table> {
    let Some((header, body)) = lines.split_first() else {
        sink.error(heading, "the table is empty", "expected a line of column names below");
        return None;
    };
    let header = words::raw(source, text, std::slice::from_ref(header));
    let (inputs, outputs) = halves(&header, sink)?;
    let inputs = words::names(inputs, variables, sink)?;
    let outputs = words::names(outputs, variables, sink)?;
    if inputs.len() + outputs.len() > COLUMNS {
        sink.error(
            header[0].span,
            "the table has too many columns",
            format!("expected at most {COLUMNS}"),
        );
        return None;
    }
    let mut good = true;
    for names in [&inputs, &outputs] {
        for (index, name) in names.iter().enumerate() {
            if names[..index].iter().any(|earlier| earlier.text == name.text) {
                good = false;
                sink.error(
                    name.span,
                    format!("column `{}` stands twice", name.text),
                    "expected each column once",
                );
            }
        }
    }
    if body.is_empty() {
        sink.error(heading, "the table has no rows", "expected rows below the column names");
        return None;
    }
    let mut rows = Vec::new();
    for line in body {
        let line = words::raw(source, text, std::slice::from_ref(line));
        match row(&line, inputs.len(), outputs.len(), variables, sink) {
            Some(row) => rows.push(row),
            None => good = false,
        }
    }
    good.then_some(Table { inputs, outputs, rows })
}

/// What stands left and right of the bar.
fn halves<'a>(words: &'a [Word], sink: &mut Sink) -> Option<(&'a [Word], &'a [Word])> {
    let mut bars = words.iter().enumerate().filter(|(_, word)| word.text == "|");
    let whole = words[0].span.to(words[words.len() - 1].span);
    let Some((bar, _)) = bars.next() else {
        sink.error(whole, "the line has no bar", "expected inputs, ` | `, outputs");
        return None;
    };
    if let Some((_, second)) = bars.next() {
        sink.error(
            second.span,
            "the line has a second bar",
            "expected one bar, before the outputs",
        );
        return None;
    }
    let (inputs, outputs) = (&words[..bar], &words[bar + 1..]);
    if inputs.is_empty() || outputs.is_empty() {
        sink.error(
            words[bar].span,
            "one side of the bar is empty",
            "expected inputs to the left and outputs to the right",
        );
        return None;
    }
    Some((inputs, outputs))
}

fn row(
    words: &[Word],
    inputs: usize,
    outputs: usize,
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Row> {
    let span = words[0].span.to(words[words.len() - 1].span);
    let (left, right) = halves(words, sink)?;
    for (side, cells, columns) in [("left", left, inputs), ("right", right, outputs)] {
        if cells.len() != columns {
            let at = cells[0].span.to(cells[cells.len() - 1].span);
            sink.error(
                at,
                format!("the row has {} cells {side} of the bar", cells.len()),
                format!("expected {columns}, one for each column"),
            );
            return None;
        }
    }
    let spans = left.iter().chain(right).map(|word| word.span).collect();
    let inputs: Vec<_> = left.iter().map(|word| left_cell(word, sink)).collect();
    let outputs: Vec<_> = right.iter().map(|word| right_cell(word, variables, sink)).collect();
    Some(Row {
        inputs: inputs.into_iter().collect::<Option<_>>()?,
        outputs: outputs.into_iter().collect::<Option<_>>()?,
        span,
        spans,
    })
}

fn left_cell(word: &Word, sink: &mut Sink) -> Option<Cell> {
    match word.text.as_str() {
        "H" => Some(Cell::High),
        "L" => Some(Cell::Low),
        "X" => Some(Cell::Either),
        "rise" => Some(Cell::Edge(Edge::Rise)),
        "fall" => Some(Cell::Edge(Edge::Fall)),
        other => {
            let suggestion = match other {
                "1" | "h" => Some("did you mean `H`?".to_owned()),
                "0" | "l" => Some("did you mean `L`?".to_owned()),
                "x" | "-" => Some("did you mean `X`?".to_owned()),
                _ => did_you_mean(other, ["rise", "fall"]),
            };
            sink.error_with(
                word.span,
                format!("`{other}` is not a cell for an input"),
                "expected H, L, X, rise or fall",
                suggestion,
            );
            None
        }
    }
}

fn right_cell(word: &Word, variables: &Variables, sink: &mut Sink) -> Option<Cell> {
    match word.text.as_str() {
        "H" => return Some(Cell::High),
        "L" => return Some(Cell::Low),
        "Z" => return Some(Cell::HighImpedance),
        "?" => return Some(Cell::Unknown),
        "same" => return Some(Cell::Same),
        "flip" => return Some(Cell::Flip),
        _ => {}
    }
    let (inverted, name) = match word.text.strip_prefix('~') {
        Some(name) => (true, name),
        None => (false, word.text.as_str()),
    };
    let name = Word { text: variables.fill(name), span: word.span };
    if name.text == "X" {
        sink.error_with(
            word.span,
            "`X` is not a cell for an output",
            "expected H, L, Z, ?, same, flip or a name",
            Some("an unknown level is written `?`".to_owned()),
        );
        return None;
    }
    if is_name(&name.text) {
        return Some(Cell::Level(inverted, name));
    }
    match name.text.as_str() {
        "1" | "0" | "h" | "l" | "z" => sink.error_with(
            word.span,
            format!("`{}` is not a cell for an output", name.text),
            "expected H, L, Z, ?, same, flip or a name",
            Some(
                match name.text.as_str() {
                    "1" | "h" => "did you mean `H`?",
                    "z" => "did you mean `Z`?",
                    _ => "did you mean `L`?",
                }
                .to_owned(),
            ),
        ),
        _ => bad_name(&name, variables, sink),
    }
    None
}
