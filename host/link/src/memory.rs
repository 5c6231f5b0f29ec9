//! A station in the same process.

use crate::Transport;
use std::collections::VecDeque;
use std::io;
use std::time::Duration;

/// The other end of a line in memory.
///
/// Any closure from received bytes to sent bytes is one, for instance
/// `|bytes: &[u8], out: &mut Vec<u8>| station.receive(bytes, &mut |reply| out.extend(reply))`.
pub trait Peer {
    /// Takes bytes and appends what it sends back.
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()>;

    /// Lets time pass with nothing on the line, and appends what it sends meanwhile.
    fn idle(&mut self, time: Duration, out: &mut Vec<u8>) -> io::Result<()> {
        let _ = (time, out);
        Ok(())
    }
}

impl<F: FnMut(&[u8], &mut Vec<u8>)> Peer for F {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        self(bytes, out);
        Ok(())
    }
}

/// A line in memory. Its time is virtual: it passes only while the host waits for bytes that do
/// not come.
#[derive(Debug)]
pub struct Memory<P> {
    peer: P,
    arrived: VecDeque<u8>,
    now: Duration,
}

impl<P: Peer> Memory<P> {
    /// A line to this peer.
    pub const fn new(peer: P) -> Self {
        Self { peer, arrived: VecDeque::new(), now: Duration::ZERO }
    }

    /// The peer.
    pub const fn peer(&self) -> &P {
        &self.peer
    }

    /// The peer.
    pub const fn peer_mut(&mut self) -> &mut P {
        &mut self.peer
    }
}

impl<P: Peer> Transport for Memory<P> {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut out = Vec::new();
        self.peer.receive(bytes, &mut out)?;
        self.arrived.extend(out);
        Ok(())
    }

    fn receive(&mut self, bytes: &mut [u8], wait: Duration) -> io::Result<usize> {
        if self.arrived.is_empty() {
            let mut out = Vec::new();
            self.peer.idle(wait, &mut out)?;
            self.now += wait;
            self.arrived.extend(out);
        }
        let count = bytes.len().min(self.arrived.len());
        for (place, byte) in bytes.iter_mut().zip(self.arrived.drain(..count)) {
            *place = byte;
        }
        Ok(count)
    }

    fn discard(&mut self) -> io::Result<()> {
        self.arrived.clear();
        Ok(())
    }

    fn now(&mut self) -> Duration {
        self.now
    }
}
