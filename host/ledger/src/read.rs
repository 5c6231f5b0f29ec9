//! Reading records.

use crate::write::lot_key;
use crate::{
    Current, FailingPin, Hex, Id, Insertion, Ledger, LedgerError, Lot, Record, Remark, Selftest,
    Stored, Subject, Tester, Type, Undo,
};
use jiff::Timestamp;
use rusqlite::types::Type as SqlType;
use rusqlite::{Connection, OptionalExtension, Row};
use std::str::FromStr;

const LOT: &str = "SELECT id, ledger, sequence, at_us, name, description FROM lot";
const INSERTION: &str = "SELECT i.id, i.ledger, i.sequence, i.at_us, lot.name, i.marking,
    type.name, type.part, type.family, type.package, i.date_code,
    tester.name, tester.nature, tester.firmware, i.program_hash, i.verdict, i.reason,
    i.explanation, i.supply_mv, i.steps, i.failures, i.speed_grade, i.memory_map, i.note,
    (SELECT id FROM insertion AS earlier WHERE earlier.key = i.first), i.key
    FROM insertion AS i JOIN lot ON lot.key = i.lot JOIN type ON type.key = i.type
    JOIN tester ON tester.key = i.tester";
const UNDO: &str = "SELECT u.id, u.ledger, u.sequence, u.at_us, i.id, u.reason
    FROM undo AS u JOIN insertion AS i ON i.key = u.insertion";
const REMARK: &str = "SELECT r.id, r.ledger, r.sequence, r.at_us, lot.name, i.id, r.kind, r.text
    FROM remark AS r LEFT JOIN lot ON lot.key = r.lot LEFT JOIN insertion AS i ON i.key = r.insertion";
const SELFTEST: &str = "SELECT s.id, s.ledger, s.sequence, s.at_us, t.name, t.nature, t.firmware,
    s.passed, s.lines FROM selftest AS s JOIN tester AS t ON t.key = s.tester";

/// Which insertions that count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Of good chips.
    Good,
    /// Of all others.
    NotGood,
    /// Of memories with a failure map.
    Mapped,
}

impl Ledger {
    /// All lots, in the order of their names.
    pub fn lots(&self) -> Result<Vec<Stored<Lot>>, LedgerError> {
        let mut statement = self.connection.prepare(&format!("{LOT} ORDER BY name"))?;
        let lots = statement.query_map([], lot)?.collect::<Result<_, _>>()?;
        Ok(lots)
    }

    /// The lot of this name, without regard to the case of ASCII letters.
    pub fn lot(&self, name: &str) -> Result<Option<Stored<Lot>>, LedgerError> {
        let mut statement = self.connection.prepare_cached(&format!("{LOT} WHERE name = ?1"))?;
        Ok(statement.query_row([name], lot).optional()?)
    }

    /// The last insertions of a lot, undone ones included, the last first. For resuming.
    pub fn last_insertions(
        &self,
        lot: &str,
        most: u32,
    ) -> Result<Vec<Stored<Insertion>>, LedgerError> {
        let key = lot_key(&self.connection, lot)?;
        let mut statement = self.connection.prepare_cached(&format!(
            "{INSERTION} WHERE i.lot = ?1 ORDER BY i.sequence DESC, i.id DESC LIMIT ?2"
        ))?;
        let mut rows = statement.query((key, most))?;
        let mut last = Vec::new();
        while let Some(row) = rows.next()? {
            last.push(insertion(&self.connection, row)?);
        }
        Ok(last)
    }

    /// The last insertions of all lots, undone ones included, the last first.
    pub fn last_recorded(&self, most: u32) -> Result<Vec<Stored<Insertion>>, LedgerError> {
        let mut statement = self
            .connection
            .prepare_cached(&format!("{INSERTION} ORDER BY i.sequence DESC, i.id DESC LIMIT ?1"))?;
        let mut rows = statement.query([most])?;
        let mut last = Vec::new();
        while let Some(row) = rows.next()? {
            last.push(insertion(&self.connection, row)?);
        }
        Ok(last)
    }

    /// The first insertions of a lot that count, in the order of recording, at most so many.
    pub fn counted(
        &self,
        lot: &str,
        which: Which,
        most: u32,
    ) -> Result<Vec<Stored<Insertion>>, LedgerError> {
        let key = lot_key(&self.connection, lot)?;
        let select = INSERTION.replacen("FROM insertion AS i", "FROM counted AS i", 1);
        let which = match which {
            Which::Good => "i.verdict = 'go'",
            Which::NotGood => "i.verdict <> 'go'",
            Which::Mapped => "i.memory_map IS NOT NULL",
        };
        let mut statement = self.connection.prepare_cached(&format!(
            "{select} WHERE i.lot = ?1 AND {which} ORDER BY i.sequence LIMIT ?2"
        ))?;
        let mut rows = statement.query((key, most))?;
        let mut counted = Vec::new();
        while let Some(row) = rows.next()? {
            counted.push(insertion(&self.connection, row)?);
        }
        Ok(counted)
    }

