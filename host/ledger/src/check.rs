//! Whether a ledger is whole and keeps its own rules.

use crate::schema::STEPS;
use crate::{Ledger, LedgerError};
use rusqlite::Connection;
use std::fmt;

/// Something that is not as it should be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// The rule that is broken.
    pub rule: &'static str,
    /// Where.
    pub detail: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.rule, self.detail)
    }
}

/// Rules that no single row can break, and queries for the rows that do. Rows could come to
/// break them only past this crate, with the triggers switched off.
const RULES: [(&str, &str); 4] = [
    ("the ledger has one id", "SELECT count(*) || ' ids' FROM ledger HAVING count(*) <> 1"),
    (
        "a repeated insertion names a first one of the same lot",
        "SELECT 'insertion ' || later.key FROM insertion AS later
         JOIN insertion AS earlier ON earlier.key = later.first
         WHERE earlier.first IS NOT NULL OR earlier.lot <> later.lot
             OR earlier.sequence >= later.sequence",
    ),
    (
        "a good chip has no failing pin",
        "SELECT 'insertion ' || insertion.key FROM failing_pin CROSS JOIN insertion
         ON insertion.key = failing_pin.insertion WHERE insertion.verdict = 'go'
         GROUP BY insertion.key",
    ),
    (
        "a week is 1 to 53",
        "SELECT 'insertion ' || key FROM insertion
         WHERE date_code IS NOT NULL AND substr(date_code, 7) NOT BETWEEN '01' AND '53'",
    ),
];

impl Ledger {
    /// Looks for damage and for broken rules; empty where all is well. Reads the whole file.
    pub fn check(&self) -> Result<Vec<Finding>, LedgerError> {
        let state = self.connection.unchecked_transaction()?;
        let mut findings = Vec::new();
        // Pages, indices, and every CHECK, NOT NULL and column type.
        let damage = list(&state, "PRAGMA integrity_check(100)")?;
        add(&mut findings, "the file is whole", damage.into_iter().filter(|line| line != "ok"));
        let dangling = "SELECT \"table\" || ' row ' || coalesce(rowid, '?') || ' to ' || parent
             FROM pragma_foreign_key_check LIMIT 100";
        add(&mut findings, "references lead somewhere", list(&state, dangling)?);
        add(&mut findings, "the schema is as made", schema_differences(&state)?);
        for (rule, query) in RULES {
            add(&mut findings, rule, list(&state, &format!("{query} LIMIT 100"))?);
        }
        Ok(findings)
    }
}

fn add(findings: &mut Vec<Finding>, rule: &'static str, details: impl IntoIterator<Item = String>) {
    findings.extend(details.into_iter().map(|detail| Finding { rule, detail }));
}

fn list(connection: &Connection, query: &str) -> Result<Vec<String>, LedgerError> {
    let mut statement = connection.prepare(query)?;
    let lines = statement.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
    Ok(lines)
}

/// What is missing from, changed in or added to the schema; above all the triggers.
fn schema_differences(connection: &Connection) -> Result<Vec<String>, LedgerError> {
    const OBJECTS: &str = "SELECT type || ' ' || name || char(10) || sql FROM sqlite_schema
        WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY 1";
    let fresh = Connection::open_in_memory()?;
    for step in STEPS {
        fresh.execute_batch(step)?;
    }
    let (expected, found) = (list(&fresh, OBJECTS)?, list(connection, OBJECTS)?);
    let name = |object: &String| object.lines().next().unwrap_or_default().to_owned();
    let missing = expected.iter().filter(|object| !found.contains(object));
    let added = found.iter().filter(|object| !expected.contains(object));
    Ok(missing
        .map(|object| format!("{} is missing or changed", name(object)))
        .chain(added.map(|object| format!("{} is not the program's", name(object))))
        .collect())
}
