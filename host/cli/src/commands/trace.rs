//! `trace PART --stimulus FILE.csv`: a user's own stimulus, played on the chip.

use crate::args::{General, Trace};
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::testers::{Opened, link_failure};
use crate::{library, verdict};
use dipsift_bench::{Finding, Prepared, Stimulus, TraceError, TraceRow};
use serde_json::json;
use std::fs;
use std::io::{self, Write};

/// Plays a stimulus and prints what every signal pin showed.
pub fn run(args: &Trace, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    let named = library::find(&library, &args.part)?;
    let name = args.stimulus.display();
    let text = fs::read_to_string(&args.stimulus)
        .map_err(|error| Failure::usage(format!("failed to read {name}: {error}")))?;
    let mut opened = Opened::open(&args.tester, &library, Some(&args.part))?;
    opened.interruptible();
    let prepared = opened
        .bench
        .prepare(&named.part, named.family)
        .map_err(|refused| Failure::refused(refused.sentences.join("\n")))?;
    let stimulus = Stimulus::read(&text, &prepared.part, &prepared.package).map_err(|errors| {
        let lines: Vec<String> = errors.iter().map(|error| format!("{name}: {error}")).collect();
        Failure::usage(format!("failed to use the stimulus:\n{}", lines.join("\n")))
    })?;
    let trace =
        opened.bench.trace(&prepared, &stimulus).map_err(|error| stopped(error, &prepared))?;
    let status = if trace.differing == 0 { Status::Go } else { Status::NoGo };
    if out.json {
        let mut body = opened.json();
        body["part"] = json!(prepared.name);
        body["trace"] = json!(trace);
        out.object(status, body)?;
        return Ok(status);
    }
    // Standard output is the CSV alone, so what else there is to say goes beside it.
    let nature = opened.bench.nature();
    let _ = writeln!(io::stderr(), "tester    {}", opened.words());
    if let Some(assumption) = &named.assumption {
        let _ = writeln!(io::stderr(), "          {assumption}");
    }
    csv(out, &trace.pins, &trace.rows)?;
    let _ = writeln!(
        io::stderr(),
        "{} rows on a {}; {} levels differ from the description{}",
        trace.rows.len(),
        prepared.name,
        trace.differing,
        if nature == "real" { String::new() } else { format!(" ({})", verdict::nature(nature)) },
    );
    Ok(status)
}

/// Writes `step`, then for every signal pin the level seen and the level expected.
fn csv(out: &mut Output, pins: &[u8], rows: &[TraceRow]) -> io::Result<()> {
    let mut writer = csv::Writer::from_writer(&mut *out);
    let header = pins.iter().flat_map(|pin| [format!("seen_{pin}"), format!("expected_{pin}")]);
    writer.write_record(std::iter::once("step".to_string()).chain(header)).map_err(io_error)?;
    for (step, row) in rows.iter().enumerate() {
        let levels = row
            .seen
            .chars()
            .zip(row.expected.chars())
            .flat_map(|(seen, expected)| [seen.to_string(), expected.to_string()]);
        writer.write_record(std::iter::once(step.to_string()).chain(levels)).map_err(io_error)?;
    }
    writer.flush()
}

/// The output's own error, so that a reader that has gone away is still recognised.
fn io_error(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}

/// Why the stimulus was not played, with its status.
fn stopped(error: TraceError, prepared: &Prepared) -> Failure {
    match error {
        TraceError::Refused { .. } => Failure::refused(format!("refused: {error}")),
        TraceError::NotReady(finding) => Failure::Said {
            status: Status::NotDecided,
            message: format!("nothing was played: {}", not_ready(&finding, prepared)),
        },
        TraceError::Tripped => Failure::Said {
            status: Status::NoGo,
            message: "the supply tripped while the stimulus was played".into(),
        },
        TraceError::Link(error) => link_failure(&error),
    }
}

/// What the look before power found, in words.
fn not_ready(finding: &Finding, prepared: &Prepared) -> String {
    match finding {
        Finding::Ready => "the chip is ready".into(),
        Finding::Empty => "no pin shows contact: the socket is empty".into(),
        Finding::ShortOrTurned { .. } => "short or turned round: look at the notch".into(),
        Finding::Open(pins) => {
            let list: Vec<String> = pins.iter().map(|pin| pin.to_string()).collect();
            format!("reseat: pin {} shows no contact", list.join(", "))
        }
        Finding::Misplaced(words) => {
            format!("{words}; seat the {} with {}", prepared.name, prepared.placement.words())
        }
        Finding::NotAtRest(millivolts) => {
            format!("the supply position shows {millivolts} mV at rest; run selftest")
        }
    }
}
