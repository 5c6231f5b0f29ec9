//! Taking over the records of another ledger.

use crate::read::same_id;
use crate::write::{insert_insertion, insert_lot, insert_remark, insert_selftest, insert_undo};
use crate::{Ledger, LedgerError, Record, Subject};
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use std::path::Path;

/// What a merge or an import has brought.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Merged {
    /// Lots that were new.
    pub lots: u64,
    /// Lots of the other ledger that have a namesake here and were joined with it. Whoever has two
    /// different bags of one name should know.
    pub joined: Vec<String>,
    /// Insertions that were new.
    pub insertions: u64,
    /// Undone insertions that were new.
    pub undone: u64,
    /// Notes and pictures that were new.
    pub remarks: u64,
    /// Self-tests that were new.
    pub selftests: u64,
    /// Records that were here before.
    pub known: u64,
}

impl Ledger {
    /// Takes over every record of another ledger that is not here yet, all or none. The other
    /// file is only read. Doing it twice changes nothing.
    pub fn merge(&mut self, other: &Path) -> Result<Merged, LedgerError> {
        let other = Self::open_to_read(other)?;
        self.take_over(|add| other.for_each_record(add))
    }

    /// Runs `source`, which passes records on, in one transaction.
    pub(crate) fn take_over(
        &mut self,
        source: impl FnOnce(
            &mut dyn FnMut(Record) -> Result<(), LedgerError>,
        ) -> Result<(), LedgerError>,
    ) -> Result<Merged, LedgerError> {
        let transaction =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let mut merged = Merged::default();
        source(&mut |record| merged.add(&transaction, record))?;
        transaction.commit()?;
        Ok(merged)
    }
}

impl Merged {
    fn add(&mut self, connection: &Connection, mut record: Record) -> Result<(), LedgerError> {
        rename_lot(connection, &mut record)?;
        if let Some(here) = same_id(connection, &record)? {
            if here != record {
                return Err(LedgerError::Differs(record.id()));
            }
            self.known += 1;
            return Ok(());
        }
        match &record {
            Record::Lot(lot) => {
                if lot_here(connection, &lot.entry.name)?.is_some() {
                    self.joined.push(lot.entry.name.clone());
                } else {
                    insert_lot(connection, lot)?;
                    self.lots += 1;
                }
            }
            Record::Insertion(insertion) => {
                insert_insertion(connection, insertion)?;
                self.insertions += 1;
            }
            Record::Undo(undo) => {
                insert_undo(connection, undo)?;
                self.undone += 1;
            }
            Record::Remark(remark) => {
                insert_remark(connection, remark)?;
                self.remarks += 1;
            }
            Record::Selftest(selftest) => {
                insert_selftest(connection, selftest)?;
                self.selftests += 1;
            }
        }
        Ok(())
    }
}

/// The name of a lot as it is written here.
fn lot_here(connection: &Connection, name: &str) -> Result<Option<String>, LedgerError> {
    let mut statement = connection.prepare_cached("SELECT name FROM lot WHERE name = ?1")?;
    Ok(statement.query_row([name], |row| row.get(0)).optional()?)
}

/// Records name their lots; a namesake may be spelled with other capitals here.
fn rename_lot(connection: &Connection, record: &mut Record) -> Result<(), LedgerError> {
    let name = match record {
        Record::Insertion(insertion) => &mut insertion.entry.lot,
        Record::Remark(remark) => match &mut remark.entry.about {
            Subject::Lot(name) => name,
            Subject::Insertion(_) => return Ok(()),
        },
        Record::Lot(_) | Record::Undo(_) | Record::Selftest(_) => return Ok(()),
    };
    if let Some(here) = lot_here(connection, name)? {
        *name = here;
    }
    Ok(())
}
