//! A march, from its set-up to its summary.

use crate::{Link, LinkError, Transport};
use dipsift_wire::{Answer, Ask, Header, MAX_WORDS, MarchSetup, Marched, Miss, Refusal, Summary};
use std::ops::ControlFlow;
use std::time::Duration;

/// The version that brought marches.
const SINCE: u8 = 3;
/// How long the station works on a piece: 50 ms and the addresses that have begun.
const PIECE: Duration = Duration::from_millis(60);

/// How far a march is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MarchProgress {
    /// How many operations have run.
    pub operations: u64,
    /// How many the whole march has.
    pub all: u64,
    /// How many reads have failed.
    pub failures: usize,
}

/// What a march has found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarchRun {
    /// Its summary. Steps are operations.
    pub summary: Summary,
    /// The reads that failed, in order: all up to the number at which the march was to end, and
    /// what else failed at the same address.
    pub misses: Vec<Miss>,
}

impl<T: Transport> Link<T> {
    /// Runs a whole march. After every piece, some fifty milliseconds, `progress` is told; where
    /// it breaks, the station is switched off and the march is [`LinkError::Stopped`].
    ///
    /// On return, also with an error, the station has no program open and its socket is
    /// unpowered, or will be once it has heard nothing for
    /// [`SILENCE_MS`](dipsift_wire::SILENCE_MS).
    ///
    /// # Errors
    ///
    /// [`LinkError::Refused`] where the march cannot run on this station, [`LinkError::TooOld`]
    /// where it knows no marches, [`LinkError::Interrupted`] where it has ended the march itself.
    /// All others mean trouble with the line or the tester.
    pub fn march(
        &mut self,
        header: &Header,
        setup: &MarchSetup,
        progress: &mut dyn FnMut(&MarchProgress) -> ControlFlow<()>,
    ) -> Result<MarchRun, LinkError> {
        self.knows_marches()?;
        self.open = true;
        let result = self.march_on(header, setup, progress);
        match &result {
            Ok(_) => self.open = false,
            // It has answered that it is off.
            Err(LinkError::Stopped) => {}
            // Harmless where the station has switched off already.
            Err(_) => self.let_go(),
        }
        result
    }

    fn knows_marches(&self) -> Result<(), LinkError> {
        let station = self.hello().versions.max;
        if station < SINCE {
            return Err(LinkError::TooOld { station, needed: SINCE });
        }
        Ok(())
    }

    fn set_up(&mut self, header: &Header, setup: &MarchSetup) -> Result<(), LinkError> {
        for ask in [Ask::Begin(*header), Ask::March(setup.clone())] {
            match self.ask(ask, Duration::ZERO)? {
                Answer::Began => {}
                Answer::Refused(Refusal::OutOfOrder) => return Err(LinkError::Interrupted),
                Answer::Refused(refusal) => return Err(LinkError::Refused(refusal)),
                _ => return Err(LinkError::Unexpected("no begin for a march")),
            }
        }
        Ok(())
    }

    fn march_on(
        &mut self,
        header: &Header,
        setup: &MarchSetup,
        progress: &mut dyn FnMut(&MarchProgress) -> ControlFlow<()>,
    ) -> Result<MarchRun, LinkError> {
        self.set_up(header, setup)?;
        let (all, mut misses) = (setup.operations(), Vec::new());
        loop {
            let marched = match self.ask(Ask::Proceed, PIECE)? {
                Answer::Marched(marched) => marched,
                Answer::Refused(Refusal::OutOfOrder) => return Err(LinkError::Interrupted),
                Answer::Refused(refusal) => return Err(LinkError::Refused(refusal)),
                _ => return Err(LinkError::Unexpected("no result for a piece of a march")),
            };
            let Marched { misses: new, operations, summary } = marched;
            if new.iter().any(|miss| !possible(setup, miss)) {
                return Err(LinkError::Unexpected("a failure that cannot be"));
            }
            misses.extend(new);
            if let Some(summary) = summary {
                if summary.failures as usize != misses.len() {
                    return Err(LinkError::Unexpected("another number of failures"));
                }
                return Ok(MarchRun { summary, misses });
            }
            let operations = operations.into();
            let now = MarchProgress { operations, all, failures: misses.len() };
            if progress(&now).is_break() {
                self.off()?;
                return Err(LinkError::Stopped);
            }
        }
    }
}

/// What a memory holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadOut {
    /// The words, from address 0 on: all of them unless the supply has tripped.
    pub words: Vec<u16>,
    /// How it ended.
    pub summary: Summary,
}

impl<T: Transport> Link<T> {
    /// Reads a whole memory. After every piece, some hundred words, `progress` is told how many;
    /// where it breaks, the station is switched off and the read-out is [`LinkError::Stopped`].
    ///
    /// On return the same holds as for [`march`](Self::march).
    ///
    /// # Errors
    ///
    /// Those of [`march`](Self::march).
    pub fn read_out(
        &mut self,
        header: &Header,
        setup: &MarchSetup,
        progress: &mut dyn FnMut(u32) -> ControlFlow<()>,
    ) -> Result<ReadOut, LinkError> {
        self.knows_marches()?;
        self.open = true;
        let result = self.read_on(header, setup, progress);
        match &result {
            Ok(_) => self.open = false,
            // It has answered that it is off.
            Err(LinkError::Stopped) => {}
            // Harmless where the station has switched off already.
            Err(_) => self.let_go(),
        }
        result
    }

    fn read_on(
        &mut self,
        header: &Header,
        setup: &MarchSetup,
        progress: &mut dyn FnMut(u32) -> ControlFlow<()>,
    ) -> Result<ReadOut, LinkError> {
        self.set_up(header, setup)?;
        let mut words: Vec<u16> = Vec::new();
        loop {
            let first = words.len() as u32;
            let count = setup.words.saturating_sub(first).min(MAX_WORDS as u32) as u16;
            let read = match self.ask(Ask::ReadOut { first, count }, PIECE)? {
                Answer::Words(read) => read,
                Answer::Refused(Refusal::OutOfOrder) => return Err(LinkError::Interrupted),
                Answer::Refused(refusal) => return Err(LinkError::Refused(refusal)),
                _ => return Err(LinkError::Unexpected("no words for a read-out")),
            };
            if read.words.len() > usize::from(count)
                || read.summary.is_none() && read.words.len() != usize::from(count)
                || read.words.iter().any(|&word| word & !setup.word() != 0)
            {
                return Err(LinkError::Unexpected("words that cannot be"));
            }
            words.extend(read.words);
            if let Some(summary) = read.summary {
                return Ok(ReadOut { words, summary });
            }
            if progress(words.len() as u32).is_break() {
                self.off()?;
                return Err(LinkError::Stopped);
            }
        }
    }
}

/// Whether the set-up has such a read and the word seen differs from what it expects.
fn possible(setup: &MarchSetup, miss: &Miss) -> bool {
    miss.address < setup.words && setup.expected(miss).is_some_and(|word| word != miss.seen)
}
