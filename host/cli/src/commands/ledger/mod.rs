//! `ledger`: the file that everything is recorded in.

mod check;
mod copy;
mod file;
mod list;

pub use file::{LedgerArgs, exists, said, zone};

use crate::exit::{DONE_TABLE, Failure, Status};
use crate::output::Output;
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Arguments of `ledger`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Ledger {
    /// What to do.
    #[command(subcommand)]
    pub command: LedgerCommand,
}

/// What to do with the ledger.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum LedgerCommand {
    /// Look for damage and for broken rules
    #[command(after_help = DONE_TABLE)]
    Check(LedgerArgs),
    /// Write a checked copy to a new file, while others may go on writing
    Backup(Backup),
    /// Write everything as CSV or JSON, which `merge` reads back
    Export(Export),
    /// Take over what another ledger, or an export, has and this one has not
    Merge(Merge),
    /// List the last insertions, the newest first
    List(List),
}

/// Arguments of `ledger backup`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Backup {
    /// The new file; one that exists is left alone
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `ledger export`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Export {
    /// Write it to this new file instead of standard output
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// The form; without it the file's ending says it, or csv is meant
    #[arg(long, value_name = "FORM")]
    pub format: Option<Form>,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// A form of export.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Form {
    Csv,
    Json,
}

/// Arguments of `ledger merge`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Merge {
    /// The other ledger, or an export that ends in .csv or .json; it is only
    /// read
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `ledger list`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct List {
    /// Of this lot only
    #[arg(long, value_name = "NAME")]
    pub lot: Option<String>,
    /// At most so many
    #[arg(long, value_name = "N", default_value_t = 20)]
    pub most: u32,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Runs a subcommand.
pub fn run(args: &Ledger, out: &mut Output) -> Result<Status, Failure> {
    match &args.command {
        LedgerCommand::Check(args) => check::run(args, out),
        LedgerCommand::Backup(args) => copy::backup(args, out),
        LedgerCommand::Export(args) => copy::export(args, out),
        LedgerCommand::Merge(args) => copy::merge(args, out),
        LedgerCommand::List(args) => list::run(args, out),
    }
}
