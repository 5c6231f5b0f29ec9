//! The settings file: what a bench always wants, in place of the defaults of options.

use crate::args::{Cli, Color, Command};
use crate::commands::help;
use crate::commands::settings::SettingsCommand;
use crate::exit::Failure;
use clap::parser::ValueSource;
use clap::{Arg, CommandFactory, FromArgMatches};
use dipsift_papers::Sheet;
use etcetera::BaseStrategy as _;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use toml::{Table, Value};

/// What the settings file says, and the defaults for the rest. Each key has the name of its option,
/// and its unit in the name.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// The tester's serial port, or `sim`; none means the only one found.
    #[serde(deserialize_with = "port")]
    pub tester: Option<String>,
    /// The ledger's file; none means the one in the user's data folder.
    pub ledger: Option<PathBuf>,
    /// Folders of part descriptions.
    pub parts: Vec<PathBuf>,
    /// When to colour.
    pub color: Color,
    /// Where labels lie on their sheet.
    #[serde(deserialize_with = "sheet")]
    pub labels: Sheet,
    /// How `screen` behaves.
    pub screen: ScreenSettings,
    /// Where all this comes from.
    #[serde(skip)]
    pub origin: Origin,
}

/// How `screen` behaves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScreenSettings {
    /// Whether the terminal's bell sounds with a verdict.
    pub bell: bool,
}

/// Where settings come from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Origin {
    /// The file, there or not; none where no folder for it is known.
    pub file: Option<PathBuf>,
    /// Whether it was read.
    pub read: bool,
    /// The keys that it has, `labels.rows`.
    pub keys: BTreeSet<String>,
    /// The options of every command that were typed.
    pub typed: Vec<&'static str>,
}

impl Default for ScreenSettings {
    fn default() -> Self {
        Self { bell: true }
    }
}

