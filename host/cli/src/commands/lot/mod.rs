//! `lot`: tubes, drawers, donors' bags.

mod list;
mod show;
mod write;

pub use show::titles;

use crate::args::General;
use crate::commands::ledger::LedgerArgs;
use crate::exit::{Failure, Status};
use crate::output::Output;
use clap::{Args, Subcommand};

/// Arguments of `lot`.
#[derive(Debug, Args)]
pub struct Lot {
    /// What to do.
    #[command(subcommand)]
    pub command: LotCommand,
}

/// What to do with lots.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum LotCommand {
    /// Begin a lot: a tube, a drawer, a donor's bag
    Begin(Begin),
    /// List the lots with their counts
    List(LedgerArgs),
    /// Show what a lot comes to: yield, failing pins, speed grades
    Show(Named),
    /// Add a note to a lot, or to its last insertion
    Note(Remark),
    /// Add a picture's path to a lot, or to its last insertion
    Photo(Remark),
    /// Undo the last insertion that counts; the record of it stays
    Undo(Undo),
}

/// Arguments of `lot begin`.
#[derive(Debug, Args)]
pub struct Begin {
    /// The lot's name, as on its label
    #[arg(value_name = "NAME")]
    pub name: String,
    /// Where it comes from
    #[arg(long, value_name = "TEXT")]
    pub description: Option<String>,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `lot show`.
#[derive(Debug, Args)]
pub struct Named {
    /// The lot
    #[arg(value_name = "NAME")]
    pub name: String,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `lot note` and `lot photo`.
#[derive(Debug, Args)]
pub struct Remark {
    /// The lot
    #[arg(value_name = "NAME")]
    pub name: String,
    /// The note, or the picture's path
    #[arg(value_name = "TEXT|PATH")]
    pub text: String,
    /// About the lot's last insertion instead of the lot
    #[arg(long)]
    pub last: bool,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `lot undo`.
#[derive(Debug, Args)]
pub struct Undo {
    /// The lot
    #[arg(value_name = "NAME")]
    pub name: String,
    /// Why
    #[arg(long, value_name = "TEXT")]
    pub reason: Option<String>,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Runs a subcommand.
pub fn run(args: &Lot, general: &General, out: &mut Output) -> Result<Status, Failure> {
    match &args.command {
        LotCommand::Begin(args) => write::begin(args, out),
        LotCommand::List(args) => list::run(args, out),
        LotCommand::Show(args) => show::run(args, general, out),
        LotCommand::Note(args) => write::remark(args, dipsift_ledger::RemarkKind::Note, out),
        LotCommand::Photo(args) => write::remark(args, dipsift_ledger::RemarkKind::Photo, out),
        LotCommand::Undo(args) => write::undo(args, out),
    }
}
