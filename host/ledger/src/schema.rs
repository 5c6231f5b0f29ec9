//! The schema's versions, and how a file gets to the newest.

use crate::LedgerError;
use rusqlite::{Connection, TransactionBehavior};

/// Marks the file as a ledger: `dips` in ASCII, as SQLite's application id.
pub(crate) const APPLICATION: i32 = i32::from_be_bytes(*b"dips");

/// What leads from each version to the next. A step that has been published is never edited.
pub(crate) const STEPS: &[&str] = &[include_str!("schema/1.sql")];

/// The version of an open database, 0 while it is empty.
pub(crate) fn version(connection: &Connection) -> Result<u32, rusqlite::Error> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Carries out the steps that the database lacks, all or none, and `after` with the last.
pub(crate) fn migrate(
    connection: &mut Connection,
    steps: &[&str],
    after: impl FnOnce(&Connection) -> Result<(), rusqlite::Error>,
) -> Result<(), LedgerError> {
    let known = steps.len() as u32;
    // Immediate: of two processes that open an old file, the second finds the work done.
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found = version(&transaction)?;
    if found > known {
        return Err(LedgerError::Newer { found, known });
    }
    for step in &steps[found as usize..] {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION)?;
    transaction.pragma_update(None, "user_version", known)?;
    if found < known {
        after(&transaction)?;
    }
    transaction.commit()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWO: [&str; 2] = ["CREATE TABLE a (x) STRICT", "ALTER TABLE a ADD COLUMN y"];
    const TYPED: [&str; 2] = [
        "CREATE TABLE a (x INTEGER) STRICT; INSERT INTO a VALUES (1);",
        "ALTER TABLE a ADD COLUMN y INTEGER; UPDATE a SET y = x + 1;",
    ];

    fn y(connection: &Connection) -> i64 {
        connection.query_row("SELECT y FROM a", [], |row| row.get(0)).unwrap()
    }

    #[test]
    fn each_step_is_taken_once() {
        let mut connection = Connection::open_in_memory().unwrap();
        migrate(&mut connection, &TYPED[..1], |_| Ok(())).unwrap();
        assert_eq!(version(&connection).unwrap(), 1);
        migrate(&mut connection, &TYPED, |_| Ok(())).unwrap();
        migrate(&mut connection, &TYPED, |_| panic!("nothing was to do")).unwrap();
        assert_eq!((version(&connection).unwrap(), y(&connection)), (2, 2));
    }

    #[test]
    fn a_step_that_fails_leaves_the_old_version() {
        let mut connection = Connection::open_in_memory().unwrap();
        // STRICT tables need a column type, so the first step fails by itself.
        assert!(migrate(&mut connection, &TWO, |_| Ok(())).is_err());
        assert_eq!(version(&connection).unwrap(), 0);
        migrate(&mut connection, &TYPED[..1], |_| Ok(())).unwrap();
        let broken = [TYPED[0], "ALTER TABLE a ADD COLUMN y INTEGER; UPDATE b SET y = 1;"];
        assert!(migrate(&mut connection, &broken, |_| Ok(())).is_err());
        assert_eq!(version(&connection).unwrap(), 1);
        migrate(&mut connection, &TYPED, |_| Ok(())).unwrap();
        assert_eq!(y(&connection), 2);
    }

    #[test]
    fn a_newer_version_is_refused() {
        let mut connection = Connection::open_in_memory().unwrap();
        migrate(&mut connection, &TYPED, |_| Ok(())).unwrap();
        let error = migrate(&mut connection, &TYPED[..1], |_| Ok(())).unwrap_err();
        assert!(matches!(error, LedgerError::Newer { found: 2, known: 1 }), "{error}");
    }
}
