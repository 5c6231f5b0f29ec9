//! Stored programs to the bytes that a station reads; `dipsift_stored::layout` describes them.

use super::{StoredPhase, StoredProgram};
use dipsift_stored::CRC;
use dipsift_stored::layout::{
    CRC_BYTES, FORMAT, HEAD_BYTES, LINE_BYTES, MAGIC, MARCH, NAME_BYTES, VECTOR, WINDOW_BYTES,
};
use dipsift_wire::Kind;
use std::collections::HashMap;
use thiserror::Error;

/// More programs, phases or bytes than the layout has room for.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("the stored programs do not fit: too many {0}")]
pub struct TooLarge(&'static str);

/// Where the code of windows lies.
#[derive(Default)]
struct Pool<'a> {
    bytes: Vec<u8>,
    at: HashMap<&'a [u8], usize>,
}

impl<'a> Pool<'a> {
    fn place(&mut self, code: &'a [u8]) -> usize {
        let end = self.bytes.len();
        let at = *self.at.entry(code).or_insert(end);
        if at == end {
            self.bytes.extend(code);
        }
        at
    }
}

/// The blob of these programs; of several with one name the first counts.
///
/// # Errors
///
/// [`TooLarge`].
pub fn blob(programs: &[StoredProgram]) -> Result<Vec<u8>, TooLarge> {
    let mut programs: Vec<&StoredProgram> = programs.iter().collect();
    programs.sort_by(|a, b| a.name.as_bytes().cmp(b.name.as_bytes()));
    programs.dedup_by(|a, b| a.name == b.name);
    let count = number::<u16>(programs.len(), "programs")?;
    let mut pool = Pool::default();
    let sizes: Vec<usize> = programs.iter().map(|program| body_size(program)).collect();
    let bodies = HEAD_BYTES + programs.len() * LINE_BYTES;
    let pool_at = bodies + sizes.iter().sum::<usize>();
    let mut body = Vec::new();
    let mut directory = Vec::new();
    for program in &programs {
        let start = body.len();
        write_body(program, pool_at, &mut pool, &mut body)?;
        let mut name = [0; NAME_BYTES];
        name.get_mut(..program.name.len())
            .ok_or(TooLarge("letters in a name"))?
            .copy_from_slice(program.name.as_bytes());
        directory.extend(name);
        let marches = program.phases.iter().any(|phase| phase.header.kind == Kind::March);
        let kind = if marches { MARCH } else { VECTOR };
        directory.extend([kind, program.pins, program.shift, 0]);
        directory.extend(number::<u32>(bodies + start, "bytes")?.to_le_bytes());
        directory.extend(number::<u32>(body.len() - start, "bytes")?.to_le_bytes());
    }
    let length = number::<u32>(pool_at + pool.bytes.len() + CRC_BYTES, "bytes")?;
    let mut bytes = MAGIC.to_vec();
    bytes.extend(FORMAT.to_le_bytes());
    bytes.extend(count.to_le_bytes());
    bytes.extend(length.to_le_bytes());
    bytes.extend(directory);
    bytes.extend(body);
    bytes.extend(pool.bytes);
    bytes.extend(CRC.checksum(&bytes).to_le_bytes());
    Ok(bytes)
}

fn number<T: TryFrom<usize>>(value: usize, of: &'static str) -> Result<T, TooLarge> {
    T::try_from(value).map_err(|_| TooLarge(of))
}

fn header(phase: &StoredPhase) -> Vec<u8> {
    postcard::to_allocvec(&phase.header).unwrap_or_default()
}

fn body_size(program: &StoredProgram) -> usize {
    let phases = program.phases.iter().map(|phase| {
        4 + 8
            + 1
            + 4 * phase.voltages.len()
            + 1
            + header(phase).len()
            + 2
            + WINDOW_BYTES * phase.windows.len()
    });
    1 + program.note.len() + 1 + phases.sum::<usize>()
}

fn write_body<'a>(
    program: &'a StoredProgram,
    pool_at: usize,
    pool: &mut Pool<'a>,
    body: &mut Vec<u8>,
) -> Result<(), TooLarge> {
    body.push(number(program.note.len(), "letters in a note")?);
    body.extend(program.note.as_bytes());
    body.push(number(program.phases.len(), "phases")?);
    for phase in &program.phases {
        body.extend(
            [phase.pass, phase.fail, phase.trip, phase.trip_at_power_up].map(|to| to as u8),
        );
        body.extend(phase.sure.0.to_le_bytes());
        body.push(number(phase.voltages.len(), "voltages")?);
        for (least, most) in &phase.voltages {
            body.extend(least.to_le_bytes());
            body.extend(most.to_le_bytes());
        }
        let header = header(phase);
        body.push(number(header.len(), "bytes in a header")?);
        body.extend(header);
        body.extend(number::<u16>(phase.windows.len(), "windows")?.to_le_bytes());
        for code in &phase.windows {
            body.extend(number::<u32>(pool_at + pool.place(code), "bytes")?.to_le_bytes());
            body.extend(number::<u16>(code.len(), "bytes in a window")?.to_le_bytes());
        }
    }
    Ok(())
}
