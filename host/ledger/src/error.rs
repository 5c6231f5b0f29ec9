//! What can go wrong with a ledger.

use crate::Id;
use std::io;
use std::path::PathBuf;
use thiserror::Error;

/// Why the ledger did not do what it was asked. Nothing was recorded then.
#[derive(Debug, Error)]
pub enum LedgerError {
    /// The file cannot be opened or created.
    #[error("cannot open the ledger {}", path.display())]
    Open {
        /// The file.
        path: PathBuf,
        /// Why.
        source: rusqlite::Error,
    },
    /// The file is something else; it was not touched.
    #[error("{} is no ledger", path.display())]
    NotALedger {
        /// The file.
        path: PathBuf,
    },
    /// A newer program has written the file; it was not touched.
    #[error(
        "the ledger has version {found}, this program knows up to {known}: use a newer program"
    )]
    Newer {
        /// The file's version.
        found: u32,
        /// The newest that this program knows.
        known: u32,
    },
    /// The disk is full, or does not do what it is told.
    #[error("the disk is full or fails: nothing was recorded")]
    Disk,
    /// The file, or the folder that its log lies in beside it, cannot be written to.
    #[error("the ledger cannot be written to: its file or its folder is read-only")]
    ReadOnly,
    /// Another process has held the ledger for longer than the waiting time.
    #[error("the ledger is in use by another process")]
    Busy,
    /// A value is outside of what the schema allows; the schema names the rule.
    #[error("the ledger refuses the record: {0}")]
    Rule(String),
    /// No lot has this name.
    #[error("no lot is named {0:?}")]
    UnknownLot(String),
    /// No lot can be named so.
    #[error(
        "{0:?} is no name for a lot: it has 1 to 100 characters, none of them a line break or \
         another control character, and no space at its ends"
    )]
    LotName(String),
    /// A lot of this name is there already.
    #[error("a lot named {0:?} is there already")]
    LotExists(String),
    /// No insertion has this id.
    #[error("no insertion has the id {0}")]
    UnknownInsertion(Id),
    /// It has been undone before.
    #[error("the insertion {0} has been undone before")]
    AlreadyUndone(Id),
    /// Nothing is left to undo.
    #[error("the lot {0:?} has no insertion to undo")]
    NothingToUndo(String),
    /// A chip that is inserted again stays in its lot.
    #[error("the insertion {0} belongs to another lot")]
    OtherLot(Id),
    /// Two records have one id and different contents; nothing was merged.
    #[error("the record {0} is there already with other contents")]
    Differs(Id),
    /// A text to import is not of the form that the export writes.
    #[error("record {number} cannot be read: {message}")]
    Format {
        /// Which record, from 1; 0 for the beginning of the file.
        number: u64,
        /// Why not.
        message: String,
    },
    /// A file cannot be read or written.
    #[error("cannot read or write {what}")]
    File {
        /// Which.
        what: String,
        /// Why.
        source: io::Error,
    },
    /// The backup is no faithful copy; it was removed.
    #[error("the backup is damaged: {0}")]
    Backup(String),
    /// SQLite failed.
    #[error("the ledger's database failed")]
    Database(#[source] rusqlite::Error),
}

impl From<rusqlite::Error> for LedgerError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode::{
            ConstraintViolation, DatabaseBusy, DatabaseLocked, DiskFull, ReadOnly, SystemIoFailure,
        };
        match &error {
            rusqlite::Error::SqliteFailure(failure, message) => match failure.code {
                DatabaseBusy | DatabaseLocked => Self::Busy,
                DiskFull | SystemIoFailure => Self::Disk,
                ReadOnly => Self::ReadOnly,
                ConstraintViolation => Self::Rule(message.clone().unwrap_or_default()),
                _ => Self::Database(error),
            },
            _ => Self::Database(error),
        }
    }
}
