//! The command line: arguments, settings, progress and printing, nothing else.

mod args;
mod commands;
mod desk;
mod drawing;
mod exit;
mod functions;
mod health;
mod interrupt;
mod library;
mod marking;
mod output;
mod progress;
mod settings;
mod simulated;
mod summary;
mod testers;
mod verdict;

use args::{Cli, Command};
use clap::{CommandFactory, FromArgMatches};
use exit::{Failure, Status};
use output::Output;
use std::io::{self, Write};
use std::process::ExitCode;

fn main() -> ExitCode {
    let matches = commands::help::with_phrases(Cli::command()).try_get_matches();
    let mut cli = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => return usage(&error),
    };
    let settled = settings::settle(&mut cli);
    let name = name(&cli.command);
    let mut out = Output::new(&cli.general, name);
    match settled
        .and_then(|()| run(&cli, &mut out))
        .and_then(|status| Ok(out.flush().map(|()| status)?))
    {
        Ok(status) => status.into(),
        Err(failure) => report(&cli, &mut out, failure).into(),
    }
}

fn name(command: &Command) -> &'static str {
    match command {
        Command::Parts(_) => "parts",
        Command::Show(_) => "show",
        Command::Decode(_) => "decode",
        Command::Check(_) => "check",
        Command::Trace(_) => "trace",
        Command::Screen(_) => "screen",
        Command::Selftest(_) => "selftest",
        Command::Simulate(_) => "simulate",
        Command::Lint(_) => "lint",
        Command::March(_) => "march",
        Command::Testers(_) => "testers",
        Command::Fixture(_) => "fixture",
        Command::Stored(_) => "stored",
        Command::Lot(_) => "lot",
        Command::Ledger(_) => "ledger",
        Command::Plan(_) => "plan",
        Command::Report(_) => "report",
        Command::Labels(_) => "labels",
        Command::Settings(_) => "settings",
        Command::Completions(_) => "completions",
        Command::Manuals(_) => "manuals",
    }
}

fn run(cli: &Cli, out: &mut Output) -> Result<Status, Failure> {
    match &cli.command {
        Command::Parts(args) => commands::parts::run(args, &cli.general, out),
        Command::Show(args) => commands::show::run(args, &cli.general, out),
        Command::Decode(args) => commands::decode::run(args, &cli.general, out),
        Command::Check(args) => commands::check::run(args, &cli.general, out),
        Command::Trace(args) => commands::trace::run(args, &cli.general, out),
        Command::Screen(args) => commands::screen::run(args, &cli.general, out),
        Command::Selftest(args) => commands::selftest::run(args, &cli.general, out),
        Command::Simulate(args) => commands::simulate::run(args, &cli.general, out),
        Command::Lint(args) => commands::lint::run(args, &cli.general, out),
        Command::March(args) => commands::march::run(args, out),
        Command::Testers(_) => commands::testers::run(out),
        Command::Fixture(args) => commands::fixture::run(args, &cli.general, out),
        Command::Stored(args) => commands::stored::run(args, &cli.general, out),
        Command::Lot(args) => commands::lot::run(args, &cli.general, out),
        Command::Ledger(args) => commands::ledger::run(args, out),
        Command::Plan(args) => commands::plan::run(args, out),
        Command::Report(args) => commands::report::run(args, &cli.general, out),
        Command::Labels(args) => commands::labels::run(args, &cli.general, out),
        Command::Settings(args) => commands::settings::run(args, &cli.general, out),
        Command::Completions(args) => commands::completions::run(args, out),
        Command::Manuals(args) => commands::manuals::run(args, out),
    }
}

/// Reports why a command stopped. Output that nobody reads any more is a quiet end.
fn report(cli: &Cli, out: &mut Output, failure: Failure) -> Status {
    match failure {
        Failure::Said { status, message } => {
            if cli.general.json {
                // Where this cannot be printed either, the exit status still says it.
                let _ = out.object(status, serde_json::json!({ "error": message }));
            }
            let _ = writeln!(io::stderr(), "dipsift: {message}");
            status
        }
        Failure::Output(error) if error.kind() == io::ErrorKind::BrokenPipe => Status::Go,
        Failure::Output(error) => {
            let _ = writeln!(io::stderr(), "dipsift: failed to write the output: {error}");
            Status::Usage
        }
    }
}

/// Help and version go to standard output with status 0, wrong usage to standard error with 2.
fn usage(error: &clap::Error) -> ExitCode {
    let wrong = error.use_stderr();
    if wrong && std::env::args_os().any(|arg| arg == "--json") {
        let object = serde_json::json!({
            "schema": output::SCHEMA,
            "status": Status::Usage as u8,
            "error": error.to_string().trim_end(),
        });
        let _ = writeln!(io::stdout(), "{object:#}");
    }
    let _ = error.print();
    if wrong { Status::Usage } else { Status::Go }.into()
}