/// The options of `labels` with what a sheet gives them.
fn options(sheet: &Sheet) -> [(&'static str, String); 8] {
    [
        ("columns", sheet.columns.to_string()),
        ("rows", sheet.rows.to_string()),
        ("left", sheet.left_mm.to_string()),
        ("top", sheet.top_mm.to_string()),
        ("pitch_x", sheet.pitch_x_mm.to_string()),
        ("pitch_y", sheet.pitch_y_mm.to_string()),
        ("width", sheet.width_mm.to_string()),
        ("height", sheet.height_mm.to_string()),
    ]
}

fn port<'de, D: Deserializer<'de>>(from: D) -> Result<Option<String>, D::Error> {
    let text = String::deserialize(from)?;
    if text.trim().is_empty() {
        return Err(D::Error::custom("a tester is a serial port, or \"sim\""));
    }
    Ok(Some(text))
}

fn sheet<'de, D: Deserializer<'de>>(from: D) -> Result<Sheet, D::Error> {
    let sheet = Sheet::deserialize(from)?;
    sheet.check().map_err(D::Error::custom)?;
    Ok(sheet)
}

/// Reads the settings and gives them to the options that were not typed.
///
/// # Errors
///
/// Wrong usage where the file cannot be read or used.
pub fn settle(cli: &mut Cli) -> Result<(), Failure> {
    // A shell asks for its completions at its own start, and the template mends a bad file.
    match &cli.command {
        Command::Completions(_) | Command::Manuals(_) => return Ok(()),
        Command::Settings(args) if matches!(args.command, SettingsCommand::Template) => {
            return Ok(());
        }
        _ => {}
    }
    let mut settings = load(cli.general.settings_file.as_deref())?;
    let wrong = |error: clap::Error| Failure::usage(error.to_string().trim_end().to_string());
    // Settings are defaults: so an option that was typed wins, and none excludes another.
    let matches = with_defaults(help::with_phrases(Cli::command()), &settings)
        .try_get_matches()
        .map_err(wrong)?;
    *cli = Cli::from_arg_matches(&matches).map_err(wrong)?;
    if let (Command::Screen(args), Some((_, matches))) = (&mut cli.command, matches.subcommand())
        && (args.demo || args.batch.is_some())
        && matches.value_source("tester") != Some(ValueSource::CommandLine)
    {
        // A batch file is played on a simulated tester, whatever the bench has.
        args.tester.tester = None;
    }
    let typed = |id: &&'static str| matches.value_source(id) == Some(ValueSource::CommandLine);
    settings.origin.typed = ["parts", "color"].into_iter().filter(typed).collect();
    cli.general.settings = settings;
    Ok(())
}

/// The settings as defaults of their options, in every command that has them.
fn with_defaults(command: clap::Command, settings: &Settings) -> clap::Command {
    let sheet = if command.get_name() == "labels" { &options(&settings.labels)[..] } else { &[] };
    command
        .mut_args(|arg| with_default(arg, settings, sheet))
        .mut_subcommands(|sub| with_defaults(sub, settings))
}

fn with_default(arg: Arg, settings: &Settings, sheet: &[(&'static str, String)]) -> Arg {
    match arg.get_id().as_str() {
        "tester" => match &settings.tester {
            Some(tester) => arg.default_value(tester.clone()),
            None => arg,
        },
        "ledger" => match &settings.ledger {
            Some(ledger) => arg.default_value(ledger.clone().into_os_string()),
            None => arg,
        },
        "parts" if !settings.parts.is_empty() => {
            arg.default_values(settings.parts.iter().map(|folder| folder.clone().into_os_string()))
        }
        "color" => arg.default_value(settings.color.name()),
        id => match sheet.iter().find(|(name, _)| *name == id) {
            Some((_, value)) => arg.default_value(value.clone()),
            None => arg,
        },
    }
}

/// Reads the file that was asked for, or the user's own if it is there.
fn load(asked: Option<&Path>) -> Result<Settings, Failure> {
    let Some(file) = asked.map(Path::to_path_buf).or_else(usual_file) else {
        return Ok(Settings::default());
    };
    let name = file.display();
    let text = match fs::read_to_string(&file) {
        Ok(text) => text,
        Err(error) if asked.is_none() && error.kind() == std::io::ErrorKind::NotFound => {
            let origin = Origin { file: Some(file), ..Origin::default() };
            return Ok(Settings { origin, ..Settings::default() });
        }
        Err(error) => {
            return Err(Failure::usage(format!("failed to read the settings {name}: {error}")));
        }
    };
    let mut settings = read(&text).map_err(|message| {
        Failure::usage(format!("failed to use the settings {name}: {message}"))
    })?;
    // A path is meant from where it is written.
    let folder = file.parent().unwrap_or(Path::new(""));
    for path in settings.parts.iter_mut().chain(&mut settings.ledger) {
        *path = folder.join(&*path);
    }
    settings.origin.file = Some(file);
    Ok(settings)
}

/// Reads the text of a file.
fn read(text: &str) -> Result<Settings, String> {
    let wrong = |error: toml::de::Error| error.to_string().trim_end().to_string();
    let mut settings: Settings = toml::from_str(text).map_err(wrong)?;
    let table: Table = toml::from_str(text).map_err(wrong)?;
    settings.origin.read = true;
    settings.origin.keys = keys(&table).into_iter().collect();
    Ok(settings)
}

/// The keys of a table and of the tables in it.
pub fn keys(table: &Table) -> Vec<String> {
    let mut found = Vec::new();
    for (key, value) in table {
        match value {
            Value::Table(inner) => {
                found.extend(keys(inner).into_iter().map(|inner| format!("{key}.{inner}")));
            }
            _ => found.push(key.clone()),
        }
    }
    found
}

/// `dipsift/settings.toml` in the user's configuration folder.
fn usual_file() -> Option<PathBuf> {
    // Without a home there is nothing to read, and every option still works.
    let folders = etcetera::choose_base_strategy().ok()?;
    Some(folders.config_dir().join("dipsift").join("settings.toml"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commands::settings::TEMPLATE;

    /// Every key, whether it has a default or not.
    fn all_keys() -> Vec<String> {
        let full = Settings {
            tester: Some("sim".into()),
            ledger: Some("ledger.sqlite".into()),
            ..Settings::default()
        };
        keys(&Table::try_from(full).expect("settings are a table"))
    }

    #[test]
    fn the_template_is_the_defaults() {
        let mut read = read(TEMPLATE).expect("the template parses");
        let keys = std::mem::take(&mut read.origin).keys;
        assert_eq!(read, Settings::default());
        assert!(keys.contains("labels.pitch_x_mm"), "defaults are written out: {keys:?}");
    }

    #[test]
    fn the_template_has_every_key() {
        // A key without a default is there as a comment; as a setting it is taken, too.
        let active: String = TEMPLATE
            .lines()
            .map(|line| match line.strip_prefix("#") {
                Some(rest) if rest.contains(" = ") && !rest.starts_with(' ') => rest,
                _ => line,
            })
            .map(|line| format!("{line}\n"))
            .collect();
        let read = read(&active).expect("the template parses with every line active");
        let all: BTreeSet<String> = all_keys().into_iter().collect();
        assert!(all.len() > 12, "{all:?}");
        assert_eq!(read.origin.keys, all);
    }

    #[test]
    fn the_sheet_of_the_settings_is_that_of_the_options() {
        let options = options(&Sheet::default());
        let labels = Cli::command().find_subcommand("labels").expect("the command").clone();
        for (id, value) in &options {
            let arg = labels.get_arguments().find(|arg| arg.get_id() == id).expect("the option");
            let defaults: Vec<_> =
                arg.get_default_values().iter().map(|v| v.to_string_lossy().into_owned()).collect();
            assert_eq!(defaults.concat(), *value, "{id}");
        }
        let sheet = labels.get_arguments().filter(|arg| arg.get_help_heading() == Some("Sheet"));
        assert_eq!(sheet.count(), options.len());
    }

    #[test]
    fn every_command_with_the_option_gets_the_setting() {
        fn look(command: &clap::Command, seen: &mut Vec<String>) {
            for arg in command.get_arguments() {
                let id = arg.get_id().as_str();
                if id == "tester" || id == "ledger" {
                    let defaults = arg.get_default_values();
                    assert_eq!(defaults.len(), 1, "{} {id}", command.get_name());
                    seen.push(format!("{} {id}", command.get_name()));
                }
            }
            command.get_subcommands().for_each(|sub| look(sub, seen));
        }
        let settings = read("tester = 'sim'\nledger = 'x.sqlite'").expect("settings");
        let mut seen = Vec::new();
        look(&with_defaults(Cli::command(), &settings), &mut seen);
        for expected in ["check tester", "arm tester", "export ledger", "undo ledger"] {
            assert!(seen.iter().any(|found| found == expected), "{expected}: {seen:?}");
        }
    }

    #[test]
    fn every_mistake_names_its_line_and_key() {
        for (text, line, words) in [
            ("color = 'auto'\ncolour = 'auto'", "line 2", "unknown field `colour`"),
            ("\n\ncolor = 'purple'", "line 3", "color = 'purple'"),
            ("tester = ' '", "line 1", "a tester is a serial port"),
            ("[labels]\nrows = '7'", "line 2", "rows = '7'"),
            ("[labels]\nrow = 7", "line 2", "unknown field `row`"),
            ("[labels]\nrows = 0", "line 1", "at least one column and one row"),
            ("[labels]\nleft_mm = 100", "line 1", "the labels reach to"),
            ("[screen]\nbell = 1", "line 2", "bell = 1"),
            ("parts = 'x'", "line 1", "parts = 'x'"),
            ("tester", "line 1", "tester"),
        ] {
            let message = read(text).expect_err(text);
            assert!(message.contains(line) && message.contains(words), "{text:?}: {message}");
        }
    }
}
