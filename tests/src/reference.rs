//! All that a part is held against.

use crate::bench::Bench;
use crate::table::{Table, read};
use crate::{Check, arithmetic};
use dipsift_language::{Network, Part};
use std::sync::{Arc, OnceLock};

/// The function tables, by file.
const FILES: &[(&str, &str)] = &[
    ("gates.txt", include_str!("../reference/gates.txt")),
    ("decoders.txt", include_str!("../reference/decoders.txt")),
    ("selectors.txt", include_str!("../reference/selectors.txt")),
    ("flip-flops.txt", include_str!("../reference/flip-flops.txt")),
    ("latches.txt", include_str!("../reference/latches.txt")),
    ("counters.txt", include_str!("../reference/counters.txt")),
    ("shift-registers.txt", include_str!("../reference/shift-registers.txt")),
    ("bus-drivers.txt", include_str!("../reference/bus-drivers.txt")),
    ("arithmetic.txt", include_str!("../reference/arithmetic.txt")),
];

/// Every function table.
pub fn tables() -> Result<&'static [Table], String> {
    static TABLES: OnceLock<Result<Vec<Table>, String>> = OnceLock::new();
    TABLES
        .get_or_init(|| {
            let files: Result<Vec<_>, _> =
                FILES.iter().map(|(file, text)| read(file, text)).collect();
            Ok(files?.into_iter().flatten().collect())
        })
        .as_deref()
        .map_err(Clone::clone)
}

/// The function tables of a part against a network that claims to behave like it.
pub fn check_tables(part: &Arc<Part>, network: &Arc<Network>) -> Check {
    let fresh = Bench::with(part, network)?;
    let mut found = false;
    for table in tables()?.iter().filter(|table| table.part == part.number) {
        found = true;
        table.check(&fresh)?;
    }
    if found { Ok(()) } else { Err(format!("{}: no function table", part.number)) }
}

/// Everything about a part against a network that claims to behave like it.
pub fn check(part: &Arc<Part>, network: &Arc<Network>) -> Check {
    check_tables(part, network)?;
    match arithmetic::of(&part.number) {
        Some(check) => check(&Bench::with(part, network)?),
        None => Ok(()),
    }
}
