//! Adding records.

use crate::{Id, Insertion, Ledger, LedgerError, Lot, Remark, Selftest, Stored, Subject, Undo};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

impl Ledger {
    /// Begins a lot. Its name stands on labels and in their symbols: it is one line.
    pub fn add_lot(&mut self, lot: &Lot) -> Result<Id, LedgerError> {
        let name = &lot.name;
        let fits = (1..=100).contains(&name.chars().count()) && name.trim() == name;
        if !fits || name.chars().any(char::is_control) {
            return Err(LedgerError::LotName(name.clone()));
        }
        if self.lot(&lot.name)?.is_some() {
            return Err(LedgerError::LotExists(lot.name.clone()));
        }
        self.add("lot", lot, lot.at, insert_lot)
    }

    /// Records an insertion. Its time is kept to the microsecond.
    pub fn record(&mut self, insertion: &Insertion) -> Result<Id, LedgerError> {
        self.add("insertion", insertion, insertion.at, insert_insertion)
    }

    /// Records that an insertion does not count. The insertion itself stays.
    pub fn undo(&mut self, undo: &Undo) -> Result<Id, LedgerError> {
        self.add("undo", undo, undo.at, |connection, stored| {
            let key = insertion_key(connection, stored.entry.insertion)?;
            let before: bool = connection.query_row(
                "SELECT EXISTS (SELECT 1 FROM undo WHERE insertion = ?1)",
                [key],
                |row| row.get(0),
            )?;
            if before {
                return Err(LedgerError::AlreadyUndone(stored.entry.insertion));
            }
            insert_undo(connection, stored)
        })
    }

    /// Undoes the last insertion of a lot that counts, whichever process has recorded it; says
    /// which it was.
    pub fn undo_last(
        &mut self,
        lot: &str,
        at: Timestamp,
        reason: Option<&str>,
    ) -> Result<Id, LedgerError> {
        let key = lot_key(&self.connection, lot)?;
        let last = self
            .connection
            .query_row(
                "SELECT id FROM insertion WHERE lot = ?1
                 AND key NOT IN (SELECT insertion FROM undo)
                 ORDER BY sequence DESC, id DESC LIMIT 1",
                [key],
                |row| Ok(Id::from_bytes(row.get(0)?)),
            )
            .optional()?
            .ok_or_else(|| LedgerError::NothingToUndo(lot.into()))?;
        self.undo(&Undo { at, insertion: last, reason: reason.map(Into::into) })?;
        Ok(last)
    }

    /// Adds a note or a picture's path to a lot or an insertion.
    pub fn add_remark(&mut self, remark: &Remark) -> Result<Id, LedgerError> {
        self.add("remark", remark, remark.at, insert_remark)
    }

    /// Records a tester's own check.
    pub fn add_selftest(&mut self, selftest: &Selftest) -> Result<Id, LedgerError> {
        self.add("selftest", selftest, selftest.at, insert_selftest)
    }

    /// One record, one transaction.
    fn add<T: Clone>(
        &mut self,
        table: &str,
        entry: &T,
        at: Timestamp,
        insert: impl FnOnce(&Connection, &Stored<T>) -> Result<(), LedgerError>,
    ) -> Result<Id, LedgerError> {
        let ledger = self.id();
        let transaction =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        // A seeded source that is used twice for one file draws the same ids again.
        let id = loop {
            let id = self.ids.next(Some(ledger), at);
            if key_of(&transaction, table, id)?.is_none() {
                break id;
            }
        };
        let sequence: i64 = transaction
            .prepare_cached(&format!("SELECT coalesce(max(sequence), 0) + 1 FROM {table}"))?
            .query_row([], |row| row.get(0))?;
        let sequence = sequence.cast_unsigned();
        insert(&transaction, &Stored { id, ledger, sequence, entry: entry.clone() })?;
        transaction.commit()?;
        Ok(id)
    }
}

/// The row of a record.
pub(crate) fn key_of(
    connection: &Connection,
    table: &str,
    id: Id,
) -> Result<Option<i64>, rusqlite::Error> {
    connection
        .prepare_cached(&format!("SELECT key FROM {table} WHERE id = ?1"))?
        .query_row([id.bytes()], |row| row.get(0))
        .optional()
}

pub(crate) fn lot_key(connection: &Connection, name: &str) -> Result<i64, LedgerError> {
    connection
        .prepare_cached("SELECT key FROM lot WHERE name = ?1")?
        .query_row([name], |row| row.get(0))
        .optional()?
        .ok_or_else(|| LedgerError::UnknownLot(name.into()))
}

fn insertion_key(connection: &Connection, id: Id) -> Result<i64, LedgerError> {
    key_of(connection, "insertion", id)?.ok_or(LedgerError::UnknownInsertion(id))
}

fn tester_key(connection: &Connection, tester: &crate::Tester) -> Result<i64, LedgerError> {
    let row = (&tester.name, tester.nature.word(), &tester.firmware);
    let mut find = connection.prepare_cached(
        "SELECT key FROM tester WHERE name = ?1 AND nature = ?2 AND firmware = ?3",
    )?;
    if let Some(key) = find.query_row(row, |row| row.get(0)).optional()? {
        return Ok(key);
    }
    connection
        .prepare_cached("INSERT INTO tester (name, nature, firmware) VALUES (?1, ?2, ?3)")?
        .execute(row)?;
    Ok(connection.last_insert_rowid())
}

