//! Every part's function tables, typed from data sheets.

use dipsift_tests::bench::{library, part};
use dipsift_tests::reference::{check_tables, tables};
use dipsift_tests::{Check, PARTS};
use std::sync::Arc;

#[test]
fn every_part_follows_its_function_tables() -> Check {
    let mut wrong = String::new();
    for number in PARTS {
        let found =
            part(number).and_then(|part| check_tables(&part, &Arc::new(part.network.clone())));
        if let Err(what) = found {
            wrong += &format!("\n{number}: {what}");
        }
    }
    // A panic prints the lines as lines.
    assert!(wrong.is_empty(), "{wrong}");
    Ok(())
}

#[test]
fn every_table_belongs_to_a_part_and_names_its_source() -> Check {
    for table in tables()? {
        if !PARTS.contains(&table.part.as_str()) {
            return Err(format!("{}: a table for no part", table.part));
        }
        if table.source.len() < 8 {
            return Err(format!("{}: source {:?}", table.part, table.source));
        }
    }
    Ok(())
}

/// A part that joins the library brings its function tables. Memories have march tests instead.
#[test]
fn every_part_of_the_library_is_covered() {
    let without: Vec<&str> = library()
        .iter()
        .filter(|part| part.memory.is_none())
        .map(|part| part.number.as_str())
        .filter(|number| !PARTS.contains(number))
        .collect();
    assert!(without.is_empty(), "no function tables for {without:?}");
}
