//! The file: append-only, checked, backed up, and left alone where it is not ours.

mod common;

use common::{at, bad, bag, good, pin};
use dipsift_ledger::{Ledger, LedgerError, Selection};
use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};

fn evening(folder: &Path) -> PathBuf {
    let file = folder.join("evening.ledger");
    let mut ledger = Ledger::open_seeded(&file, Some(1)).unwrap();
    ledger.add_lot(&bag()).unwrap();
    let first = ledger.record(&bad(1, &[pin(3, 1, 0, 0, false)])).unwrap();
    ledger.record(&dipsift_ledger::Insertion { retest_of: Some(first), ..good(2) }).unwrap();
    ledger.undo_last("bag", at(3), None).unwrap();
    ledger.add_selftest(&common::selftest(0, true)).unwrap();
    ledger
        .add_remark(&dipsift_ledger::Remark {
            at: at(4),
            about: dipsift_ledger::Subject::Lot("bag".into()),
            kind: dipsift_ledger::RemarkKind::Note,
            text: "dusty".into(),
        })
        .unwrap();
    file
}

#[test]
fn no_row_can_be_changed_or_deleted() {
    let folder = tempfile::tempdir().unwrap();
    let database = Connection::open(evening(folder.path())).unwrap();
    let tables: Vec<String> = database
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(tables.len(), 10);
    for table in tables {
        let column: String = database
            .query_row("SELECT name FROM pragma_table_info(?1) LIMIT 1", [&table], |row| row.get(0))
            .unwrap();
        for change in
            [format!("DELETE FROM {table}"), format!("UPDATE {table} SET {column} = {column}")]
        {
            let error = database.execute(&change, []).unwrap_err();
            assert!(error.to_string().contains("append-only"), "{change}: {error}");
        }
    }
}

#[test]
fn a_check_finds_what_was_tampered_with() {
    let folder = tempfile::tempdir().unwrap();
    let cases = [
        (
            "DROP TRIGGER insertion_no_update; UPDATE insertion SET failures = 7 WHERE verdict = 'no-go'",
            "trigger insertion_no_update is missing or changed",
        ),
        ("CREATE TABLE extra (x)", "table extra is not the program's"),
        ("DROP INDEX insertion_report", "index insertion_report is missing or changed"),
        ("DELETE FROM ledger", "0 ids"),
        ("DELETE FROM lot", "row 1 to lot"),
        ("UPDATE insertion SET first = 2 WHERE key = 1", "insertion 1"),
        ("UPDATE insertion SET date_code = '1984-W59' WHERE key = 1", "insertion 1"),
        ("UPDATE insertion SET verdict = 'go', failures = 0 WHERE key = 1", "insertion 1"),
        (
            "PRAGMA ignore_check_constraints = 1; UPDATE insertion SET verdict = 'fine'",
            "CHECK constraint failed in insertion",
        ),
    ];
    for (number, (tampering, expected)) in cases.into_iter().enumerate() {
        let place = folder.path().join(number.to_string());
        fs::create_dir(&place).unwrap();
        let file = evening(&place);
        assert_eq!(Ledger::open(&file).unwrap().check().unwrap(), []);
        let database = Connection::open(&file).unwrap();
        database.pragma_update(None, "foreign_keys", false).unwrap();
        // The guards are taken off and put back, as a clever hand would.
        let guards: Vec<(String, String)> = database
            .prepare("SELECT name, sql FROM sqlite_schema WHERE name LIKE '%\\_no\\_%' ESCAPE '\\'")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        let named = guards.iter().filter(|(name, _)| !tampering.contains(name.as_str()));
        for (name, _) in named.clone() {
            database.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
        }
        database.execute_batch(tampering).unwrap();
        for (_, sql) in named {
            database.execute_batch(sql).unwrap();
        }
        drop(database);
        // A ledger without its id cannot even be opened to write.
        let findings = match Ledger::open(&file) {
            Ok(ledger) => ledger.check().unwrap(),
            Err(error) => {
                assert_eq!(expected, "0 ids", "{error}");
                continue;
            }
        };
        assert!(
            findings.iter().any(|finding| finding.to_string().contains(expected)),
            "{tampering}: {findings:?}"
        );
    }
}

