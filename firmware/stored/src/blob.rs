//! Reads a blob.

use crate::layout::{
    CRC_BYTES, FORMAT, HEAD_BYTES, LINE_BYTES, MAGIC, MARCH, NAME_BYTES, NOTE_BYTES, VECTOR,
};
use crate::read::{Reader, piece};
use crate::{CHECK, Phase};

/// Why bytes are no blob.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlobError {
    /// There are none: the image was built without stored programs.
    Absent,
    /// They do not begin as a blob does.
    Magic,
    /// A format that this reader does not know.
    Format(u16),
    /// They are fewer or more than the head says, or than the directory needs.
    Length,
    /// The CRC differs.
    Crc,
}

/// Stored programs.
#[derive(Clone, Copy, Debug)]
pub struct Blob<'a> {
    /// All before the CRC.
    bytes: &'a [u8],
    directory: &'a [u8],
}

/// An entry of the directory.
#[derive(Clone, Copy, Debug)]
pub struct Entry<'a> {
    /// The part's name as people write it, `74LS00`.
    pub name: &'a str,
    /// The number of the wire's program kind.
    pub kind: u8,
    /// How many pins the package has.
    pub pins: u8,
    /// How many positions pin 1 lies beyond position 1.
    pub shift: u8,
    bytes: &'a [u8],
    body: &'a [u8],
}

impl<'a> Blob<'a> {
    /// Takes bytes for a blob if they are one.
    ///
    /// # Errors
    ///
    /// See [`BlobError`].
    pub fn new(bytes: &'a [u8]) -> Result<Self, BlobError> {
        if bytes.is_empty() {
            return Err(BlobError::Absent);
        }
        let mut head = Reader(bytes);
        if head.bytes(MAGIC.len()) != Some(&MAGIC[..]) {
            return Err(BlobError::Magic);
        }
        let format = head.u16().ok_or(BlobError::Length)?;
        if format != FORMAT {
            return Err(BlobError::Format(format));
        }
        let count = head.u16().ok_or(BlobError::Length)?;
        let length = head.u32().ok_or(BlobError::Length)?;
        if length as usize != bytes.len() {
            return Err(BlobError::Length);
        }
        let (bytes, crc) = bytes.split_last_chunk::<CRC_BYTES>().ok_or(BlobError::Length)?;
        if CHECK.checksum(bytes) != u32::from_le_bytes(*crc) {
            return Err(BlobError::Crc);
        }
        let directory = bytes
            .get(HEAD_BYTES..)
            .and_then(|rest| rest.get(..usize::from(count) * LINE_BYTES))
            .ok_or(BlobError::Length)?;
        Ok(Self { bytes, directory })
    }

    /// How many entries there are.
    pub const fn count(&self) -> u16 {
        (self.directory.len() / LINE_BYTES) as u16
    }

    /// The entries from one on. Entries whose name is no text or whose body lies elsewhere are
    /// left out.
    pub fn entries(&self, from: u16) -> impl Iterator<Item = Entry<'a>> {
        let Self { bytes, directory } = *self;
        directory
            .chunks_exact(LINE_BYTES)
            .skip(usize::from(from))
            .filter_map(move |line| entry(bytes, line))
    }

    /// The entry with a name.
    pub fn find(&self, name: &str) -> Option<Entry<'a>> {
        self.entries(0).find(|entry| entry.name == name)
    }
}

fn entry<'a>(bytes: &'a [u8], line: &'a [u8]) -> Option<Entry<'a>> {
    let mut line = Reader(line);
    let name = line.bytes(NAME_BYTES)?.split(|&byte| byte == 0).next()?;
    let name = core::str::from_utf8(name).ok().filter(|name| !name.is_empty())?;
    let (kind, pins, shift, _) = (line.u8()?, line.u8()?, line.u8()?, line.u8()?);
    let body = piece(bytes, line.u32()?, line.u32()?)?;
    Some(Entry { name, kind, pins, shift, bytes, body })
}

impl<'a> Entry<'a> {
    /// What the program assumes, in a few words; empty where the kind is not known.
    pub fn note(&self) -> &'a str {
        self.split().map_or("", |(note, ..)| note)
    }

    /// Whether a press can run it: its kind is known and every phase is whole.
    pub fn is_runnable(&self) -> bool {
        let mut phases = self.phases();
        let whole = phases.by_ref().count();
        whole > 0 && phases.left == 0 && phases.rest.0.is_empty()
    }

    /// The phases, in their order; none where the kind is not known. Ends early where the bytes
    /// are no phase.
    pub fn phases(&self) -> Phases<'a> {
        let (left, rest) = self.split().map_or((0, Reader(&[])), |(_, left, rest)| (left, rest));
        Phases { bytes: self.bytes, marches: self.kind == MARCH, left, rest }
    }

    fn split(&self) -> Option<(&'a str, u8, Reader<'a>)> {
        if !matches!(self.kind, VECTOR | MARCH) {
            return None;
        }
        let mut body = Reader(self.body);
        let length = usize::from(body.u8()?);
        let note = body.bytes(length).filter(|_| length <= NOTE_BYTES)?;
        let note = core::str::from_utf8(note).ok()?;
        Some((note, body.u8()?, body))
    }
}

/// The phases of an entry.
#[derive(Clone, Debug)]
pub struct Phases<'a> {
    bytes: &'a [u8],
    /// Whether a phase may be a march.
    marches: bool,
    left: u8,
    rest: Reader<'a>,
}

impl<'a> Iterator for Phases<'a> {
    type Item = Phase<'a>;

    fn next(&mut self) -> Option<Phase<'a>> {
        if self.left == 0 {
            return None;
        }
        let phase = Phase::read(self.bytes, self.marches, &mut self.rest)?;
        self.left -= 1;
        Some(phase)
    }
}
