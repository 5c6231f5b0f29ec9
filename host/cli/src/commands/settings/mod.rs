//! `settings`: what holds where no option is typed, and where it comes from.

use crate::args::General;
use crate::commands::ledger::LedgerArgs;
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::settings::{self, Origin};
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::io::Write;
use toml::Table;

/// A file of settings with the defaults.
pub const TEMPLATE: &str = include_str!("template.toml");

/// Where the file is, below the help.
const PLACE: &str = "\
Your own settings file is dipsift/settings.toml in the user's configuration
folder, on most systems ~/.config. To begin one:
  dipsift settings template > ~/.config/dipsift/settings.toml
What is typed as an option wins over the file, and the file over the defaults.";

/// Arguments of `settings`.
#[derive(Debug, Args)]
#[command(after_help = PLACE)]
pub struct Settings {
    /// What to do.
    #[command(subcommand)]
    pub command: SettingsCommand,
}

/// What to do with settings.
#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub enum SettingsCommand {
    /// Show which file is used, what holds, and where it comes from
    Show,
    /// Print a file with every setting, its default and what it means
    Template,
}

/// Runs a subcommand.
pub fn run(args: &Settings, general: &General, out: &mut Output) -> Result<Status, Failure> {
    match args.command {
        SettingsCommand::Show => show(general, out),
        SettingsCommand::Template => template(out),
    }
}

fn template(out: &mut Output) -> Result<Status, Failure> {
    if out.json {
        out.object(Status::Go, json!({ "template": TEMPLATE }))?;
    } else {
        write!(out, "{TEMPLATE}")?;
    }
    Ok(Status::Go)
}

/// A setting with what holds.
struct Held {
    key: String,
    value: Value,
    from: &'static str,
}

fn show(general: &General, out: &mut Output) -> Result<Status, Failure> {
    let origin = &general.settings.origin;
    let all = held(general)?;
    if out.json {
        let settings: Vec<Value> = all
            .iter()
            .map(|held| json!({ "key": held.key, "value": held.value, "from": held.from }))
            .collect();
        let body = json!({ "file": origin.file, "read": origin.read, "settings": settings });
        out.object(Status::Go, body)?;
        return Ok(Status::Go);
    }
    out.labelled("file", &file_words(origin))?;
    writeln!(out)?;
    out.heading(&format!("  {:<20}{:<9}{}", "setting", "from", "value"))?;
    for Held { key, value, from } in &all {
        out.paragraph(&format!("  {key:<20}{from:<9}"), 31, &words(key, value))?;
    }
    Ok(Status::Go)
}

fn file_words(origin: &Origin) -> String {
    match (&origin.file, origin.read) {
        (Some(file), true) => file.display().to_string(),
        (Some(file), false) => format!(
            "none: {} does not exist; `dipsift settings template` prints one to begin with",
            file.display()
        ),
        (None, _) => "none: no configuration folder is known; say --settings FILE".into(),
    }
}

/// What holds, in words.
fn words(key: &str, value: &Value) -> String {
    match value {
        Value::Null if key == "tester" => "the only one found".into(),
        Value::String(text) => text.clone(),
        Value::Array(items) if items.is_empty() => "none".into(),
        Value::Array(items) => {
            let items: Vec<&str> = items.iter().filter_map(Value::as_str).collect();
            items.join(", ")
        }
        Value::Bool(true) => "on".into(),
        Value::Bool(false) => "off".into(),
        other => other.to_string(),
    }
}

fn held(general: &General) -> Result<Vec<Held>, Failure> {
    // The options of every command may have been typed here, too.
    let mut effective = general.settings.clone();
    effective.parts = general.parts.clone();
    effective.color = general.color;
    // Shown even where it is not known: keys without a default are keys.
    let tester = effective.tester.take();
    let ledger = LedgerArgs { ledger: effective.ledger.take() }.path()?;
    let table = Table::try_from(&effective)
        .map_err(|error| Failure::usage(format!("failed to show the settings: {error}")))?;
    let value_of = |key: &str| -> Value {
        let mut value = json!(table);
        for part in key.split('.') {
            value = value[part].take();
        }
        value
    };
    let origin = &general.settings.origin;
    let from = |key: &str| match key {
        _ if origin.typed.contains(&key) => "option",
        _ if origin.keys.contains(key) => "file",
        _ => "default",
    };
    let entry = |key: &str, value| Held { from: from(key), key: key.to_string(), value };
    let mut all = vec![entry("tester", json!(tester)), entry("ledger", json!(ledger))];
    // Single keys come before those of tables.
    let mut keys = settings::keys(&table);
    keys.sort_by_key(|key| key.contains('.'));
    all.extend(keys.iter().map(|key| entry(key, value_of(key))));
    Ok(all)
}
