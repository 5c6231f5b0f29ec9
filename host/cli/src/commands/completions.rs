//! `completions`: what a shell needs to complete commands and options.

use crate::args::Cli;
use crate::exit::{Failure, Status};
use crate::output::Output;
use clap::{Args, CommandFactory};
use clap_complete::Shell;
use serde_json::json;
use std::io::Write;

/// Where each shell looks, below the help.
const PLACES: &str = "\
Where they go (common practice):
  bash        dipsift completions bash > \\
                ~/.local/share/bash-completion/completions/dipsift
  zsh         dipsift completions zsh > _dipsift, in a folder of $fpath
  fish        dipsift completions fish > \\
                ~/.config/fish/completions/dipsift.fish
  powershell  dipsift completions powershell >> $PROFILE
  elvish      dipsift completions elvish >> ~/.config/elvish/rc.elv";

/// Arguments of `completions`.
#[derive(Debug, Args)]
#[command(after_help = PLACES)]
pub struct Completions {
    /// The shell
    #[arg(value_name = "SHELL")]
    pub shell: Shell,
}

/// Prints the completions.
pub fn run(args: &Completions, out: &mut Output) -> Result<Status, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "dipsift", &mut script);
    if out.json {
        let script = String::from_utf8_lossy(&script);
        let body = json!({ "shell": args.shell.to_string(), "script": script });
        out.object(Status::Go, body)?;
    } else {
        out.write_all(&script)?;
    }
    Ok(Status::Go)
}
