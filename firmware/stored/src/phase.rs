//! A phase of a stored program: a program or a march of the wire, and what comes of it.

use crate::layout::{BOUND_BYTES, WINDOW_BYTES};
use crate::read::{Reader, piece};
use dipsift_wire::{Ended, Header, Kind, MAX_CODE, Pins, Summary};

/// What a stored check says of a chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Every comparison agreed.
    Go,
    /// The chip does not do what its description says.
    NoGo,
    /// Neither could be said: an empty socket, a missing contact, a turned chip, a check that was
    /// broken off.
    NotDecided,
}

/// What comes after a phase. The numbers are those of the layout.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Next {
    /// The check ends with a go.
    Go = 0,
    /// The check ends with a no-go.
    NoGo = 1,
    /// The check ends without a verdict.
    NotDecided = 2,
    /// The phase after this one decides; without one nothing is decided.
    Phase = 3,
}

impl Next {
    const fn read(number: u8) -> Option<Self> {
        Some(match number {
            0 => Self::Go,
            1 => Self::NoGo,
            2 => Self::NotDecided,
            3 => Self::Phase,
            _ => return None,
        })
    }

    /// The verdict, if this is one.
    pub const fn verdict(self) -> Option<Verdict> {
        match self {
            Self::Go => Some(Verdict::Go),
            Self::NoGo => Some(Verdict::NoGo),
            Self::NotDecided => Some(Verdict::NotDecided),
            Self::Phase => None,
        }
    }
}

/// One program of several, with the meaning of what it finds.
#[derive(Clone, Debug)]
pub struct Phase<'a> {
    /// The program's header.
    pub header: Header,
    pass: Next,
    fail: Next,
    trip: Next,
    trip_at_power_up: Next,
    sure: Pins,
    bounds: &'a [u8],
    windows: &'a [u8],
    bytes: &'a [u8],
}

/// What running a phase has found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Found {
    /// How the program ended.
    pub ended: Ended,
    /// Whether every comparison agreed.
    pub agreed: bool,
    /// The pins that failed.
    pub failed: Pins,
    /// Whether every measured voltage was within its limits.
    pub voltages: bool,
}

impl Found {
    /// From a program's summary.
    pub fn new(summary: &Summary, voltages: bool) -> Self {
        Self {
            ended: summary.ended,
            agreed: summary.failures == 0,
            failed: summary.pins.iter().map(|count| count.pin).collect(),
            voltages,
        }
    }
}

impl<'a> Phase<'a> {
    pub(crate) fn read(bytes: &'a [u8], marches: bool, rest: &mut Reader<'a>) -> Option<Self> {
        let mut next = || Next::read(rest.u8()?);
        let (pass, fail, trip, trip_at_power_up) = (next()?, next()?, next()?, next()?);
        let sure = Pins(rest.u64()?);
        let count = usize::from(rest.u8()?);
        let bounds = rest.bytes(count * BOUND_BYTES)?;
        let length = usize::from(rest.u8()?);
        let (header, after) = postcard::take_from_bytes(rest.bytes(length)?).ok()?;
        let count = usize::from(rest.u16()?);
        let windows = rest.bytes(count * WINDOW_BYTES)?;
        let phase =
            Self { header, pass, fail, trip, trip_at_power_up, sure, bounds, windows, bytes };
        let possible = match phase.header.kind {
            Kind::March => marches && count == 1,
            _ => count > 0,
        };
        let whole = after.is_empty() && possible && phase.windows().count() == count;
        whole.then_some(phase)
    }

    /// The code of each window, in their order.
    pub fn windows(&self) -> impl Iterator<Item = &'a [u8]> {
        let bytes = self.bytes;
        self.windows.chunks_exact(WINDOW_BYTES).map_while(move |window| {
            let mut window = Reader(window);
            let (offset, length) = (window.u32()?, window.u16()?);
            piece(bytes, offset, length.into()).filter(|code| code.len() <= MAX_CODE)
        })
    }

    /// The message that sets a march up; `None` where the phase is a program of windows.
    pub fn march(&self) -> Option<&'a [u8]> {
        self.windows().next().filter(|_| self.header.kind == Kind::March)
    }

    /// Whether a measured voltage is within its limits; `nth` counts the program's measured
    /// voltages from 0. One that has no limits, or that could not be measured, is not.
    pub fn in_bounds(&self, nth: usize, millivolts: Option<u16>) -> bool {
        let bound = self.bounds.chunks_exact(BOUND_BYTES).nth(nth);
        let limits = bound.and_then(|bound| {
            let mut bound = Reader(bound);
            Some(bound.u16()?..=bound.u16()?)
        });
        match (limits, millivolts) {
            (Some(limits), Some(millivolts)) => limits.contains(&millivolts),
            _ => false,
        }
    }

    /// What comes after the phase.
    pub const fn next(&self, found: &Found) -> Next {
        match found.ended {
            Ended::TrippedAtPowerUp => self.trip_at_power_up,
            Ended::Tripped { .. } => self.trip,
            Ended::Complete if found.agreed && found.voltages => self.pass,
            Ended::Complete if found.failed.0 & self.sure.0 != 0 => Next::NoGo,
            Ended::Complete | Ended::Failures => self.fail,
        }
    }
}
