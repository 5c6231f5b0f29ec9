//! `march coverage NAME|NOTATION`: the share of each class of faults that a march test finds.

use super::{Asked, length, publication, read};
use crate::args::MarchCoverage;
use crate::exit::{Failure, Status};
use crate::output::{BAD, GOOD, LOOK, Output};
use crate::progress;
use dipsift_march::{CELLS, Coverage, Group, Share};
use serde_json::{Value, json};
use std::io::Write;

/// What the table counts.
fn note() -> String {
    format!(
        "Simulated on {CELLS} cells of one bit. A fault counts as found when it is found at every \
         place, from every power-up content, and in whichever order each `any` is run. Each order \
         of the cells that take part is a fault of its own. A pause is taken to be long enough."
    )
}

/// Simulates a test and prints the table.
pub fn run(args: &MarchCoverage, out: &mut Output) -> Result<Status, Failure> {
    let asked = read(&args.test.join(" "))?;
    let spinner = progress::spinner(out, "simulating every fault");
    let coverage = Coverage::of(&asked.march);
    spinner.finish_and_clear();
    if out.json {
        out.object(Status::Go, object(&asked, &coverage))?;
        return Ok(Status::Go);
    }
    let name = asked.published.map_or("a test of your own", |test| test.name);
    out.heading(&format!("{name}, {}", asked.march.length()))?;
    out.paragraph("", 0, &asked.march.to_string())?;
    if let Some(published) = asked.published {
        out.paragraph("", 0, &publication(published))?;
    }
    for group in [Group::Classical, Group::StaticSimple, Group::Linked] {
        writeln!(out)?;
        out.heading(title(group))?;
        for share in coverage.shares().iter().filter(|share| share.class.group() == group) {
            row(out, share)?;
        }
    }
    writeln!(out)?;
    out.paragraph("", 0, &note())?;
    Ok(Status::Go)
}

fn title(group: Group) -> &'static str {
    match group {
        Group::Classical => "classical faults",
        Group::StaticSimple => "further static simple faults",
        Group::Linked => "linked faults",
    }
}

fn row(out: &mut Output, share: &Share) -> Result<(), Failure> {
    let (style, word) = match share.detected {
        _ if share.is_full() => (GOOD, "all"),
        0 => (BAD, "none"),
        _ => (LOOK, "some"),
    };
    writeln!(
        out,
        "  {:<11}{:<45}{:>7}  {style}{word}{style:#}",
        share.class.abbreviation(),
        share.class.title(),
        share.to_string(),
    )?;
    Ok(())
}

fn object(asked: &Asked, coverage: &Coverage) -> Value {
    let classes: Vec<Value> = coverage
        .shares()
        .iter()
        .map(|share| {
            let missed: Vec<String> = share.missed.iter().map(ToString::to_string).collect();
            json!({
                "class": share.class.abbreviation(),
                "title": share.class.title(),
                "group": title(share.class.group()),
                "detected": share.detected,
                "faults": share.faults,
                "missed": missed,
            })
        })
        .collect();
    json!({
        "key": asked.published.map(|test| test.key),
        "name": asked.published.map(|test| test.name),
        "publication": asked.published.map(publication),
        "notation": asked.march.to_string(),
        "arrows": asked.march.arrows(),
        "length": length(asked.march.length()),
        "cells": CELLS,
        "classes": classes,
    })
}
