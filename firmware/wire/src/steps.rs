//! Steps and records, back to back in bytes, and what a step costs.

use crate::frame::take;
use crate::sizes::{SEEN, STEP};
use crate::{Header, PULSE_LEVEL_NS, Pins, Seen, Step};
use core::marker::PhantomData;
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// No room for another step or record; the bytes are as before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Full;

fn push<T: Serialize, const SIZE: usize, const N: usize>(
    value: &T,
    bytes: &mut Vec<u8, N>,
) -> Result<(), Full> {
    let mut buffer = [0; SIZE];
    let encoded = postcard::to_slice(value, &mut buffer).map_err(|_| Full)?;
    bytes.extend_from_slice(encoded).map_err(|_| Full)
}

/// Appends a step.
pub fn push_step<const N: usize>(step: &Step, code: &mut Vec<u8, N>) -> Result<(), Full> {
    push::<_, STEP, N>(step, code)
}

/// Appends a record.
pub fn push_seen<const N: usize>(seen: &Seen, records: &mut Vec<u8, N>) -> Result<(), Full> {
    push::<_, SEEN, N>(seen, records)
}

/// Reads values that stand back to back. Where the bytes are none, yields one [`Malformed`] and
/// then nothing.
///
/// [`Malformed`]: crate::Malformed
#[derive(Clone, Debug)]
pub struct Items<'a, T> {
    rest: &'a [u8],
    item: PhantomData<T>,
}

/// The steps of a window.
pub type Steps<'a> = Items<'a, Step>;
/// The records of a reply.
pub type Records<'a> = Items<'a, Seen>;

impl<'a, T> Items<'a, T> {
    /// Reads from these bytes.
    pub const fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, item: PhantomData }
    }
}

impl<'a, T: Deserialize<'a>> Iterator for Items<'a, T> {
    type Item = Result<T, crate::Malformed>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.is_empty() {
            return None;
        }
        match take(self.rest) {
            Some((item, rest)) => {
                self.rest = rest;
                Some(Ok(item))
            }
            None => {
                self.rest = &[];
                Some(Err(crate::Malformed))
            }
        }
    }
}

impl Header {
    /// How long each level of a pulse lasts at least, in nanoseconds.
    pub const fn pulse_level_ns(&self) -> u32 {
        let half = self.settle_ns.div_ceil(2);
        if half > PULSE_LEVEL_NS { half } else { PULSE_LEVEL_NS }
    }

    /// How long the station waits during a step, in nanoseconds; saturates. What it takes to move
    /// and read the pins comes on top.
    pub const fn wait_ns(&self, step: &Step) -> u64 {
        match *step {
            Step::Drive { .. } | Step::Release { .. } => self.settle_ns as u64,
            Step::Keep { .. } => self.keeper_ns as u64,
            Step::ExpectReleased { .. } => 3 * self.keeper_ns as u64,
            Step::Pulse { times, .. } => (2 * self.pulse_level_ns() as u64)
                .saturating_mul(times as u64)
                .saturating_add(self.settle_ns as u64),
            Step::Wait { ns } => ns as u64,
            Step::Expect { .. } | Step::Sample | Step::Voltage { .. } | Step::Current => 0,
        }
    }

    /// How many records a step leaves. One that proves high impedance samples twice: with the
    /// keeper high, then with the keeper low.
    pub const fn records(&self, step: &Step) -> usize {
        match *step {
            Step::Expect { .. } => self.capture as usize,
            Step::ExpectReleased { .. } => 2 * self.capture as usize,
            Step::Sample | Step::Voltage { .. } | Step::Current => 1,
            Step::Drive { .. }
            | Step::Release { .. }
            | Step::Keep { .. }
            | Step::Pulse { .. }
            | Step::Wait { .. } => 0,
        }
    }

    /// The most bytes of the records that a step leaves.
    pub const fn record_bytes(&self, step: &Step) -> usize {
        let each = match *step {
            Step::Voltage { .. } => 5,
            Step::Current => 6,
            _ => 1 + varint_bytes(Pins::all(self.pins).0),
        };
        each * self.records(step)
    }
}

/// The bytes of a varint: seven bits a byte, at least one.
const fn varint_bytes(value: u64) -> usize {
    let bits = u64::BITS - value.leading_zeros();
    if bits == 0 { 1 } else { bits.div_ceil(7) as usize }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Kind, MAX_CODE, Malformed};

    #[test]
    fn malformed_code_ends_the_steps() {
        let mut code = Vec::<u8, MAX_CODE>::new();
        push_step(&Step::Sample, &mut code).unwrap();
        code.extend_from_slice(&[99, 7, 7]).unwrap();
        let mut steps = Steps::new(&code);
        assert_eq!(steps.next(), Some(Ok(Step::Sample)));
        assert_eq!(steps.next(), Some(Err(Malformed)));
        assert_eq!(steps.next(), None);
    }

    #[test]
    fn a_full_window_is_left_as_it_was() {
        let mut code = Vec::<u8, 3>::new();
        push_step(&Step::Voltage { pin: 3 }, &mut code).unwrap();
        assert_eq!(push_step(&Step::Voltage { pin: 4 }, &mut code), Err(Full));
        assert_eq!(code, [8, 3]);
    }

    #[test]
    fn records_are_never_larger_than_announced() {
        for pins in (4..=40).step_by(2) {
            let header = Header {
                kind: Kind::Vector,
                pins,
                shift: 0,
                power: None,
                settle_ns: 0,
                keeper_ns: 0,
                capture: true,
            };
            let mut bytes = Vec::<u8, 64>::new();
            push_seen(&Seen::Levels(Pins::all(pins)), &mut bytes).unwrap();
            assert_eq!(bytes.len(), header.record_bytes(&Step::Sample), "{pins} pins");
            push_seen(&Seen::Levels(Pins::all(pins)), &mut bytes).unwrap();
            let proof = Step::ExpectReleased { pins: Pins::NONE, keeper: crate::Strength::Light };
            assert_eq!(bytes.len(), header.record_bytes(&proof), "{pins} pins");
            for (seen, step) in [
                (Seen::Voltage(Some(u16::MAX)), Step::Voltage { pin: 1 }),
                (Seen::Current(u32::MAX), Step::Current),
            ] {
                bytes.clear();
                push_seen(&seen, &mut bytes).unwrap();
                assert_eq!(bytes.len(), header.record_bytes(&step));
            }
        }
    }

    #[test]
    fn an_endless_pulse_train_does_not_look_short() {
        let header = Header {
            kind: Kind::Vector,
            pins: 16,
            shift: 0,
            power: None,
            settle_ns: 0,
            keeper_ns: 0,
            capture: false,
        };
        let train = Step::Pulse { pin: 1, times: u32::MAX };
        assert_eq!(header.wait_ns(&train), u64::from(u32::MAX) * 2 * u64::from(PULSE_LEVEL_NS));
        let slow = Header { settle_ns: u32::MAX, ..header };
        assert_eq!(slow.wait_ns(&train), u64::MAX);
    }
}
