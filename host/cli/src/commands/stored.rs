//! `stored`: programs that a tester holds itself, for checks without a host.

use crate::args::{
    General, SimulatedChip, Stored, StoredArm, StoredCommand, StoredCompile, StoredList, TesterArgs,
};
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::testers::{Opened, link_failure};
use crate::{library, progress};
use dipsift_bench::stored::{blob, stored_program, usual_stored};
use dipsift_language::{Family, Library, Part};
use dipsift_link::LinkError;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::fixture::capabilities;
use dipsift_wire::{Armed, Refusal, StoredPart};
use serde_json::{Value, json};
use std::fs;
use std::io::Write;
use std::sync::Arc;

/// Lists, arms, disarms or compiles.
pub fn run(args: &Stored, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    match &args.command {
        StoredCommand::List(args) => list(args, &library, out),
        StoredCommand::Arm(args) => arm(args, &library, out),
        StoredCommand::Disarm(args) => disarm(args, &library, out),
        StoredCommand::Compile(args) => compile(args, &library, out),
    }
}

fn open(args: &StoredList, library: &Library) -> Result<Opened, Failure> {
    let chip =
        SimulatedChip { sim_part: None, defect: Vec::new(), sim_contents: None, sim_seed: 1 };
    let mut opened =
        Opened::open(&TesterArgs { tester: args.tester.clone(), chip }, library, None)?;
    opened.interruptible();
    Ok(opened)
}

/// A failure of these requests: what the tester does not have or know is no trouble with it.
fn failure(error: &LinkError) -> Failure {
    match error {
        LinkError::TooOld { .. } | LinkError::Declined(Refusal::UnknownStored) => {
            Failure::refused(error.to_string())
        }
        LinkError::Stopped => Failure::Said {
            status: Status::NotDecided,
            message: "interrupted: the socket is unpowered, and what is armed is as before".into(),
        },
        LinkError::Declined(_) => Failure::trouble(error.to_string()),
        _ => link_failure(error),
    }
}

/// What is armed, in words.
fn armed_words(armed: Option<&Armed>) -> String {
    match armed {
        None => "nothing".into(),
        Some(Armed { name, held: true }) => name.to_string(),
        Some(Armed { name, held: false }) => {
            format!("{name}, which this image does not hold: its button says so by all lamps")
        }
    }
}

fn armed_json(armed: Option<&Armed>) -> Value {
    armed.map_or(Value::Null, |armed| json!({ "name": armed.name.as_str(), "held": armed.held }))
}

fn list(args: &StoredList, library: &Library, out: &mut Output) -> Result<Status, Failure> {
    let mut opened = open(args, library)?;
    let parts = opened.bench.link().stored().map_err(|error| failure(&error))?;
    let armed = opened.bench.link().armed().map_err(|error| failure(&error))?;
    if out.json {
        let programs: Vec<Value> = parts
            .iter()
            .map(|part| {
                json!({
                    "name": part.name.as_str(),
                    "kind": part.kind,
                    "pins": part.pins,
                    "pin_1_position": part.shift + 1,
                    "runnable": part.runnable,
                    "note": part.note.as_str(),
                })
            })
            .collect();
        let mut body = opened.json();
        body["armed"] = armed_json(armed.as_ref());
        body["programs"] = json!(programs);
        out.object(Status::Go, body)?;
        return Ok(Status::Go);
    }
    out.labelled("tester", &opened.words())?;
    out.labelled("armed", &armed_words(armed.as_ref()))?;
    if parts.is_empty() {
        out.labelled("programs", "none: this tester's image was built without stored programs")?;
        return Ok(Status::Go);
    }
    out.labelled("programs", &parts.len().to_string())?;
    writeln!(out)?;
    out.heading(&format!(
        "  {:<12}{:>4}  {:<20}{}",
        "part", "pins", "pin 1 in position", "checked"
    ))?;
    for StoredPart { name, pins, shift, runnable, note, .. } in &parts {
        let note = if *runnable { note.as_str() } else { "of a kind that cannot be armed" };
        writeln!(out, "  {name:<12}{pins:>4}  {:<20}{note}", shift + 1)?;
    }
    Ok(Status::Go)
}

