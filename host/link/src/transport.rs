//! Where the bytes go.

use std::io;
use std::time::Duration;

/// A line to a station, and its time.
///
/// An implementation neither loses nor changes bytes on purpose, but a line may: nothing here is
/// assumed to arrive whole, once or at all.
pub trait Transport {
    /// Sends all bytes. Any error means that the line is gone.
    fn send(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Receives what has come, at least one byte; waits for it at most this long. 0 means that
    /// nothing came in time. Any error means that the line is gone.
    fn receive(&mut self, bytes: &mut [u8], wait: Duration) -> io::Result<usize>;

    /// Drops what has come and was not received yet. Any error means that the line is gone.
    fn discard(&mut self) -> io::Result<()>;

    /// The time since any fixed moment. Waiting in [`receive`](Self::receive) makes it pass.
    fn now(&mut self) -> Duration;
}

impl<T: Transport + ?Sized> Transport for Box<T> {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        (**self).send(bytes)
    }

    fn receive(&mut self, bytes: &mut [u8], wait: Duration) -> io::Result<usize> {
        (**self).receive(bytes, wait)
    }

    fn discard(&mut self) -> io::Result<()> {
        (**self).discard()
    }

    fn now(&mut self) -> Duration {
        (**self).now()
    }
}