    /// Passes each insertion of a lot that counts to `each`, in the order of recording.
    pub fn for_each_counted(
        &self,
        lot: &str,
        mut each: impl FnMut(Stored<Insertion>),
    ) -> Result<(), LedgerError> {
        let key = lot_key(&self.connection, lot)?;
        let counted = INSERTION.replacen("FROM insertion AS i", "FROM counted AS i", 1);
        let mut statement = self
            .connection
            .prepare(&format!("{counted} WHERE i.lot = ?1 ORDER BY i.sequence, i.id"))?;
        let mut rows = statement.query([key])?;
        while let Some(row) = rows.next()? {
            each(insertion(&self.connection, row)?);
        }
        Ok(())
    }

    /// An insertion by its id.
    pub fn insertion(&self, id: Id) -> Result<Option<Stored<Insertion>>, LedgerError> {
        let mut statement =
            self.connection.prepare_cached(&format!("{INSERTION} WHERE i.id = ?1"))?;
        let mut rows = statement.query([id.bytes()])?;
        let found = rows.next()?.map(|row| insertion(&self.connection, row)).transpose()?;
        Ok(found)
    }

    /// The remarks about a lot and about its insertions, in the order of recording.
    pub fn remarks(&self, lot: &str) -> Result<Vec<Stored<Remark>>, LedgerError> {
        let key = lot_key(&self.connection, lot)?;
        let mut statement = self.connection.prepare_cached(&format!(
            "{REMARK} WHERE r.lot = ?1 OR i.lot = ?1 ORDER BY r.sequence, r.id"
        ))?;
        let remarks = statement.query_map([key], remark)?.collect::<Result<_, _>>()?;
        Ok(remarks)
    }

    /// The last self-test of the tester of this name, not older than `since`. The start of the
    /// day is the caller's to know: it depends on where the bench stands.
    pub fn last_selftest(
        &self,
        tester: &str,
        since: Timestamp,
    ) -> Result<Option<Stored<Selftest>>, LedgerError> {
        let mut statement = self.connection.prepare_cached(&format!(
            "{SELFTEST} WHERE t.name = ?1 AND s.at_us >= ?2 ORDER BY s.at_us DESC, s.sequence DESC LIMIT 1"
        ))?;
        Ok(statement.query_row((tester, since.as_microsecond()), selftest).optional()?)
    }

    /// Passes every record to `each`, what a record refers to before it. One consistent state,
    /// whatever other processes write meanwhile.
    pub fn for_each_record<E: From<LedgerError>>(
        &self,
        each: impl FnMut(Record) -> Result<(), E>,
    ) -> Result<(), E> {
        let own = |error: rusqlite::Error| E::from(LedgerError::from(error));
        // Ends with its drop: nothing was written.
        let state = self.connection.unchecked_transaction().map_err(own)?;
        all_records(&state, each)
    }
}

fn all_records<E: From<LedgerError>>(
    connection: &Connection,
    mut each: impl FnMut(Record) -> Result<(), E>,
) -> Result<(), E> {
    type Read = fn(&Connection, &Row<'_>) -> Result<Record, rusqlite::Error>;
    let kinds: [(String, Read); 5] = [
        (format!("{LOT} ORDER BY key"), |_, row| Ok(Record::Lot(lot(row)?))),
        (format!("{INSERTION} ORDER BY i.key"), |connection, row| {
            Ok(Record::Insertion(Box::new(insertion(connection, row)?)))
        }),
        (format!("{UNDO} ORDER BY u.key"), |_, row| Ok(Record::Undo(undo(row)?))),
        (format!("{REMARK} ORDER BY r.key"), |_, row| Ok(Record::Remark(remark(row)?))),
        (format!("{SELFTEST} ORDER BY s.key"), |_, row| Ok(Record::Selftest(selftest(row)?))),
    ];
    let own = |error: rusqlite::Error| E::from(LedgerError::from(error));
    for (select, read) in kinds {
        let mut statement = connection.prepare(&select).map_err(own)?;
        let mut rows = statement.query([]).map_err(own)?;
        while let Some(row) = rows.next().map_err(own)? {
            each(read(connection, row).map_err(own)?)?;
        }
    }
    Ok(())
}

/// The record of an id, to compare with one that is to be merged.
pub(crate) fn same_id(
    connection: &Connection,
    record: &Record,
) -> Result<Option<Record>, LedgerError> {
    let (select, id) = match record {
        Record::Lot(lot) => (format!("{LOT} WHERE id = ?1"), lot.id),
        Record::Insertion(insertion) => (format!("{INSERTION} WHERE i.id = ?1"), insertion.id),
        Record::Undo(undo) => (format!("{UNDO} WHERE u.id = ?1"), undo.id),
        Record::Remark(remark) => (format!("{REMARK} WHERE r.id = ?1"), remark.id),
        Record::Selftest(selftest) => (format!("{SELFTEST} WHERE s.id = ?1"), selftest.id),
    };
    let mut statement = connection.prepare_cached(&select)?;
    let mut rows = statement.query([id.bytes()])?;
    let Some(row) = rows.next()? else { return Ok(None) };
    Ok(Some(match record {
        Record::Lot(_) => Record::Lot(lot(row)?),
        Record::Insertion(_) => Record::Insertion(Box::new(insertion(connection, row)?)),
        Record::Undo(_) => Record::Undo(undo(row)?),
        Record::Remark(_) => Record::Remark(remark(row)?),
        Record::Selftest(_) => Record::Selftest(selftest(row)?),
    }))
}

fn damaged<E: std::error::Error + Send + Sync + 'static>(
    column: usize,
    error: E,
) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, SqlType::Text, Box::new(error))
}

