//! What a person can type.

use crate::commands;
use crate::commands::ledger::LedgerArgs;
use crate::exit::STATUS_TABLE;
use crate::settings::Settings;
use clap::{Args, Parser, Subcommand, ValueEnum};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Screens salvaged dual in-line logic chips, go or no-go, against their data sheets.
///
/// A go says that the chip did what its description says on this socket, at one supply and room
/// temperature. It is functional screening, never requalification.
#[derive(Debug, Parser)]
#[command(name = "dipsift", version, after_help = STATUS_TABLE, term_width = 80)]
pub struct Cli {
    /// What holds for every command.
    #[command(flatten)]
    pub general: General,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Clone, Debug, Args)]
pub struct General {
    /// Add a folder of part descriptions to the library (repeatable)
    #[arg(long, global = true, value_name = "DIR", help_heading = "General")]
    pub parts: Vec<PathBuf>,
    /// Print one JSON object (schema dipsift/1) instead of text
    #[arg(long, global = true, help_heading = "General")]
    pub json: bool,
    /// When to colour the output: auto is on a terminal, unless NO_COLOR is set
    #[arg(
        long,
        global = true,
        value_name = "WHEN",
        default_value = "auto",
        help_heading = "General"
    )]
    pub color: Color,
    /// Use this settings file in place of your own; every option wins over it
    #[arg(long = "settings", global = true, value_name = "FILE", help_heading = "General")]
    pub settings_file: Option<PathBuf>,
    /// What the settings file says.
    #[arg(skip)]
    pub settings: Settings,
}

/// When to colour. Its values have no comments of their own, which would stretch every help text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Color {
    #[default]
    Auto,
    Always,
    Never,
}

impl Color {
    /// As it is typed.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Always => "always",
            Self::Never => "never",
        }
    }
}

/// The commands.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum Command {
    /// List the parts of the library
    Parts(Parts),
    /// Show a part: drawing, functions, supplies, seating and cautions
    Show(Show),
    /// Read the marking on a package: function, family, speed, date
    Decode(Decode),
    /// Check one chip in the socket
    Check(Check),
    /// Play your own stimulus on a chip and print what its pins did, as CSV
    Trace(Trace),
    /// Screen a batch of chips, one after the other
    Screen(Screen),
    /// Check the tester itself, with an empty socket; the ledger keeps the result
    /// (of a simulated tester only where --ledger names it)
    Selftest(Selftest),
    /// Run a simulated tester that other programs can open as a serial port
    Simulate(Simulate),
    /// Check part descriptions of your own for errors
    Lint(Lint),
    /// March tests of memories, and what each can find
    March(March),
    /// List the testers that answer
    Testers(Testers),
    /// How to build the fixture between the board and the socket
    Fixture(Fixture),
    /// Programs that a tester holds itself, for use without a computer
    Stored(Stored),
    /// Tubes, drawers, donors' bags, and what they come to
    Lot(commands::lot::Lot),
    /// The file that everything is recorded in
    Ledger(commands::ledger::Ledger),
    /// How many chips of a bag to test, and what the count then says
    Plan(commands::plan::Plan),
    /// Write the report of a lot as one HTML file, to print and to keep
    Report(commands::report::Report),
    /// Write sheets of labels for tubes, drawers and bags
    Labels(commands::labels::Labels),
    /// Show the settings, or print a file of them to begin with
    Settings(commands::settings::Settings),
    /// Print the completions for a shell
    Completions(commands::completions::Completions),
    /// Write the manual pages into a folder
    Manuals(commands::manuals::Manuals),
}

/// Arguments of `parts`.
#[derive(Debug, Args)]
pub struct Parts {
    /// List only parts whose number, title or families contain this word
    #[arg(value_name = "WORD")]
    pub word: Option<String>,
}

/// Arguments of `show`.
#[derive(Debug, Args)]
pub struct Show {
    /// A part, with or without family: 7400, 74LS00, 4011B
    #[arg(value_name = "PART")]
    pub part: String,
}

/// Arguments of `decode`.
#[derive(Debug, Args)]
#[command(after_help = crate::exit::DONE_TABLE)]
pub struct Decode {
    /// What is legible, as one line or several, `?` for a worn character:
    /// "SN74LS00N 7825", "HM6264LP-15", "SN54?S138J"
    #[arg(value_name = "MARKING", required = true, allow_negative_numbers = true)]
    pub marking: Vec<String>,
}

