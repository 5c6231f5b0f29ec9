//! Programs for a station to hold itself, so that chips are checked without a host.

mod program;
mod write;

pub use program::{StoredPhase, StoredProgram};
pub use write::{TooLarge, blob};

use crate::{Prepared, Refused, prepare};
use dipsift_language::{Family, Library, Part};
use dipsift_wire::Capabilities;
use std::sync::Arc;

/// The memories that the image marches without a host: those that are found most.
const STORED_MEMORIES: [&str; 9] =
    ["2102", "2114", "6116", "6264", "62256", "4164", "4416", "41256", "41464"];

/// The parts that the image holds: some memories, and every part of logic in the family that is found most, which is
/// LS where it was made, else standard TTL, else the 4000B series; and in standard TTL beside LS.
pub fn usual_stored(library: &Library) -> Vec<(Arc<Part>, Family)> {
    const FAMILIES: [Family; 3] = [Family::Ls, Family::Standard, Family::B];
    let memory = |part: &&Arc<Part>| {
        STORED_MEMORIES.contains(&part.number.as_str()) && part.memory.is_some()
    };
    let parts = library.iter().filter(|part| part.memory.is_none() || memory(part));
    parts
        .flat_map(|part| {
            let made: Vec<Family> =
                FAMILIES.into_iter().filter(|family| part.made.contains(family)).collect();
            let first = if made.is_empty() { part.made.first().copied() } else { None };
            made.into_iter().chain(first).map(|family| (Arc::clone(part), family))
        })
        .collect()
}

/// The stored program of a part on a station with these capabilities.
///
/// # Errors
///
/// The part cannot be checked there.
pub fn stored_program(
    part: &Arc<Part>,
    family: Family,
    capabilities: &Capabilities,
) -> Result<StoredProgram, Refused> {
    let prepared = prepare::prepare(part, family, capabilities)?;
    of_prepared(&prepared, capabilities)
}

/// The stored program of what is prepared already.
fn of_prepared(prepared: &Prepared, capabilities: &Capabilities) -> Result<StoredProgram, Refused> {
    StoredProgram::of(prepared, capabilities).map_err(|sentence| {
        Refused::because(
            &prepared.part.number,
            prepared.family.word(),
            prepared.name.clone(),
            sentence,
        )
    })
}
