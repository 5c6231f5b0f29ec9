//! The library, and the parts that people name.

use crate::args::General;
use crate::exit::Failure;
use dipsift_language::{Family, Library, Part, PartName, PartNameError, Severity, marking};
use std::fs;
use std::io::{self, Write};
use std::sync::Arc;

/// A part as a person named it.
#[derive(Clone)]
pub struct Named {
    /// The part.
    pub part: Arc<Part>,
    /// The family.
    pub family: Family,
    /// The name as people write it, `74LS00`.
    pub name: String,
    /// The maker's letters in front of a marking that was typed whole, `HM` of HM4864-3.
    pub maker: Option<String>,
    /// The speed mark after the dash, where one was given.
    pub speed: Option<String>,
    /// What was assumed where the name said nothing.
    pub assumption: Option<String>,
}

/// The parts that come with the program and those of `--parts`.
pub fn load(general: &General) -> Result<Library, Failure> {
    for folder in &general.parts {
        fs::read_dir(folder).map_err(|error| {
            Failure::usage(format!("failed to read the folder {}: {error}", folder.display()))
        })?;
    }
    let (library, diagnostics) = Library::builtin_with(&general.parts).map_err(|error| {
        Failure::usage(format!("failed to read the part descriptions of --parts: {error}"))
    })?;
    let of = |severity| diagnostics.iter().filter(move |found| found.severity == severity);
    let errors: Vec<String> = of(Severity::Error).map(|found| found.render(false)).collect();
    if !errors.is_empty() {
        return Err(Failure::usage(format!(
            "failed to use the part descriptions:\n{}",
            errors.join("\n")
        )));
    }
    for warning in of(Severity::Warning) {
        // A warning that nobody can see hinders nothing.
        let _ = writeln!(io::stderr(), "{}", warning.render(false));
    }
    Ok(library)
}

/// The part that a command names. A name that the library does not have is wrong usage: nothing
/// tells a part that is not described from a slip of the hand.
pub fn find(library: &Library, text: &str) -> Result<Named, Failure> {
    look_up(library, text).map_err(|error| failure(&error))
}

/// A name that may mean a chip that must not be powered as another is refused; any other is wrong
/// usage.
fn failure(error: &PartNameError) -> Failure {
    match error {
        PartNameError::Ambiguous { .. } | PartNameError::Untrusted { .. } => {
            Failure::refused(error.to_string())
        }
        _ => Failure::usage(error.to_string()),
    }
}

/// The part to read about. A number that was not made in the family that it stands for, such as
/// 74245, is shown in one that exists, and says so.
pub fn find_to_read(library: &Library, text: &str) -> Result<Named, Failure> {
    match look_up(library, text) {
        Err(error) => match &error {
            PartNameError::NotMade { instead, .. } => {
                let named = find(library, instead)?;
                Ok(Named { assumption: Some(error.to_string()), ..named })
            }
            PartNameError::Untrusted { part, .. } => {
                let named = find(library, part)?;
                Ok(Named { assumption: Some(error.to_string()), ..named })
            }
            _ => Err(failure(&error)),
        },
        Ok(named) => Ok(named),
    }
}

/// Looks up a part by what a person typed or read on a package.
pub fn look_up(library: &Library, text: &str) -> Result<Named, PartNameError> {
    let read = PartName::parse(text, library)?;
    let part = library
        .part(&read.number)
        .cloned()
        .ok_or(PartNameError::Unknown { number: read.number, near: Vec::new() })?;
    Ok(Named {
        name: marking(&part.number, read.family),
        part,
        family: read.family,
        maker: read.maker,
        speed: read.speed,
        assumption: read.assumed,
    })
}
