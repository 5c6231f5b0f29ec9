//! Which file the ledger is.

use crate::exit::Failure;
use clap::Args;
use dipsift_ledger::{Ledger, LedgerError};
use etcetera::BaseStrategy as _;
use jiff::tz::TimeZone;
use std::error::Error;
use std::fmt::Display;
use std::io::ErrorKind;
use std::path::PathBuf;

/// Which ledger to use.
#[derive(Clone, Debug, Args)]
pub struct LedgerArgs {
    /// The ledger's file, instead of the one in the user's data folder. It must
    /// not lie on a network share
    #[arg(long, value_name = "FILE", help_heading = "Ledger")]
    pub ledger: Option<PathBuf>,
}

impl LedgerArgs {
    /// The file: what `--ledger` says, or `dipsift/ledger.sqlite` in the user's data folder.
    pub fn path(&self) -> Result<PathBuf, Failure> {
        if let Some(path) = &self.ledger {
            return Ok(path.clone());
        }
        let folders = etcetera::choose_base_strategy().map_err(|error| {
            Failure::usage(format!(
                "failed to find the user's data folder: {error}; say --ledger FILE"
            ))
        })?;
        Ok(folders.data_dir().join("dipsift").join("ledger.sqlite"))
    }

    /// Opens the ledger to read it or to add to it. One that does not exist is an error.
    pub fn open(&self) -> Result<Ledger, Failure> {
        let path = self.path()?;
        if !path.exists() {
            return Err(Failure::usage(format!(
                "no ledger is at {}: begin a lot first, or say --ledger FILE",
                path.display()
            )));
        }
        Ledger::open(&path).map_err(|error| said(&error))
    }

    /// Opens the ledger; makes it, and its folder, where it does not exist.
    pub fn open_or_make(&self) -> Result<Ledger, Failure> {
        let path = self.path()?;
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| {
                Failure::usage(format!("failed to make the folder {}: {error}", folder.display()))
            })?;
        }
        Ledger::open(&path).map_err(|error| said(&error))
    }
}

/// What the ledger says, with its causes.
pub fn said(error: &LedgerError) -> Failure {
    if let LedgerError::File { what, source } = error
        && source.kind() == ErrorKind::AlreadyExists
    {
        return exists(what);
    }
    let mut message = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        message = format!("{message}: {error}");
        cause = error.source();
    }
    Failure::usage(message)
}

/// A file that would have to be overwritten.
pub fn exists(file: impl Display) -> Failure {
    Failure::usage(format!("{file} exists and is left alone: say another name"))
}

/// Where the bench stands, as far as this machine knows: its days are those of the records.
pub fn zone() -> TimeZone {
    TimeZone::try_system().unwrap_or(TimeZone::UTC)
}