fn type_key(connection: &Connection, chip: &crate::Type) -> Result<i64, LedgerError> {
    let row = (&chip.name, &chip.part, &chip.family, &chip.package);
    let mut find = connection.prepare_cached(
        "SELECT key FROM type WHERE name = ?1 AND part = ?2 AND family = ?3 AND package = ?4",
    )?;
    if let Some(key) = find.query_row(row, |row| row.get(0)).optional()? {
        return Ok(key);
    }
    connection
        .prepare_cached("INSERT INTO type (name, part, family, package) VALUES (?1, ?2, ?3, ?4)")?
        .execute(row)?;
    Ok(connection.last_insert_rowid())
}

pub(crate) fn insert_lot(connection: &Connection, lot: &Stored<Lot>) -> Result<(), LedgerError> {
    connection
        .prepare_cached(
            "INSERT INTO lot (id, ledger, sequence, at_us, name, description)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .execute(params![
            lot.id.bytes(),
            lot.ledger.bytes(),
            lot.sequence.cast_signed(),
            lot.entry.at.as_microsecond(),
            lot.entry.name,
            lot.entry.description,
        ])?;
    Ok(())
}

pub(crate) fn insert_insertion(
    connection: &Connection,
    stored: &Stored<Insertion>,
) -> Result<(), LedgerError> {
    let insertion = &stored.entry;
    let lot = lot_key(connection, &insertion.lot)?;
    let first = insertion.retest_of.map(|id| first_of(connection, id, lot)).transpose()?;
    connection
        .prepare_cached(
            "INSERT INTO insertion (id, ledger, sequence, at_us, lot, type, tester, first, marking,
                 date_code, program_hash, verdict, reason, explanation, supply_mv, steps, failures,
                 speed_grade, memory_map, note)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17,
                 ?18, ?19, ?20)",
        )?
        .execute(params![
            stored.id.bytes(),
            stored.ledger.bytes(),
            stored.sequence.cast_signed(),
            insertion.at.as_microsecond(),
            lot,
            type_key(connection, &insertion.chip)?,
            tester_key(connection, &insertion.tester)?,
            first,
            insertion.marking,
            insertion.date_code.map(|code| code.to_string()),
            insertion.program_hash.as_ref().map(|hash| &hash.0),
            insertion.verdict.word(),
            insertion.reason,
            insertion.explanation,
            insertion.supply_mv,
            insertion.steps,
            insertion.failures,
            insertion.speed_grade,
            insertion.memory_map.as_ref().map(|map| &map.0),
            insertion.note,
        ])?;
    let key = connection.last_insert_rowid();
    let mut add_pin = connection.prepare_cached(
        "INSERT INTO failing_pin (insertion, pin, name, low, high, held, open)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?;
    for pin in &insertion.failing_pins {
        add_pin.execute(params![key, pin.pin, pin.name, pin.low, pin.high, pin.held, pin.open])?;
    }
    let mut add_current = connection.prepare_cached(
        "INSERT INTO current (insertion, what, microamperes) VALUES (?1, ?2, ?3)",
    )?;
    for current in &insertion.currents {
        add_current.execute(params![key, current.what, current.microamperes])?;
    }
    Ok(())
}

/// The first insertion of the chip that was inserted then.
fn first_of(connection: &Connection, id: Id, lot: i64) -> Result<i64, LedgerError> {
    let (key, its_lot): (i64, i64) = connection
        .prepare_cached("SELECT coalesce(first, key), lot FROM insertion WHERE id = ?1")?
        .query_row([id.bytes()], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?
        .ok_or(LedgerError::UnknownInsertion(id))?;
    if its_lot != lot {
        return Err(LedgerError::OtherLot(id));
    }
    Ok(key)
}

pub(crate) fn insert_undo(connection: &Connection, undo: &Stored<Undo>) -> Result<(), LedgerError> {
    let insertion = insertion_key(connection, undo.entry.insertion)?;
    connection
        .prepare_cached(
            "INSERT INTO undo (id, ledger, sequence, at_us, insertion, reason)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .execute(params![
            undo.id.bytes(),
            undo.ledger.bytes(),
            undo.sequence.cast_signed(),
            undo.entry.at.as_microsecond(),
            insertion,
            undo.entry.reason,
        ])?;
    Ok(())
}

pub(crate) fn insert_remark(
    connection: &Connection,
    remark: &Stored<Remark>,
) -> Result<(), LedgerError> {
    let (lot, insertion) = match &remark.entry.about {
        Subject::Lot(name) => (Some(lot_key(connection, name)?), None),
        Subject::Insertion(id) => (None, Some(insertion_key(connection, *id)?)),
    };
    connection
        .prepare_cached(
            "INSERT INTO remark (id, ledger, sequence, at_us, lot, insertion, kind, text)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )?
        .execute(params![
            remark.id.bytes(),
            remark.ledger.bytes(),
            remark.sequence.cast_signed(),
            remark.entry.at.as_microsecond(),
            lot,
            insertion,
            remark.entry.kind.word(),
            remark.entry.text,
        ])?;
    Ok(())
}

pub(crate) fn insert_selftest(
    connection: &Connection,
    selftest: &Stored<Selftest>,
) -> Result<(), LedgerError> {
    let tester = tester_key(connection, &selftest.entry.tester)?;
    let lines = serde_json::Value::from(selftest.entry.lines.clone()).to_string();
    connection
        .prepare_cached(
            "INSERT INTO selftest (id, ledger, sequence, at_us, tester, passed, lines)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        )?
        .execute(params![
            selftest.id.bytes(),
            selftest.ledger.bytes(),
            selftest.sequence.cast_signed(),
            selftest.entry.at.as_microsecond(),
            tester,
            selftest.entry.passed,
            lines,
        ])?;
    Ok(())
}
