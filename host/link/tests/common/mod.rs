//! A station on an ideal socket at the other end of a line in memory.

#![allow(dead_code)] // every test uses another part of it

#[path = "../../../../firmware/engine/tests/ideal/mod.rs"]
pub mod ideal;

use dipsift_link::Peer;
use dipsift_station::{Identity, Station};
use dipsift_wire::{Clock, Health, Nature, ResetCause};
use ideal::{Ideal, capabilities};
use std::io;
use std::time::Duration;

pub fn station(socket: Ideal) -> Station<Ideal> {
    let identity = Identity {
        commit: "0000000".try_into().expect("short"),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities: capabilities(),
        health: Health { clock: Clock::Virtual, brown_out: None, stack_free: None },
    };
    Station::new(socket, identity)
}

/// What a line does to the bytes of one direction.
pub trait Fault {
    /// Puts into `out` what arrives of `bytes`.
    fn pass(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()>;
}

/// The two directions of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    ToStation,
    ToHost,
}

/// A station behind a line with faults.
pub struct Line<F> {
    pub station: Station<Ideal>,
    pub fault: F,
}

impl<F: FnMut(Way, &[u8], &mut Vec<u8>) -> io::Result<()>> Line<F> {
    pub fn new(socket: Ideal, fault: F) -> Self {
        Self { station: station(socket), fault }
    }

    /// Lets the station's time pass with nothing on the line.
    pub fn silence(&mut self, time: Duration) {
        const STEP: Duration = Duration::from_millis(1);
        let mut left = time;
        while !left.is_zero() {
            let step = left.min(STEP);
            self.station.hardware_mut().now += step.as_nanos() as u64;
            self.station.poll();
            left -= step;
        }
    }
}

impl<F: FnMut(Way, &[u8], &mut Vec<u8>) -> io::Result<()>> Peer for Line<F> {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        let mut arrived = Vec::new();
        (self.fault)(Way::ToStation, bytes, &mut arrived)?;
        let mut replies = Vec::new();
        self.station.receive(&arrived, &mut |reply| replies.push(reply.to_vec()));
        for reply in replies {
            (self.fault)(Way::ToHost, &reply, out)?;
        }
        Ok(())
    }

    fn idle(&mut self, time: Duration, _: &mut Vec<u8>) -> io::Result<()> {
        self.silence(time);
        Ok(())
    }
}

/// A line without faults.
pub fn clean(_: Way, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
    out.extend(bytes);
    Ok(())
}

/// A small generator of pseudo-random numbers (xorshift, Marsaglia 2003, triple 13 7 17).
pub struct Random(pub u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    pub fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % bound
    }
}
