//! `simulate`: a simulated tester for other programs, until Ctrl-C or the end of the input.

use crate::args::{General, Simulate};
use crate::desk::lines::{Lines, Typed};
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::simulated::{Ready, Simulated};
use crate::{interrupt, library, testers};
use dipsift_language::Library;
use dipsift_simulator::{Press, Verdict};
use serde_json::json;
use std::fs;
use std::io::Write;
use std::time::Duration;

/// How often Ctrl-C is looked for.
const LOOK_EVERY: Duration = Duration::from_millis(100);

const LINES: &str = "insert PART, or insert PART, DEFECT, DEFECT ...; remove; press";

/// Serves until it is told to stop. The end of the input stops nothing: a service has none.
pub fn run(args: &Simulate, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let socket = match &args.stored {
        None => Simulated::start(args.chip.sim_seed)?,
        Some(file) => {
            let programs = fs::read(file).map_err(|error| {
                Failure::usage(format!("failed to read {}: {error}", file.display()))
            })?;
            Simulated::with_stored(args.chip.sim_seed, programs)?
        }
    };
    testers::fill(&socket, &library, None, &args.chip)?;
    if out.json {
        let body = json!({
            "simulated": true,
            "port": socket.path(),
            "holds": args.chip.sim_part,
            "defects": args.chip.defect,
        });
        out.object(Status::Go, body)?;
    } else {
        out.labelled("port", socket.path())?;
        out.labelled("tester", "SIMULATED: verdicts say nothing about a real chip")?;
        out.labelled("socket", args.chip.sim_part.as_deref().unwrap_or("empty"))?;
        out.labelled("lines", LINES)?;
        out.labelled("stop", "with Ctrl-C")?;
    }
    out.flush()?;
    interrupt::install();
    let lines = Lines::start();
    let mut seed = args.chip.sim_seed;
    while !interrupt::asked() {
        let Typed::Line(line) = lines.wait(LOOK_EVERY) else { continue };
        if line.is_empty() {
            continue;
        }
        seed = seed.wrapping_add(1);
        let answer = obey(&line, &socket, &library, seed);
        if !out.json {
            writeln!(out, "{answer}")?;
            out.flush()?;
        }
    }
    Ok(Status::Go)
}

/// Does what a line says, and says what was done.
fn obey(line: &str, socket: &Simulated, library: &Library, seed: u64) -> String {
    match line.split_once(char::is_whitespace).unwrap_or((line, "")) {
        ("remove", "") => {
            socket.remove();
            "the socket is empty".into()
        }
        ("press", "") => match socket.press() {
            Press::Ran(Verdict::Go) => "pressed: go (green lamp)",
            Press::Ran(Verdict::NoGo) => "pressed: no-go (red lamp)",
            Press::Ran(Verdict::NotDecided) => "pressed: not decided (blue lamp)",
            Press::Nothing => "pressed: nothing to run is armed (all lamps)",
            Press::Busy => "pressed: nothing done, since a host's program is open",
        }
        .into(),
        ("insert", chip) if !chip.trim().is_empty() => {
            let mut words = chip.split(',').map(|word| word.trim().to_string());
            let part = words.next().unwrap_or_default();
            let defects: Vec<String> = words.collect();
            let inserted = Ready::new(library, &part, None, &defects, seed)
                .and_then(|ready| socket.insert(ready).map_err(|failure| failure.to_string()));
            match (inserted, defects.is_empty()) {
                (Ok(()), true) => format!("the socket holds a {part}"),
                (Ok(()), false) => format!("the socket holds a {part}: {}", defects.join(", ")),
                (Err(message), _) => format!("nothing changed: {message}"),
            }
        }
        _ => format!("not understood; lines are: {LINES}"),
    }
}
