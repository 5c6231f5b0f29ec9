//! The ledger of a bench: lots, insertions and what was said about them, in one SQLite file.
//!
//! - Records are only ever added; the database itself refuses to change or delete one. A
//!   correction is a later record ([`Ledger::undo`], a repeated insertion, a remark).
//! - Each record is one transaction, on the disk when the call returns: a killed process or a
//!   lost supply costs the insertion in progress at most.
//! - Several processes may write to one file. It must not lie on a network share.
//! - Ids and sequence numbers let ledgers of several benches merge without doubles
//!   ([`Ledger::merge`]); an export holds everything and can be read back.
//! - What counts is one insertion for each chip: the last that was not undone.
//!
//! ```
//! # use dipsift_ledger::{Ledger, Lot, Selection};
//! # fn main() -> Result<(), dipsift_ledger::LedgerError> {
//! let mut ledger = Ledger::in_memory(Some(1))?;
//! let at = "2026-11-25T19:00:00Z".parse().unwrap();
//! ledger.add_lot(&Lot { at, name: "cabinet 3".into(), description: None })?;
//! let report = ledger.report(&Selection::lot("cabinet 3"))?;
//! assert_eq!(report.chips().total(), 0);
//! # Ok(())
//! # }
//! ```

mod backup;
mod check;
mod csv_form;
mod error;
mod hex;
mod id;
mod json_form;
mod memory_map;
mod merge;
mod model;
mod open;
mod read;
mod report;
mod schema;
mod write;

pub use check::Finding;
pub use error::LedgerError;
pub use hex::{Hex, NotHex};
pub use id::Id;
pub use memory_map::{MapError, MemoryMap};
pub use merge::Merged;
pub use model::{
    Current, DateCode, FailingPin, Insertion, Lot, Nature, Record, Remark, RemarkKind, Selftest,
    Stored, Subject, Tester, Type, Undo, UnknownWord, Verdict,
};
pub use open::Ledger;
pub use read::Which;
pub use report::{
    Counts, Failure, LotReport, PinCount, Selection, SpeedCount, TesterCount, TypeCounts,
};
