//! Whether each read expects what the test itself left in the cell.

use super::{Body, Written};
use crate::march::Operation;
use crate::mistake::Sink;
use std::ops::Range;

/// What every cell holds that an element has yet to visit.
#[derive(Clone, Debug)]
enum Held {
    /// What it powered up with.
    Unwritten,
    /// This value, by the write at these bytes.
    Written(bool, Range<usize>),
    /// Not known, since the text is wrong before.
    Lost,
}

/// Follows what one cell holds through the whole test: each element leaves all cells alike.
pub(super) fn check(text: &str, elements: &[Written], sink: &mut Sink<'_>) {
    let mut held = Held::Unwritten;
    let mut reads = false;
    let mut broken = false;
    for element in elements {
        let operations = match &element.body {
            Body::Sweep { operations, .. } => operations,
            Body::Pause(_) => continue,
            Body::Unknown => {
                broken = true;
                held = Held::Lost;
                continue;
            }
        };
        broken |= operations.is_empty();
        for (at, operation) in operations {
            match *operation {
                Some(Operation::Write(value)) => held = Held::Written(value, at.clone()),
                Some(Operation::Read(value)) => {
                    reads = true;
                    read(text, at, value, &held, sink);
                    // Say it once: go on as if the value were right.
                    if !matches!(&held, Held::Written(written, _) if *written == value) {
                        held = Held::Lost;
                    }
                }
                None => {
                    broken = true;
                    held = Held::Lost;
                }
            }
        }
    }
    if let (Some(last), false, false) = (elements.last(), reads, broken) {
        sink.say(
            last.head.clone(),
            "this test reads nothing, so no memory could fail it",
            "expected a read somewhere",
            None,
        );
    }
}

fn read(text: &str, at: &Range<usize>, value: bool, held: &Held, sink: &mut Sink<'_>) {
    let (zero_or_one, other) = (u8::from(value), u8::from(!value));
    match held {
        Held::Unwritten => sink.say(
            at.clone(),
            format!("`r{zero_or_one}` reads a cell that nothing was written to"),
            "expected a write before the first read",
            Some(format!(
                "what a memory powers up with is not known: begin with `any(w{zero_or_one})`"
            )),
        ),
        Held::Written(written, by) if *written != value => {
            let column = sink.column(by.start);
            sink.say(
                at.clone(),
                format!("`r{zero_or_one}` can never be right: every cell holds {other} here"),
                format!("expected r{other}, or a write of {zero_or_one} before"),
                Some(format!(
                    "the last write before it is `{}` in column {column}",
                    &text[by.clone()]
                )),
            );
        }
        Held::Written(..) | Held::Lost => {}
    }
}
