//! `manuals`: a manual page for each command, from the same words as its help.

use crate::args::Cli;
use crate::commands::help;
use crate::exit::{Failure, Status};
use crate::output::Output;
use clap::{Args, Command, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};
use serde_json::json;
use std::fs;
use std::io::{self, Write};
use std::path::PathBuf;

/// Arguments of `manuals`.
#[derive(Debug, Args)]
pub struct Manuals {
    /// The folder, such as ~/.local/share/man/man1; it is made where it does
    /// not exist
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

/// Writes the pages.
pub fn run(args: &Manuals, out: &mut Output) -> Result<Status, Failure> {
    let folder = &args.folder;
    fs::create_dir_all(folder).map_err(|error| {
        Failure::usage(format!("failed to make the folder {}: {error}", folder.display()))
    })?;
    let mut command = help::with_phrases(Cli::command());
    command.build();
    let mut pages = Vec::new();
    collect(&command, &mut pages)?;
    for (name, page) in &pages {
        let file = folder.join(name);
        fs::write(&file, page).map_err(|error| {
            Failure::usage(format!("failed to write {}: {error}", file.display()))
        })?;
    }
    if out.json {
        let names: Vec<&str> = pages.iter().map(|(name, _)| name.as_str()).collect();
        out.object(Status::Go, json!({ "folder": folder, "pages": names }))?;
    } else {
        writeln!(out, "written: {} pages in {}", pages.len(), folder.display())?;
        let first = format!("`man -l {}` shows the first", folder.join("dipsift.1").display());
        out.paragraph("", 0, &first)?;
    }
    Ok(Status::Go)
}

/// The pages of a command and of its subcommands, with their files' names.
fn collect(command: &Command, pages: &mut Vec<(String, Vec<u8>)>) -> io::Result<()> {
    let manual = Man::new(command.clone())
        .source(format!("dipsift {}", env!("CARGO_PKG_VERSION")))
        .manual("dipsift");
    let mut page = Vec::new();
    manual.render_title(&mut page)?;
    manual.render_name_section(&mut page)?;
    manual.render_synopsis_section(&mut page)?;
    manual.render_description_section(&mut page)?;
    manual.render_options_section(&mut page)?;
    if command.has_subcommands() {
        manual.render_subcommands_section(&mut page)?;
    }
    if let Some(notes) = command.get_after_help() {
        notes_section(&notes.to_string()).to_writer(&mut page)?;
    }
    pages.push((manual.get_filename(), page));
    command.get_subcommands().try_for_each(|sub| collect(sub, pages))
}

/// What stands below a help. Its tables are set line by line, so their lines stay lines.
fn notes_section(notes: &str) -> Roff {
    let mut roff = Roff::new();
    roff.control("SH", ["NOTES"]).control("nf", []);
    for line in notes.lines() {
        roff.text([roman(line)]);
    }
    roff.control("fi", []);
    roff
}
