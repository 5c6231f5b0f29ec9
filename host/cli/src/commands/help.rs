//! The defect phrases and the exit statuses, added to the help of every command they concern.

use crate::exit::STATUS_TABLE;
use crate::output::{WIDTH, fold};
use clap::Command;
use dipsift_simulator::Defect;

/// Adds them.
pub fn with_phrases(mut command: Command) -> Command {
    let width = Defect::PHRASES.iter().map(|(phrase, _)| phrase.len()).max().unwrap_or(0);
    let mut phrases = String::from("Defect phrases (pin numbers are those of the package):\n");
    for (phrase, what) in Defect::PHRASES {
        for line in fold(&format!("  {phrase:<width$}  "), width + 4, what, WIDTH) {
            phrases.push_str(&line);
            phrases.push('\n');
        }
    }
    for name in ["check", "trace", "screen", "selftest", "simulate"] {
        command = command
            .mut_subcommand(name, |sub| sub.after_help(format!("{phrases}\n{STATUS_TABLE}")));
    }
    command.mut_subcommand("stored", |mut sub| {
        for name in ["list", "arm", "disarm", "compile"] {
            sub = sub.mut_subcommand(name, |sub| sub.after_help(STATUS_TABLE));
        }
        sub.after_help(STATUS_TABLE)
    })
}
