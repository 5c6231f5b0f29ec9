//! A copy for the drawer.

use crate::{Ledger, LedgerError};
use std::fs::OpenOptions;
use std::io;
use std::path::Path;

impl Ledger {
    /// Writes a copy of the whole ledger to a new file, in one consistent state while others go
    /// on writing, and checks the copy. An existing file is left alone and is an error.
    ///
    /// Copying the file itself instead would miss what is still in its write-ahead log.
    pub fn backup(&self, to: &Path) -> Result<(), LedgerError> {
        let failed =
            |source: io::Error| LedgerError::File { what: to.display().to_string(), source };
        // Claims the name; SQLite fills an empty file but no other.
        let file = OpenOptions::new().write(true).create_new(true).open(to).map_err(failed)?;
        let copied = self.fill(to).and_then(|()| file.sync_all().map_err(failed));
        if copied.is_err() {
            // The copy is no good; that the first error is told matters more than a second one.
            let _ = std::fs::remove_file(to);
        }
        copied
    }

    fn fill(&self, to: &Path) -> Result<(), LedgerError> {
        let name = to.to_str().ok_or_else(|| LedgerError::File {
            what: to.display().to_string(),
            source: io::Error::new(io::ErrorKind::InvalidInput, "the name is no unicode text"),
        })?;
        self.connection.execute("VACUUM INTO ?1", [name])?;
        let findings = Self::open_to_read(to)?.check()?;
        match findings.first() {
            Some(finding) => Err(LedgerError::Backup(finding.to_string())),
            None => Ok(()),
        }
    }
}
