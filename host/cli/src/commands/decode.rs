//! `decode MARKING`: what the marking on a package says.

use crate::args::{Decode, General};
use crate::exit::{Failure, Status};
use crate::library;
use crate::output::Output;
use dipsift_marking::{DateCode, Decoded, Reading, Trust};
use serde_json::{Value, json};
use std::io::Write;

/// Reads a marking.
pub fn run(args: &Decode, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let marking = args.marking.join(" ");
    let decoded = dipsift_marking::read(&marking, &library);
    if decoded.readings.is_empty() {
        let notes = decoded.notes.join("; ");
        let why = if notes.is_empty() { "no characters to read".to_owned() } else { notes };
        return Err(Failure::usage(format!("failed to read the marking: {why}")));
    }
    if out.json {
        out.object(Status::Go, object(&marking, &decoded))?;
        return Ok(Status::Go);
    }
    for (index, reading) in decoded.readings.iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        let count = decoded.readings.len();
        let place = if count > 1 { format!("{}. ", index + 1) } else { String::new() };
        out.heading(&format!("{place}{}", heading(reading)))?;
        tell(out, reading)?;
    }
    if !decoded.notes.is_empty() {
        writeln!(out)?;
        out.items(decoded.notes.iter().map(String::as_str))?;
    }
    Ok(Status::Go)
}

/// The number as it is said, and the function.
fn heading(reading: &Reading) -> String {
    let name = reading
        .part_name_if_confirmed()
        .or(reading.number.as_deref())
        .unwrap_or(&reading.marking)
        .to_owned();
    match (&reading.title, &reading.number) {
        (Some(title), _) => format!("{name}, {title}"),
        (None, Some(_)) => format!("{name}, not described here"),
        (None, None) if !reading.date_codes.is_empty() => format!("{name}, a date code"),
        (None, None) => format!("{name}, not known here"),
    }
}

fn tell(out: &mut Output, reading: &Reading) -> Result<(), Failure> {
    out.labelled("marking", &reading.marking)?;
    if let Some(prefix) = &reading.prefix {
        out.labelled("prefix", prefix)?;
    }
    if let Some(temperature) = &reading.temperature {
        out.labelled("range", &format!("{}: {}", temperature.prefix, temperature.words))?;
    }
    if let Some(family) = &reading.family {
        out.labelled("family", if family == "74" { "standard TTL" } else { family })?;
    }
    if let Some(revision) = &reading.revision {
        out.labelled("revision", revision)?;
    }
    if let Some(package) = &reading.package {
        let words = format!("{}: {}", package.letters, package.meanings.join(", or "));
        out.labelled("package", &words)?;
    }
    for speed in &reading.speeds {
        out.labelled("speed", &speed.words)?;
    }
    for code in &reading.date_codes {
        out.labelled("date", &date(code))?;
    }
    for military in &reading.military {
        out.labelled("military", &format!("{}: {}", military.mark, military.words))?;
    }
    if reading.trust != Trust::Unknown && reading.number.is_some() {
        out.labelled("known by", reading.trust.words())?;
    }
    for source in &reading.sources {
        out.labelled("source", source)?;
    }
    if let Some(prefix) = &reading.depends_on {
        out.labelled("depends", &format!("on the prefix {prefix}: with another, another chip"))?;
    }
    for assumed in &reading.assumed {
        out.labelled("assumed", assumed)?;
    }
    if let Some(unread) = &reading.unread {
        out.labelled("not read", unread)?;
    }
    for remark in &reading.remarks {
        out.labelled("remark", remark)?;
    }
    for other in &reading.could_be {
        out.labelled("or else", other)?;
    }
    match (reading.part_name(), reading.part_name_if_confirmed()) {
        (Some(name), _) => out.labelled("to check", &format!("dipsift check {name}"))?,
        (None, Some(name)) => {
            let words =
                format!("dipsift check {name}, once the data sheet or a second look agrees");
            out.labelled("to check", &words)?;
        }
        (None, None) => {}
    }
    Ok(())
}

fn date(code: &DateCode) -> String {
    let rare = if code.rare { "; rarely " } else { ": " };
    format!("{}{rare}{}", code.text, code.words())
}

fn object(marking: &str, decoded: &Decoded) -> Value {
    let readings: Vec<Value> = decoded
        .readings
        .iter()
        .map(|reading| {
            let mut object = json!(reading);
            object["ambiguous"] = json!(reading.is_ambiguous());
            object["part_name"] = json!(reading.part_name());
            object["part_name_if_confirmed"] = json!(reading.part_name_if_confirmed());
            object
        })
        .collect();
    json!({
        "marking": marking,
        "ambiguous": decoded.is_ambiguous(),
        "readings": readings,
        "notes": decoded.notes,
    })
}
