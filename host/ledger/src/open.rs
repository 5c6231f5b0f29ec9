//! Opening a ledger.

use crate::id::IdSource;
use crate::schema::{APPLICATION, STEPS, migrate, version};
use crate::{Id, LedgerError};
use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long a writer waits for another one. A record takes milliseconds; a merge may take longer.
const PATIENCE: Duration = Duration::from_secs(20);

/// How long it sleeps before it tries again.
const STEP: Duration = Duration::from_millis(1);

/// An open ledger.
#[derive(Debug)]
pub struct Ledger {
    pub(crate) connection: Connection,
    pub(crate) ids: IdSource,
    id: Id,
}

impl Ledger {
    /// Opens a ledger; makes one where no file is. Brings one of an older version to the newest.
    ///
    /// A file that is no ledger, or of a newer version, is refused and not touched.
    pub fn open(path: &Path) -> Result<Self, LedgerError> {
        Self::open_seeded(path, None)
    }

    /// Opens a ledger whose ids follow from a seed, for tests and demonstrations.
    pub fn open_seeded(path: &Path, seed: Option<u64>) -> Result<Self, LedgerError> {
        let failed = failed(path);
        if std::fs::metadata(path).is_ok_and(|file| file.len() > 0) {
            // Read-only: even closing a connection that may write changes a file with a journal.
            look(path)?;
        }
        let mut connection = Connection::open(path).map_err(&failed)?;
        connection.busy_handler(Some(wait))?;
        write_ahead(&connection).map_err(&failed)?;
        Self::prepare(connection, seed)
    }

    /// Opens a ledger that exists, without writing to it.
    pub(crate) fn open_to_read(path: &Path) -> Result<Self, LedgerError> {
        let file = std::fs::metadata(path)
            .map_err(|source| LedgerError::File { what: path.display().to_string(), source })?;
        if file.is_dir() {
            return Err(LedgerError::NotALedger { path: path.into() });
        }
        let connection = look(path)?.ok_or(LedgerError::NotALedger { path: path.into() })?;
        let id = own_id(&connection)?;
        Ok(Self { connection, ids: IdSource::new(None), id })
    }

    /// A ledger that is gone with the process.
    pub fn in_memory(seed: Option<u64>) -> Result<Self, LedgerError> {
        Self::prepare(Connection::open_in_memory()?, seed)
    }

    fn prepare(mut connection: Connection, seed: Option<u64>) -> Result<Self, LedgerError> {
        connection.pragma_update(None, "foreign_keys", true)?;
        // Full: a record is on the disk when the call returns, whatever happens to the supply.
        connection.pragma_update(None, "synchronous", "FULL")?;
        // A report reads a large part of the file, a merge writes to all over it: 64 MiB.
        connection.pragma_update(None, "cache_size", -65_536)?;
        connection.set_prepared_statement_cache_capacity(64);
        let mut ids = IdSource::new(seed);
        if version(&connection)? != STEPS.len() as u32 {
            migrate(&mut connection, STEPS, |connection| {
                let now = Timestamp::now();
                connection.execute(
                    "INSERT OR IGNORE INTO ledger (key, id, created_us) VALUES (1, ?1, ?2)",
                    (ids.next(None, now).bytes(), now.as_microsecond()),
                )?;
                Ok(())
            })?;
        }
        let id = own_id(&connection)?;
        Ok(Self { connection, ids, id })
    }

    /// The ledger's own id. A copy of the file has the same.
    pub const fn id(&self) -> Id {
        self.id
    }
}

fn own_id(connection: &Connection) -> Result<Id, rusqlite::Error> {
    connection.query_row("SELECT id FROM ledger", [], |row| Ok(Id::from_bytes(row.get(0)?)))
}

fn failed(path: &Path) -> impl Fn(rusqlite::Error) -> LedgerError + use<> {
    let path = PathBuf::from(path);
    move |error| match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => LedgerError::NotALedger { path: path.clone() },
        Some(
            ErrorCode::DatabaseBusy
            | ErrorCode::DatabaseLocked
            | ErrorCode::DiskFull
            | ErrorCode::ReadOnly
            | ErrorCode::SystemIoFailure,
        ) => error.into(),
        _ => LedgerError::Open { path: path.clone(), source: error },
    }
}

/// Opens a file read-only and refuses what is no ledger of a known version. None where it is a
/// database in which nothing has been written yet.
fn look(path: &Path) -> Result<Option<Connection>, LedgerError> {
    let failed = failed(path);
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags).map_err(&failed)?;
    connection.busy_handler(Some(wait))?;
    // One transaction, so that a ledger that is being made is seen before or after.
    connection.execute_batch("BEGIN").map_err(&failed)?;
    let application: i32 =
        connection.pragma_query_value(None, "application_id", |row| row.get(0)).map_err(&failed)?;
    let found = version(&connection).map_err(&failed)?;
    let objects: i64 = connection
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .map_err(&failed)?;
    connection.execute_batch("COMMIT").map_err(&failed)?;
    let known = STEPS.len() as u32;
    match (application, found, objects) {
        (0, 0, 0) => Ok(None),
        (APPLICATION, 1.., 1..) if found <= known => Ok(Some(connection)),
        (APPLICATION, 1.., _) => Err(LedgerError::Newer { found, known }),
        _ => Err(LedgerError::NotALedger { path: path.into() }),
    }
}

/// Waits for another writer in short, even steps: SQLite's own handler waits longer each time, and
/// a bench that records without a pause would starve the other.
fn wait(times: i32) -> bool {
    std::thread::sleep(STEP);
    STEP * times.unsigned_abs() < PATIENCE
}

/// Readers and a writer do not wait for each other with a write-ahead log. Where the file system
/// cannot do it, SQLite keeps the rollback journal, which is as safe.
fn write_ahead(connection: &Connection) -> Result<(), rusqlite::Error> {
    let begun = Instant::now();
    loop {
        // The first change to this mode is refused at once while another process does the same.
        let mode = connection
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0));
        match mode {
            Err(error)
                if begun.elapsed() < PATIENCE
                    && error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) =>
            {
                std::thread::sleep(STEP);
            }
            other => return other.map(drop),
        }
    }
}