fn arm(args: &StoredArm, library: &Library, out: &mut Output) -> Result<Status, Failure> {
    let named = library::find(library, &args.part)?;
    let mut opened = open(&args.tester, library)?;
    let armed = match opened.bench.link().arm(Some(&named.name)) {
        Err(LinkError::Declined(Refusal::UnknownStored)) => {
            let held = opened.bench.link().stored().map_err(|error| failure(&error))?;
            return Err(not_held(&named.name, &named.part, &held));
        }
        other => other.map_err(|error| failure(&error))?,
    };
    if out.json {
        let mut body = opened.json();
        body["assumption"] = json!(named.assumption);
        body["armed"] = armed_json(armed.as_ref());
        out.object(Status::Go, body)?;
        return Ok(Status::Go);
    }
    if let Some(assumption) = &named.assumption {
        out.labelled("part", assumption)?;
    }
    out.labelled("tester", &opened.words())?;
    out.labelled("armed", &armed_words(armed.as_ref()))?;
    if let Ok(prepared) = opened.bench.prepare(&named.part, named.family) {
        out.labelled("seating", &prepared.placement.words())?;
    }
    out.labelled(
        "button",
        "checks the chip in the socket; green is go, red no-go, blue not decided",
    )?;
    if args.tester.tester.as_deref() == Some("sim") {
        out.labelled(
            "note",
            "this simulated tester ends here, and what is armed with it; `dipsift simulate` runs \
             one that stays",
        )?;
    }
    Ok(Status::Go)
}

/// Says that a program is not there, and what is there instead.
fn not_held(name: &str, part: &Part, held: &[StoredPart]) -> Failure {
    if held.is_empty() {
        return Failure::refused("this tester's image was built without stored programs");
    }
    let others: Vec<&str> = part
        .made
        .iter()
        .map(|family| dipsift_language::marking(&part.number, *family))
        .filter_map(|other| held.iter().find(|part| part.name == other.as_str()))
        .map(|part| part.name.as_str())
        .collect();
    let instead = if others.is_empty() {
        "`dipsift stored list` lists what it holds".to_string()
    } else {
        format!("of this number it holds {}", others.join(", "))
    };
    Failure::refused(format!("the tester holds no program for {name} that it can run; {instead}"))
}

fn disarm(args: &StoredList, library: &Library, out: &mut Output) -> Result<Status, Failure> {
    let mut opened = open(args, library)?;
    let armed = opened.bench.link().arm(None).map_err(|error| failure(&error))?;
    if out.json {
        let mut body = opened.json();
        body["armed"] = armed_json(armed.as_ref());
        out.object(Status::Go, body)?;
    } else {
        out.labelled("tester", &opened.words())?;
        out.labelled("armed", &armed_words(armed.as_ref()))?;
    }
    Ok(Status::Go)
}

fn compile(args: &StoredCompile, library: &Library, out: &mut Output) -> Result<Status, Failure> {
    let parts: Vec<(Arc<Part>, Family)> = if args.only.is_empty() {
        usual_stored(library)
    } else {
        let find =
            |text: &String| library::find(library, text).map(|named| (named.part, named.family));
        args.only.iter().map(find).collect::<Result<_, _>>()?
    };
    let capabilities = capabilities(Clocking::External);
    let bar = progress::bar(out, "program {pos} of {len}", parts.len() as u64);
    let programs = parts
        .iter()
        .map(|(part, family)| {
            bar.inc(1);
            stored_program(part, *family, &capabilities)
        })
        .collect::<Result<Vec<_>, _>>()
        .map_err(|refused| {
            Failure::refused(format!("{}: {}", refused.name, refused.sentences.join("; ")))
        })?;
    bar.finish_and_clear();
    let bytes = blob(&programs).map_err(|error| Failure::refused(error.to_string()))?;
    fs::write(&args.out, &bytes).map_err(|error| {
        Failure::usage(format!("failed to write {}: {error}", args.out.display()))
    })?;
    // Of several with one name the blob has one.
    let mut names: Vec<&str> = programs.iter().map(|program| program.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    if out.json {
        let body = json!({ "file": args.out, "bytes": bytes.len(), "programs": names });
        out.object(Status::Go, body)?;
    } else {
        out.labelled("file", &args.out.display().to_string())?;
        out.labelled("programs", &names.len().to_string())?;
        out.labelled("size", &format!("{} bytes", bytes.len()))?;
    }
    Ok(Status::Go)
}
