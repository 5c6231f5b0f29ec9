//! Waiting for a chip to come, to go, or to be seated again, while words are typed.

use super::hands::Hands;
use super::typed::{self, Typed};
use crate::desk::Heard;
use crate::exit::Failure;
use crate::interrupt;
use crate::output::Output;
use crate::testers::link_failure;
use std::time::Duration;

/// How often the socket is looked at.
pub(super) const LOOK_EVERY: Duration = Duration::from_millis(150);
/// A chip is there, or gone, once so many looks say so: it goes in pin by pin.
const LOOKS: u32 = 2;

/// What a wait ended with.
pub(super) enum Waited {
    /// The socket is as wanted.
    Socket,
    /// A line was typed.
    Typed(Typed),
    /// The person has finished.
    End,
}

/// What happens to the chip in the socket.
pub(super) enum Then {
    /// It is checked again.
    Again,
    /// It is out, or is to be taken out.
    Out,
    /// The person has finished.
    End,
}

impl Hands<'_, '_> {
    /// After a doubtful contact: waits until the chip is out and in again, or Enter says that it
    /// sits well.
    pub(super) fn wait_for_seat(&mut self, out: &Output) -> Result<Then, Failure> {
        let first = "reseat: take it out, look at pins and notch, clean (skip: leave it so)";
        let second = "seat the same chip again (skip: leave it so)";
        for (occupied, question) in [(false, first), (true, second)] {
            loop {
                match self.wait(occupied, question)? {
                    Waited::Socket => break,
                    Waited::End | Waited::Typed(Typed::End) => return Ok(Then::End),
                    Waited::Typed(Typed::Same | Typed::Again) => return Ok(Then::Again),
                    Waited::Typed(Typed::Skip) => return Ok(Then::Out),
                    Waited::Typed(other) => {
                        if let Then::End = self.hear(other, out)? {
                            return Ok(Then::End);
                        }
                    }
                }
            }
        }
        Ok(Then::Again)
    }

    /// Waits until the chip is out. `place` says where it goes.
    pub(super) fn wait_until_out(&mut self, place: &str, out: &Output) -> Result<Then, Failure> {
        let place = place.split_once(": ").map_or(place, |(place, _)| place);
        loop {
            let question = match (place, &self.next) {
                ("nowhere", _) => "take it out".to_string(),
                (place, None) => format!("take it out: {place}"),
                (place, Some(next)) => format!("take it out: {place}; next {}", next.text),
            };
            match self.wait(false, &question)? {
                Waited::Socket => return Ok(Then::Out),
                Waited::End | Waited::Typed(Typed::End) => return Ok(Then::End),
                Waited::Typed(Typed::Again) => return Ok(Then::Again),
                Waited::Typed(Typed::Same | Typed::Skip) => {}
                Waited::Typed(other) => {
                    if let Then::End = self.hear(other, out)? {
                        return Ok(Then::End);
                    }
                }
            }
        }
    }

    /// A word, or the marking of the chip that comes next.
    fn hear(&mut self, typed: Typed, out: &Output) -> Result<Then, Failure> {
        match typed {
            Typed::Marking(line) => self.hear_next(&line, out),
            other => self.obey(&other).map(|()| Then::Out),
        }
    }

    /// Waits until a chip is in the socket, or none; or until a line is typed.
    pub(super) fn wait(&mut self, occupied: bool, question: &str) -> Result<Waited, Failure> {
        self.desk.ask(question);
        let mut looks = 0;
        loop {
            let seen = self.session.opened.bench.occupied();
            if interrupt::asked() {
                return Ok(Waited::End);
            }
            let seen = seen.map_err(|error| link_failure(&error))?;
            looks = if seen == occupied { looks + 1 } else { 0 };
            if looks >= LOOKS {
                return Ok(Waited::Socket);
            }
            if self.ended && seen != occupied {
                return Ok(Waited::End);
            }
            match self.desk.listen(LOOK_EVERY) {
                Heard::Line(line) => return Ok(Waited::Typed(typed::read(&line))),
                Heard::Nothing => {}
                Heard::End => self.ended = true,
            }
        }
    }
}
