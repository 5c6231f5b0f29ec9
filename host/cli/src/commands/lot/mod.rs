//! `lot`: tubes, drawers, donors' bags.

mod list;
mod show;
mod write;

pub use show::titles;

use crate::args::General;
use crate::commands::ledger::LedgerArgs;
use crate::exit::{DONE_TABLE, Failure, Status};
use crate::output::Output;
use clap::{Args, Subcommand};
use dipsift_ledger::RemarkKind;

/// Arguments of `lot`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
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
    #[command(after_help = DONE_TABLE)]
    List(LedgerArgs),
    /// Show what a lot comes to: yield, failing pins, speed grades
    Show(Named),
    /// Add a note to a lot, or to its last insertion
    Note(Note),
    /// Add a picture's path to a lot, or to its last insertion
    Photo(Photo),
    /// Undo the last insertion that counts; the record of it stays
    Undo(Undo),
}

/// Arguments of `lot begin`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
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
#[command(after_help = DONE_TABLE)]
pub struct Named {
    /// The lot
    #[arg(value_name = "NAME")]
    pub name: String,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `lot note`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Note {
    /// The lot
    #[arg(value_name = "NAME")]
    pub name: String,
    /// The note
    #[arg(value_name = "TEXT")]
    pub text: String,
    /// What it is about.
    #[command(flatten)]
    pub about: About,
}

/// Arguments of `lot photo`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Photo {
    /// The lot
    #[arg(value_name = "NAME")]
    pub name: String,
    /// The picture's path. It is recorded as typed; `report` shows a JPEG, PNG,
    /// GIF or WebP that it finds there
    #[arg(value_name = "PATH")]
    pub path: String,
    /// What it is about.
    #[command(flatten)]
    pub about: About,
}

/// What a note or a picture is about.
#[derive(Debug, Args)]
pub struct About {
    /// About the lot's last insertion instead of the lot
    #[arg(long)]
    pub last: bool,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `lot undo`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
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
        LotCommand::Note(args) => {
            write::remark(&args.name, RemarkKind::Note, &args.text, &args.about, out)
        }
        LotCommand::Photo(args) => {
            write::remark(&args.name, RemarkKind::Photo, &args.path, &args.about, out)
        }
        LotCommand::Undo(args) => write::undo(args, out),
    }
}
