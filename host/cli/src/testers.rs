//! Which tester a command uses, and opening it.

use crate::args::{SimulatedChip, TesterArgs};
use crate::exit::Failure;
use crate::simulated::{Ready, Simulated};
use crate::{commands, interrupt, verdict};
use dipsift_bench::Bench;
use dipsift_language::Library;
use dipsift_ledger::Tester;
use dipsift_link::{Link, LinkError, Serial, testers};
use dipsift_wire::{Hello, Nature};
use serde_json::{Value, json};
use std::error::Error;

/// The two ways to say which tester.
pub const BOTH_WAYS: &str =
    "say --tester PORT for a tester on that serial port, or --tester sim for a simulated one";

/// A tester that has said hello.
pub struct Opened {
    /// The tester.
    pub bench: Bench<Serial>,
    port: String,
    /// Keeps the simulated station, where this is one, alive as long as the tester is used.
    _station: Option<Simulated>,
}

impl Opened {
    /// Opens the tester that the arguments ask for. A simulated one holds `part`, unless
    /// `--sim-part` says otherwise; `None` is an empty socket.
    pub fn open(args: &TesterArgs, library: &Library, part: Option<&str>) -> Result<Self, Failure> {
        match args.tester.as_deref() {
            Some("sim") => {
                let socket = Simulated::start(args.chip.sim_seed)?;
                fill(&socket, library, part, &args.chip)?;
                Self::on_socket(socket)
            }
            other => {
                let SimulatedChip { sim_part, defect, sim_contents, .. } = &args.chip;
                if sim_part.is_some() || !defect.is_empty() || sim_contents.is_some() {
                    return Err(Failure::usage(
                        "--sim-part, --defect and --sim-contents are for a simulated chip: say \
                         --tester sim too",
                    ));
                }
                match other {
                    Some(port) => Self::on_port(port),
                    None => Self::on_port(&only_tester()?),
                }
            }
        }
    }

    /// Starts a simulated tester with an empty socket.
    pub fn simulated(seed: u64) -> Result<(Self, Simulated), Failure> {
        let socket = Simulated::start(seed)?;
        let opened = Self::on_socket(socket.clone())?;
        Ok((opened, socket))
    }

    fn on_socket(socket: Simulated) -> Result<Self, Failure> {
        let mut opened = Self::on_port(socket.path())?;
        opened._station = Some(socket);
        Ok(opened)
    }

    fn on_port(port: &str) -> Result<Self, Failure> {
        let bench = Serial::open(port).and_then(Link::open).map(Bench::new).map_err(|error| {
            Failure::trouble(format!("failed to use the tester on {port}: {}", chain(&error)))
        })?;
        Ok(Self { bench, port: port.to_string(), _station: None })
    }

    /// From now on Ctrl-C ends what the tester does: once it has answered the message at hand, it is
    /// switched off.
    pub fn interruptible(&mut self) {
        interrupt::install();
        self.bench.link().stop_when(interrupt::asked);
    }

    /// What the tester is, in words.
    pub fn words(&self) -> String {
        let nature = verdict::nature(self.bench.nature());
        match self._station {
            Some(_) => nature.to_string(),
            None => format!("{}: {nature}", self.port),
        }
    }

    /// What the tester is, for the ledger.
    pub fn record(&self) -> Tester {
        let hello = self.bench.tester();
        let nature = match hello.nature {
            Nature::Real => dipsift_ledger::Nature::Real,
            Nature::Emulated => dipsift_ledger::Nature::Emulated,
            Nature::Simulated => dipsift_ledger::Nature::Simulated,
        };
        let name = match self._station {
            Some(_) => "simulated tester".to_string(),
            None => self.port.clone(),
        };
        let firmware = match hello.commit.as_str() {
            "" => format!("protocol {}", hello.versions.max),
            commit => format!("{commit}, protocol {}", hello.versions.max),
        };
        Tester { name, nature, firmware }
    }

    /// What the tester is, for programs: the fields of every object about a chip.
    pub fn json(&self) -> Value {
        let mut tester = commands::testers::hello(self.bench.tester());
        tester["port"] = json!(self.port);
        json!({ "simulated": self.bench.nature() != "real", "tester": tester })
    }
}

/// Puts the part that was asked for, or the one of `--sim-part` in its place, into a simulated
/// socket.
pub fn fill(
    socket: &Simulated,
    library: &Library,
    part: Option<&str>,
    chip: &SimulatedChip,
) -> Result<(), Failure> {
    let other = chip.sim_part.as_deref();
    let Some(marking) = part.or(other) else {
        return match chip.defect.as_slice() {
            [] => Ok(()),
            _ => Err(Failure::usage("--defect needs a chip to break: say --sim-part too")),
        };
    };
    let contents = match &chip.sim_contents {
        Some(path) => Some(std::fs::read(path).map_err(|error| {
            Failure::usage(format!("failed to read {}: {error}", path.display()))
        })?),
        None => None,
    };
    let ready =
        Ready::new(library, marking, other, &chip.defect, chip.sim_seed).map_err(|message| {
            Failure::usage(format!("failed to make the simulated chip: {message}"))
        })?;
    socket.insert(ready.holding(contents.as_deref()))
}

/// The only tester on this computer.
fn only_tester() -> Result<String, Failure> {
    let answering: Vec<String> = testers()
        .map_err(|error| link_failure(&error))?
        .into_iter()
        .filter(|found| found.hello.is_ok())
        .map(|found| found.port.path)
        .collect();
    match answering.as_slice() {
        [only] => Ok(only.clone()),
        [] => Err(Failure::trouble(format!("no tester found on a USB serial port; {BOTH_WAYS}"))),
        several => Err(Failure::trouble(format!(
            "several testers found ({}); {BOTH_WAYS}",
            several.join(", ")
        ))),
    }
}

/// The word for what a tester is.
pub const fn nature_of(hello: &Hello) -> &'static str {
    match hello.nature {
        Nature::Real => "real",
        Nature::Emulated => "emulated",
        Nature::Simulated => "simulated",
    }
}

/// A failure of the link, with its status.
pub fn link_failure(error: &LinkError) -> Failure {
    if matches!(error, LinkError::Stopped) {
        return Failure::interrupted();
    }
    if error.is_refusal() { Failure::refused(using(error)) } else { lost(error) }
}

/// A failure of the link where a refusal is the tester's own trouble too.
pub fn lost(error: &LinkError) -> Failure {
    if matches!(error, LinkError::Stopped) {
        return Failure::interrupted();
    }
    Failure::trouble(using(error))
}

fn using(error: &LinkError) -> String {
    format!("failed to use the tester: {}", chain(error))
}

/// An error with its causes.
fn chain(error: &dyn Error) -> String {
    let mut text = error.to_string();
    let mut next = error.source();
    while let Some(cause) = next {
        text.push_str(": ");
        text.push_str(&cause.to_string());
        next = cause.source();
    }
    text
}