/// Which tester to use, and what a simulated one holds.
#[derive(Clone, Debug, Args)]
pub struct TesterArgs {
    /// The tester's serial port, or `sim` for a simulated one. Without it the
    /// only tester found is used
    #[arg(long, value_name = "PORT|sim", help_heading = "Tester")]
    pub tester: Option<String>,
    /// The chip.
    #[command(flatten)]
    pub chip: SimulatedChip,
}

/// What a simulated socket holds.
#[derive(Clone, Debug, Args)]
pub struct SimulatedChip {
    /// Put this part into the simulated socket instead of the one asked for
    #[arg(long, value_name = "PART", help_heading = "Simulated chip")]
    pub sim_part: Option<String>,
    /// Break the simulated chip (repeatable); the phrases are listed below
    #[arg(long, value_name = "PHRASE", help_heading = "Simulated chip")]
    pub defect: Vec<String>,
    /// The bytes that a simulated read-only part holds; without it, it is blank
    #[arg(long, value_name = "FILE", help_heading = "Simulated chip")]
    pub sim_contents: Option<PathBuf>,
    /// Seed of the simulated chip's chance behaviour
    #[arg(long, value_name = "N", default_value_t = 1, help_heading = "Simulated chip")]
    pub sim_seed: u64,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct Check {
    /// A part, with or without family: 7400, 74LS00, 4011B
    #[arg(value_name = "PART")]
    pub part: String,
    /// Check N times in a row, to find intermittent contacts
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub repeat: u32,
    /// I have looked: the chip is seated well and the right way round. An open
    /// contact or a supply short then counts as no-go
    #[arg(long)]
    pub seated: bool,
    /// What to do with a memory.
    #[command(flatten)]
    pub memory: MemoryArgs,
    /// The tester.
    #[command(flatten)]
    pub tester: TesterArgs,
}

/// What to do with a memory.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "Memories")]
pub struct MemoryArgs {
    /// March it with this test: a name of `dipsift march list`, or a test of
    /// your own in quotes. Without it, March C-
    #[arg(long, value_name = "NAME|NOTATION", conflicts_with = "repeat")]
    pub march: Option<String>,
    /// March it with the shortest test that finds stuck cells, failing
    /// transitions and address faults: for bulk
    #[arg(long, conflicts_with_all = ["march", "repeat"])]
    pub quick: bool,
    /// March it with the longest test, for all static simple faults
    #[arg(long, conflicts_with_all = ["march", "quick", "repeat"])]
    pub thorough: bool,
    /// Measure the access time, and whether it keeps its dash number
    #[arg(long, conflicts_with = "repeat")]
    pub grade: bool,
    /// Test how long its cells keep their data
    #[arg(long, conflicts_with = "repeat")]
    pub retention: bool,
    /// Write a map of its failing cells, as SVG or PNG
    #[arg(long, value_name = "FILE", conflicts_with = "repeat")]
    pub map: Option<PathBuf>,
    /// Write what a read-only part holds, as Intel HEX where the name ends in
    /// .hex, else as bytes
    #[arg(long, value_name = "FILE", conflicts_with = "repeat")]
    pub save: Option<PathBuf>,
}

impl MemoryArgs {
    /// The first option that only a memory takes.
    pub fn given(&self) -> Option<&'static str> {
        [
            ("--march", self.march.is_some()),
            ("--quick", self.quick),
            ("--thorough", self.thorough),
            ("--grade", self.grade),
            ("--retention", self.retention),
            ("--map", self.map.is_some()),
            ("--save", self.save.is_some()),
        ]
        .into_iter()
        .find_map(|(name, given)| given.then_some(name))
    }
}

/// Arguments of `trace`.
#[derive(Debug, Args)]
pub struct Trace {
    /// A part, with or without family: 7400, 74LS00, 4011B
    #[arg(value_name = "PART")]
    pub part: String,
    /// CSV file: the header names input pins by name or number, each row is
    /// one step of 0, 1 or Z
    #[arg(long, value_name = "FILE.csv")]
    pub stimulus: PathBuf,
    /// The tester.
    #[command(flatten)]
    pub tester: TesterArgs,
}