#[test]
fn a_damaged_page_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let file = evening(folder.path());
    let mut bytes = fs::read(&file).unwrap();
    let page = bytes.len() / 4096 / 2 * 4096;
    bytes[page..page + 64].fill(0xFF);
    fs::write(&file, &bytes).unwrap();
    let seen = Ledger::open(&file).map(|ledger| ledger.check());
    assert!(!matches!(&seen, Ok(Ok(findings)) if findings.is_empty()), "{seen:?}");
}

#[test]
fn a_backup_is_the_same_ledger() {
    let folder = tempfile::tempdir().unwrap();
    let file = evening(folder.path());
    let copy = folder.path().join("copy.ledger");
    let original = Ledger::open(&file).unwrap();
    original.backup(&copy).unwrap();
    let text = |ledger: &Ledger| {
        let mut text = Vec::new();
        ledger.export_json(&mut text).unwrap();
        text
    };
    let copied = Ledger::open(&copy).unwrap();
    assert_eq!(text(&copied), text(&original));
    assert_eq!(copied.id(), original.id());
    let error = original.backup(&copy).unwrap_err();
    assert!(matches!(error, LedgerError::File { .. }), "{error}");
    assert_eq!(Ledger::open(&copy).unwrap().check().unwrap(), []);
    let nowhere = folder.path().join("no folder").join("copy.ledger");
    assert!(matches!(original.backup(&nowhere), Err(LedgerError::File { .. })));
}

#[test]
fn a_newer_ledger_is_refused_and_not_touched() {
    let folder = tempfile::tempdir().unwrap();
    let file = evening(folder.path());
    let database = Connection::open(&file).unwrap();
    database.pragma_update(None, "user_version", 9).unwrap();
    drop(database);
    let before = fs::read(&file).unwrap();
    for _ in 0..2 {
        let error = Ledger::open(&file).unwrap_err();
        assert!(matches!(error, LedgerError::Newer { found: 9, known: 1 }), "{error}");
        let mut here = Ledger::in_memory(Some(1)).unwrap();
        assert!(matches!(here.merge(&file), Err(LedgerError::Newer { .. })));
        assert_eq!(fs::read(&file).unwrap(), before);
    }
}

#[test]
fn what_is_no_ledger_is_refused_and_not_touched() {
    let folder = tempfile::tempdir().unwrap();
    let text = folder.path().join("notes.txt");
    fs::write(&text, "a shopping list that is long enough to be taken for a header. ".repeat(20))
        .unwrap();
    let foreign = folder.path().join("foreign.sqlite");
    Connection::open(&foreign).unwrap().execute_batch("CREATE TABLE lot (x)").unwrap();
    for file in [text, foreign] {
        let before = fs::read(&file).unwrap();
        let error = Ledger::open(&file).unwrap_err();
        assert!(matches!(error, LedgerError::NotALedger { .. }), "{error}");
        assert_eq!(fs::read(&file).unwrap(), before);
    }
    let error = Ledger::open(&folder.path().join("no folder").join("a.ledger")).unwrap_err();
    assert!(matches!(error, LedgerError::Open { .. }), "{error}");
    // An empty file is taken: it is what a killed process leaves that was about to begin.
    let empty = folder.path().join("empty.ledger");
    fs::write(&empty, "").unwrap();
    assert_eq!(Ledger::open(&empty).unwrap().report(&Selection::default()).unwrap().insertions, 0);
    // To merge is to read: nothing is made.
    let missing = folder.path().join("missing.ledger");
    assert!(Ledger::in_memory(Some(1)).unwrap().merge(&missing).is_err());
    assert!(!missing.exists());
}
