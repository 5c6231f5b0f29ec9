//! `march list`: the march tests in print.

use super::{length, publication};
use crate::exit::{Failure, Status};
use crate::output::Output;
use dipsift_march::CATALOGUE;
use serde_json::{Value, json};

/// Prints the catalogue.
pub fn run(out: &mut Output) -> Result<Status, Failure> {
    if out.json {
        let tests: Vec<Value> = CATALOGUE
            .iter()
            .map(|test| {
                json!({
                    "key": test.key,
                    "name": test.name,
                    "notation": test.notation,
                    "length": length(test.march().length()),
                    "publication": test.publication,
                    "from_memory": test.from_memory,
                })
            })
            .collect();
        out.object(Status::Go, json!({ "marches": tests }))?;
        return Ok(Status::Go);
    }
    for test in &CATALOGUE {
        let title = format!("{}, {}", test.name, test.march().length());
        out.paragraph(&format!("{:<13}", test.key), 13, &title)?;
        out.paragraph("             ", 13, test.notation)?;
        out.paragraph("             ", 13, &publication(test))?;
    }
    let last = format!(
        "{} march tests; `dipsift march coverage NAME` tells what each can find",
        CATALOGUE.len()
    );
    out.paragraph("", 0, &last)?;
    Ok(Status::Go)
}