/// Arguments of `screen`.
#[derive(Debug, Args)]
pub struct Screen {
    /// The part that all chips are; without it each chip's marking is asked for
    #[arg(value_name = "PART", conflicts_with_all = ["batch", "demo"])]
    pub part: Option<String>,
    /// Play a simulated batch from a TOML file
    #[arg(long, value_name = "FILE", conflicts_with = "demo")]
    pub batch: Option<PathBuf>,
    /// Check each chip N times in a row, to find intermittent contacts
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub repeat: u32,
    /// Play the demonstration batch (invented) on a simulated tester
    #[arg(long)]
    pub demo: bool,
    /// Measure each memory that it finds good: whether it keeps its dash number
    #[arg(long)]
    pub grade: bool,
    /// Be silent: no bell after a verdict
    #[arg(long)]
    pub no_bell: bool,
    /// Record every insertion in this lot; begins it, or goes on with it
    #[arg(long, value_name = "NAME", help_heading = "Ledger")]
    pub lot: Option<String>,
    /// Of a batch that is played: go on after the chips that the lot has
    #[arg(long, requires = "lot", conflicts_with = "part", help_heading = "Ledger")]
    pub resume: bool,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
    /// The tester.
    #[command(flatten)]
    pub tester: TesterArgs,
}

/// Arguments of `selftest`.
#[derive(Debug, Args)]
pub struct Selftest {
    /// The tester.
    #[command(flatten)]
    pub tester: TesterArgs,
    /// The ledger.
    #[command(flatten)]
    pub ledger: LedgerArgs,
}

/// Arguments of `simulate`.
#[derive(Debug, Args)]
pub struct Simulate {
    /// The chip.
    #[command(flatten)]
    pub chip: SimulatedChip,
    /// Hold the stored programs in this file instead of those of the image
    #[arg(long, value_name = "FILE")]
    pub stored: Option<PathBuf>,
}

/// Arguments of `lint`.
#[derive(Debug, Args)]
pub struct Lint {
    /// Files of part descriptions
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
}

/// Arguments of `march`.
#[derive(Debug, Args)]
pub struct March {
    /// What to do.
    #[command(subcommand)]
    pub command: MarchCommand,
}

/// The pages about march tests.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum MarchCommand {
    /// List the march tests in print
    List,
    /// Simulate a march test with every fault of every class, and tell the
    /// share that it finds
    #[command(after_help = crate::commands::march::NOTATION)]
    Coverage(MarchCoverage),
}

/// Arguments of `march coverage`.
#[derive(Debug, Args)]
pub struct MarchCoverage {
    /// A name of `dipsift march list`, or a test of your own in quotes
    #[arg(value_name = "NAME|NOTATION", required = true)]
    pub test: Vec<String>,
}

/// Arguments of `fixture`.
#[derive(Debug, Args)]
pub struct Fixture {
    /// What to show.
    #[command(subcommand)]
    pub command: FixtureCommand,
}

/// The pages about the fixture, all from the data that the board's image is built from.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum FixtureCommand {
    /// Every wire, the bridges to change, and the margins of the pins
    Wiring,
    /// What to buy, with the figures that a substitute must meet
    Parts,
    /// Where the switches are and why, and where odd chips sit
    Placement,
    /// The circuit on one sheet of A4, as SVG
    Drawing(FixtureDrawing),
}

/// Arguments of `fixture drawing`.
#[derive(Debug, Args)]
pub struct FixtureDrawing {
    /// Write it to this file instead of standard output
    #[arg(long, value_name = "FILE.svg")]
    pub out: Option<PathBuf>,
}

/// Arguments of `testers`.
#[derive(Debug, Args)]
pub struct Testers {}

/// Arguments of `stored`.
#[derive(Debug, Args)]
pub struct Stored {
    /// What to do.
    #[command(subcommand)]
    pub command: StoredCommand,
}

/// What to do with stored programs.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum StoredCommand {
    /// List what a tester holds, and what is armed
    List(StoredList),
    /// Arm a part: from then on the tester's button checks it
    Arm(StoredArm),
    /// Disarm: the tester's button checks nothing
    Disarm(StoredList),
    /// Write the programs for an image into a file
    Compile(StoredCompile),
}

/// Arguments of `stored list` and `stored disarm`.
#[derive(Debug, Args)]
pub struct StoredList {
    /// The tester's serial port, or `sim` for a simulated one. Without it the
    /// only tester found is used
    #[arg(long, value_name = "PORT|sim", help_heading = "Tester")]
    pub tester: Option<String>,
}

/// Arguments of `stored arm`.
#[derive(Debug, Args)]
pub struct StoredArm {
    /// A part, with or without family: 7400, 74LS00, 4011B
    #[arg(value_name = "PART")]
    pub part: String,
    /// The tester.
    #[command(flatten)]
    pub tester: StoredList,
}

/// Arguments of `stored compile`.
#[derive(Debug, Args)]
pub struct StoredCompile {
    /// Where to write
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Parts; without any, nine memories and all logic in LS, standard TTL and
    /// the 4000B series
    #[arg(value_name = "PART")]
    pub only: Vec<String>,
}
