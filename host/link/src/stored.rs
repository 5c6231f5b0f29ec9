//! What a station holds and knows itself, from protocol version 2 on.

use crate::{Link, LinkError, Transport};
use dipsift_wire::{Answer, Armed, Ask, Health, MAX_NAME, StoredPart};
use heapless::String;
use std::time::Duration;

/// The version that brought these requests.
const SINCE: u8 = 2;
/// How long a board may take to erase and write its memory: half a second for a sector at most
/// (ST DS9405, flash memory characteristics, from memory), and as much again.
const WRITING: Duration = Duration::from_secs(1);

impl<T: Transport> Link<T> {
    /// The programs that the station holds, in the order of their names.
    ///
    /// # Errors
    ///
    /// [`LinkError::TooOld`], [`LinkError::Declined`] where they are damaged, and those of the
    /// line.
    pub fn stored(&mut self) -> Result<Vec<StoredPart>, LinkError> {
        let mut parts = Vec::new();
        loop {
            let from = u16::try_from(parts.len())
                .map_err(|_| LinkError::Unexpected("more stored programs than there can be"))?;
            match self.ask_new(Ask::Stored { from }, Duration::ZERO)? {
                Answer::Stored(page) if page.parts.is_empty() => return Ok(parts),
                Answer::Stored(page) => {
                    parts.extend(page.parts);
                    if parts.len() >= usize::from(page.count) {
                        return Ok(parts);
                    }
                }
                _ => return Err(LinkError::Unexpected("no page of stored programs")),
            }
        }
    }

    /// Arms the stored program with this name, or none. Ends any program.
    ///
    /// # Errors
    ///
    /// [`LinkError::TooOld`], [`LinkError::Declined`] where the station does not arm it, and those
    /// of the line.
    pub fn arm(&mut self, name: Option<&str>) -> Result<Option<Armed>, LinkError> {
        let unknown = LinkError::Declined(dipsift_wire::Refusal::UnknownStored);
        let name = match name.map(String::<MAX_NAME>::try_from) {
            None => None,
            Some(Ok(name)) => Some(name),
            // Longer than any name that a station holds.
            Some(Err(_)) => return Err(unknown),
        };
        match self.ask_new(Ask::Arm(name), WRITING)? {
            Answer::Armed(armed) => Ok(armed),
            _ => Err(LinkError::Unexpected("no answer to arming")),
        }
    }

    /// Which stored program is armed.
    ///
    /// # Errors
    ///
    /// [`LinkError::TooOld`] and those of the line.
    pub fn armed(&mut self) -> Result<Option<Armed>, LinkError> {
        match self.ask_new(Ask::Armed, Duration::ZERO)? {
            Answer::Armed(armed) => Ok(armed),
            _ => Err(LinkError::Unexpected("no answer to what is armed")),
        }
    }

    /// How the station itself is; `None` where it is too old to say.
    ///
    /// # Errors
    ///
    /// Those of the line.
    pub fn health(&mut self) -> Result<Option<Health>, LinkError> {
        match self.ask_new(Ask::Health, Duration::ZERO) {
            Ok(Answer::Health(health)) => Ok(Some(health)),
            Ok(_) => Err(LinkError::Unexpected("no answer to how the tester is")),
            Err(LinkError::TooOld { .. }) => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// Asks what a station of an older version would not understand.
    fn ask_new(&mut self, ask: Ask, work: Duration) -> Result<Answer, LinkError> {
        let station = self.hello().versions.max;
        if station < SINCE {
            return Err(LinkError::TooOld { station, needed: SINCE });
        }
        match self.ask(ask, work)? {
            Answer::Refused(refusal) => Err(LinkError::Declined(refusal)),
            answer => Ok(answer),
        }
    }
}
