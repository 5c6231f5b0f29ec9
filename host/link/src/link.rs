//! Requests to a station and what comes of them.

use crate::exchange::{Exchange, Patience};
use crate::windows::{Cut, Cutter};
use crate::{LinkError, Transport};
use dipsift_wire::{
    Answer, Ask, Ended, Header, Hello, Place, Ran, Records, Refusal, Seen, Status, Step, Summary,
    VERSIONS,
};
use std::hash::{BuildHasher, RandomState};
use std::time::Duration;

/// A station may be simulated on a busy machine: what it does can take much longer than on its
/// own clock.
const LINGER: Duration = Duration::from_secs(3);
/// A port with no tester on it is not worth that.
const HELLO_LINGER: Duration = Duration::from_millis(300);

/// A station, ready for programs.
pub struct Link<T: Transport> {
    exchange: Exchange<T>,
    hello: Hello,
    /// Whether the station may have a program open.
    pub(crate) open: bool,
    /// Whether whoever waits wants it to end.
    stop: Option<fn() -> bool>,
    stopped: bool,
}

/// What a program has found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// Its summary. Steps are numbered as the caller gave them.
    pub summary: Summary,
    /// The captured records, in the order of the steps, as many as [`Header::records`] announces
    /// for each; fewer where the supply tripped.
    pub seen: Vec<Seen>,
}

impl<T: Transport> Link<T> {
    /// Greets the station at the other end. Whatever it was doing, it stops.
    ///
    /// # Errors
    ///
    /// [`LinkError::Version`] where it speaks other versions; the errors of the line where
    /// nobody answers as a station does.
    pub fn open(transport: T) -> Result<Self, LinkError> {
        // A start that nobody shares: an answer to some earlier process must not fit.
        Self::open_from(transport, RandomState::new().hash_one(()) as u16)
    }

    /// Like [`open`](Self::open), with this number before the first sequence number.
    ///
    /// # Errors
    ///
    /// Those of [`open`](Self::open).
    pub fn open_from(transport: T, sequence: u16) -> Result<Self, LinkError> {
        let mut exchange = Exchange::new(transport, sequence);
        exchange.transport.discard().map_err(LinkError::Gone)?;
        let patience = Patience { work: Duration::ZERO, linger: HELLO_LINGER };
        match exchange.ask(Ask::Hello(VERSIONS), &patience)? {
            Answer::Hello(hello) if hello.versions.common(VERSIONS).is_some() => {
                Ok(Self { exchange, hello, open: false, stop: None, stopped: false })
            }
            Answer::Hello(Hello { versions, .. }) | Answer::Refused(Refusal::Version(versions)) => {
                Err(LinkError::Version { station: versions, host: VERSIONS })
            }
            _ => Err(LinkError::Unexpected("no hello for a hello")),
        }
    }

    /// The station's introduction.
    pub const fn hello(&self) -> &Hello {
        &self.hello
    }

    /// The line.
    pub const fn transport(&self) -> &T {
        &self.exchange.transport
    }

    /// The line, for what is done beside requests.
    pub const fn transport_mut(&mut self) -> &mut T {
        &mut self.exchange.transport
    }

    /// From now on `stop` is asked before each request. Where it says yes, the station is switched
    /// off instead and the request, with all that it is part of, is [`LinkError::Stopped`]: on
    /// return the station has answered and its socket is unpowered.
    pub fn stop_when(&mut self, stop: fn() -> bool) {
        self.stop = Some(stop);
    }

    /// Whether a request was stopped so, and the station has answered that it is off.
    pub const fn stopped(&self) -> bool {
        self.stopped
    }

    /// Runs a whole program.
    ///
    /// On return, also with an error, the station has no program open and its socket is
    /// unpowered, or will be once it has heard nothing for
    /// [`SILENCE_MS`](dipsift_wire::SILENCE_MS).
    ///
    /// # Errors
    ///
    /// [`LinkError::Refused`] and [`LinkError::RefusedStep`] where the program cannot run on this
    /// station. All others mean trouble with the line or the tester.
    pub fn run(&mut self, header: &Header, steps: &[Step]) -> Result<Run, LinkError> {
        let mut cutter = Cutter::new(header, steps, &self.hello.capabilities.clone());
        self.open = true;
        let result = self.stream(header, &mut cutter);
        match &result {
            Ok(_) => self.open = false,
            // It has answered that it is off.
            Err(LinkError::Stopped) => {}
            // Harmless where the station has switched off already.
            Err(_) => self.let_go(),
        }
        result
    }