pub(crate) fn word<T: FromStr<Err: std::error::Error + Send + Sync + 'static>>(
    row: &Row<'_>,
    column: usize,
) -> Result<T, rusqlite::Error> {
    row.get_ref(column)?.as_str()?.parse().map_err(|error| damaged(column, error))
}

pub(crate) fn time(row: &Row<'_>, column: usize) -> Result<Timestamp, rusqlite::Error> {
    Timestamp::from_microsecond(row.get(column)?).map_err(|error| damaged(column, error))
}

fn id(row: &Row<'_>, column: usize) -> Result<Id, rusqlite::Error> {
    row.get(column).map(Id::from_bytes)
}

fn stored<T>(row: &Row<'_>, entry: T) -> Result<Stored<T>, rusqlite::Error> {
    let sequence = row.get::<_, i64>(2)?.cast_unsigned();
    Ok(Stored { id: id(row, 0)?, ledger: id(row, 1)?, sequence, entry })
}

fn lot(row: &Row<'_>) -> Result<Stored<Lot>, rusqlite::Error> {
    stored(row, Lot { at: time(row, 3)?, name: row.get(4)?, description: row.get(5)? })
}

pub(crate) fn tester(row: &Row<'_>, column: usize) -> Result<Tester, rusqlite::Error> {
    Ok(Tester {
        name: row.get(column)?,
        nature: word(row, column + 1)?,
        firmware: row.get(column + 2)?,
    })
}

fn insertion(connection: &Connection, row: &Row<'_>) -> Result<Stored<Insertion>, rusqlite::Error> {
    let key: i64 = row.get(25)?;
    let mut pins = connection.prepare_cached(
        "SELECT pin, name, low, high, held, open FROM failing_pin WHERE insertion = ?1
         ORDER BY pin",
    )?;
    let failing_pins = pins
        .query_map([key], |row| {
            Ok(FailingPin {
                pin: row.get(0)?,
                name: row.get(1)?,
                low: row.get(2)?,
                high: row.get(3)?,
                held: row.get(4)?,
                open: row.get(5)?,
            })
        })?
        .collect::<Result<_, _>>()?;
    let mut currents = connection.prepare_cached(
        "SELECT what, microamperes FROM current WHERE insertion = ?1 ORDER BY what",
    )?;
    let currents = currents
        .query_map([key], |row| Ok(Current { what: row.get(0)?, microamperes: row.get(1)? }))?
        .collect::<Result<_, _>>()?;
    let date_code = match row.get_ref(10)? {
        rusqlite::types::ValueRef::Null => None,
        _ => Some(word(row, 10)?),
    };
    stored(
        row,
        Insertion {
            at: time(row, 3)?,
            lot: row.get(4)?,
            marking: row.get(5)?,
            chip: Type {
                name: row.get(6)?,
                part: row.get(7)?,
                family: row.get(8)?,
                package: row.get(9)?,
            },
            date_code,
            tester: tester(row, 11)?,
            program_hash: row.get::<_, Option<Vec<u8>>>(14)?.map(Hex),
            verdict: word(row, 15)?,
            reason: row.get(16)?,
            explanation: row.get(17)?,
            failing_pins,
            supply_mv: row.get(18)?,
            currents,
            steps: row.get(19)?,
            failures: row.get(20)?,
            speed_grade: row.get(21)?,
            memory_map: row.get::<_, Option<Vec<u8>>>(22)?.map(Hex),
            note: row.get(23)?,
            retest_of: row.get::<_, Option<[u8; 16]>>(24)?.map(Id::from_bytes),
        },
    )
}

fn undo(row: &Row<'_>) -> Result<Stored<Undo>, rusqlite::Error> {
    stored(row, Undo { at: time(row, 3)?, insertion: id(row, 4)?, reason: row.get(5)? })
}

fn remark(row: &Row<'_>) -> Result<Stored<Remark>, rusqlite::Error> {
    let about = match row.get::<_, Option<String>>(4)? {
        Some(name) => Subject::Lot(name),
        None => Subject::Insertion(id(row, 5)?),
    };
    stored(row, Remark { at: time(row, 3)?, about, kind: word(row, 6)?, text: row.get(7)? })
}

fn selftest(row: &Row<'_>) -> Result<Stored<Selftest>, rusqlite::Error> {
    let lines =
        serde_json::from_str(row.get_ref(8)?.as_str()?).map_err(|error| damaged(8, error))?;
    let (at, tester) = (time(row, 3)?, tester(row, 4)?);
    stored(row, Selftest { at, tester, passed: row.get(7)?, lines })
}
