//! Which program is armed: records, appended to one of two sectors.
//!
//! A record is a sequence number, a name and a CRC. The valid one with the highest number counts.
//! A sector that is full stays as it is while the other is erased and gets the next record, so
//! the record that counts is never in a sector that is being erased. A power cut at any time
//! leaves the record before or the one after, and what the cut has spoilt is not written over.

use crate::layout::NAME_BYTES;
use crate::memory::ERASED;
use crate::{CHECK, Memory, MemoryFault, Sector};
use heapless::String;

/// The words of a record: sequence number, name, CRC.
pub const RECORD_WORDS: usize = 2 + NAME_BYTES / 4;
/// How many places are tried in a sector that does not take a record.
const TRIES: usize = 4;

type Words = [u32; RECORD_WORDS];

struct Record {
    sector: Sector,
    sequence: u32,
    name: [u8; NAME_BYTES],
}

/// The name of the armed program; `None` where none is armed.
pub fn armed<M: Memory>(memory: &M) -> Option<String<NAME_BYTES>> {
    let record = latest(memory)?;
    let name = record.name.split(|&byte| byte == 0).next()?;
    let name = core::str::from_utf8(name).ok().filter(|name| !name.is_empty())?;
    String::try_from(name).ok()
}

/// Arms the program with this name, or none. Writes nothing where that is so already.
///
/// # Errors
///
/// The memory fails, or the name is empty or too long; what was armed before still is.
pub fn arm<M: Memory>(memory: &mut M, name: Option<&str>) -> Result<(), MemoryFault> {
    let mut wanted = [0; NAME_BYTES];
    if let Some(name) = name {
        let place = wanted.get_mut(..name.len()).filter(|place| !place.is_empty());
        // The lengths are equal.
        for (place, byte) in place.ok_or(MemoryFault)?.iter_mut().zip(name.bytes()) {
            *place = byte;
        }
    }
    let last = latest(memory);
    let (sector, sequence, before) = match &last {
        Some(record) => (record.sector, record.sequence, record.name),
        None => (Sector::First, 0, [0; NAME_BYTES]),
    };
    if wanted == before {
        return Ok(());
    }
    let words = words(sequence.checked_add(1).ok_or(MemoryFault)?, &wanted);
    if append(memory, sector, &words) {
        return Ok(());
    }
    // Full. Nothing that counts is in the other one.
    let other = sector.other();
    if !(0..memory.words()).all(|word| memory.read(other, word) == ERASED) {
        memory.erase(other)?;
    }
    if append(memory, other, &words) { Ok(()) } else { Err(MemoryFault) }
}

/// Writes a record behind all that was ever written to a sector, and reads it back.
fn append<M: Memory>(memory: &mut M, sector: Sector, words: &Words) -> bool {
    let slots = memory.words() / RECORD_WORDS;
    let blank = |slot: &usize| slot_words(memory, sector, *slot) == [ERASED; RECORD_WORDS];
    let used = slots - (0..slots).rev().take_while(blank).count();
    (used..slots).take(TRIES).any(|slot| {
        let place = slot * RECORD_WORDS;
        let programmed = words
            .iter()
            .zip(place..)
            .all(|(&value, word)| memory.program(sector, word, value).is_ok());
        programmed && slot_words(memory, sector, slot) == *words
    })
}

fn latest<M: Memory>(memory: &M) -> Option<Record> {
    let slots = memory.words() / RECORD_WORDS;
    let mut best: Option<Record> = None;
    for sector in [Sector::First, Sector::Second] {
        for slot in 0..slots {
            let [sequence, name @ .., crc] = slot_words(memory, sector, slot);
            if sequence == ERASED || best.as_ref().is_some_and(|best| best.sequence >= sequence) {
                continue;
            }
            let mut bytes = [0; NAME_BYTES];
            for (place, word) in bytes.chunks_exact_mut(4).zip(name) {
                for (place, byte) in place.iter_mut().zip(word.to_le_bytes()) {
                    *place = byte;
                }
            }
            if words(sequence, &bytes).last() == Some(&crc) {
                best = Some(Record { sector, sequence, name: bytes });
            }
        }
    }
    best
}

fn slot_words<M: Memory>(memory: &M, sector: Sector, slot: usize) -> Words {
    let place = slot * RECORD_WORDS;
    core::array::from_fn(|word| memory.read(sector, place + word))
}

/// A record's words.
fn words(sequence: u32, name: &[u8; NAME_BYTES]) -> Words {
    let mut digest = CHECK.digest();
    digest.update(&sequence.to_le_bytes());
    digest.update(name);
    let crc = digest.finalize();
    let mut words = [0; RECORD_WORDS];
    let [first, middle @ .., last] = &mut words;
    *first = sequence;
    *last = crc;
    for (place, bytes) in middle.iter_mut().zip(name.as_chunks::<4>().0) {
        *place = u32::from_le_bytes(*bytes);
    }
    words
}