    fn stream(&mut self, header: &Header, cutter: &mut Cutter<'_>) -> Result<Run, LinkError> {
        match self.ask(Ask::Begin(*header), Duration::ZERO)? {
            Answer::Began => {}
            Answer::Refused(refusal) => return Err(LinkError::Refused(refusal)),
            _ => return Err(LinkError::Unexpected("no begin for a begin")),
        }
        let mut seen = Vec::new();
        loop {
            let cut = cutter.cut().map_err(LinkError::Refused)?;
            // The window that powers the chip waits for the supply, too.
            let work = Duration::from_nanos(cut.wait_ns) + Duration::from_millis(2);
            let ran = match self.ask(Ask::Window(cut.window.clone()), work)? {
                Answer::Ran(ran) => ran,
                Answer::Refused(refusal) => return Err(refused(refusal, &cut, cutter)),
                _ => return Err(LinkError::Unexpected("no result for a window")),
            };
            collect(&ran, &cut, &mut seen)?;
            if let Some(summary) = ran.summary {
                let summary = translate(summary, cutter)?;
                return Ok(Run { summary, seen });
            }
        }
    }

    /// Ends whatever runs: on return the socket is released and unpowered.
    ///
    /// # Errors
    ///
    /// Those of the line.
    pub fn off(&mut self) -> Result<(), LinkError> {
        match self.ask_anyhow(Ask::Off, Duration::ZERO)? {
            Answer::Off => {
                self.open = false;
                Ok(())
            }
            _ => Err(LinkError::Unexpected("no off for an off")),
        }
    }

    /// The station's counters.
    ///
    /// # Errors
    ///
    /// Those of the line.
    pub fn status(&mut self) -> Result<Status, LinkError> {
        match self.ask(Ask::Status, Duration::ZERO)? {
            Answer::Status(status) => Ok(status),
            _ => Err(LinkError::Unexpected("no status for a status")),
        }
    }

    pub(crate) fn ask(&mut self, ask: Ask, work: Duration) -> Result<Answer, LinkError> {
        if self.stop.is_some_and(|stop| stop()) {
            self.off()?;
            self.stopped = true;
            return Err(LinkError::Stopped);
        }
        self.ask_anyhow(ask, work)
    }

    fn ask_anyhow(&mut self, ask: Ask, work: Duration) -> Result<Answer, LinkError> {
        self.exchange.ask(ask, &Patience { work, linger: LINGER })
    }

    /// Tells the station to switch off without waiting for its answer. Where the line is broken,
    /// its silence limit does the same a little later.
    pub(crate) fn let_go(&mut self) {
        let _ = self.exchange.send_only(Ask::Off);
        self.open = false;
    }
}

impl<T: Transport> Drop for Link<T> {
    fn drop(&mut self) {
        if self.open {
            self.let_go();
        }
    }
}

/// A window's refusal in the caller's terms.
fn refused(refusal: Refusal, cut: &Cut, cutter: &Cutter<'_>) -> LinkError {
    match refusal {
        Refusal::OutOfOrder => LinkError::Interrupted,
        Refusal::Step { index } => match cutter.caller_in(cut, index) {
            Some(step) => LinkError::RefusedStep { step },
            None => LinkError::Unexpected("a refusal of a step that was not sent"),
        },
        refusal => LinkError::Refused(refusal),
    }
}

/// Takes over a window's records, and makes sure that the result is this window's.
fn collect(ran: &Ran, cut: &Cut, seen: &mut Vec<Seen>) -> Result<(), LinkError> {
    if ran.index != cut.window.index {
        return Err(LinkError::Unexpected("the result of another window"));
    }
    let before = seen.len();
    for record in Records::new(&ran.seen) {
        seen.push(record.map_err(|_| LinkError::Unexpected("a malformed record"))?);
    }
    let came = seen.len() - before;
    let tripped = ran.summary.as_ref().is_some_and(|summary| summary.ended != Ended::Complete);
    if came > cut.records || (came < cut.records && !tripped) {
        return Err(LinkError::Unexpected("too few or too many records"));
    }
    if !tripped && ran.summary.is_some() != cut.window.last {
        return Err(LinkError::Unexpected("a summary too early or too late"));
    }
    Ok(())
}

/// The summary under the caller's step numbers.
fn translate(mut summary: Summary, cutter: &Cutter<'_>) -> Result<Summary, LinkError> {
    let caller = |step| {
        cutter.caller(step).ok_or(LinkError::Unexpected("the result of a step that was not sent"))
    };
    if let Ended::Tripped { step } = &mut summary.ended {
        *step = caller(*step)?;
    }
    for failure in &mut summary.first {
        if let Place::Step(step) = &mut failure.place {
            *step = caller(*step)?;
        }
    }
    summary.steps = cutter.complete(summary.steps);
    Ok(summary)
}
