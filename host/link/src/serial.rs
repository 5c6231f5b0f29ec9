//! A serial port, or a pseudo terminal in its place.

use crate::{LinkError, Transport};
use dipsift_wire::SERIAL_BAUD;
use serialport::{ClearBuffer, SerialPort};
use std::io::{self, ErrorKind};
use std::time::{Duration, Instant};

/// The longest time in which the line must take bytes.
const SEND: Duration = Duration::from_secs(2);

/// A line over a serial port.
pub struct Serial {
    port: Box<dyn SerialPort>,
    start: Instant,
}

impl Serial {
    /// Opens a port by its path or name, for this process alone, and drops what had come before.
    ///
    /// The data-terminal-ready line is raised where the port has one; a pseudo terminal has none.
    ///
    /// # Errors
    ///
    /// [`LinkError::Open`] where the port does not exist, is in use or is no serial port.
    pub fn open(port: &str) -> Result<Self, LinkError> {
        let opened = serialport::new(port, SERIAL_BAUD).timeout(SEND).dtr_on_open(true).open();
        match opened {
            Ok(port) => {
                let mut serial = Self { port, start: Instant::now() };
                // A line that is gone already will say so at the first request.
                let _ = serial.discard();
                Ok(serial)
            }
            Err(error) => {
                Err(LinkError::Open { port: port.to_owned(), source: io::Error::from(error) })
            }
        }
    }
}

impl Transport for Serial {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.port.set_timeout(SEND)?;
        self.port.write_all(bytes)
    }

    fn receive(&mut self, bytes: &mut [u8], wait: Duration) -> io::Result<usize> {
        self.port.set_timeout(wait)?;
        match self.port.read(bytes) {
            // A port waits for at least one byte; without any, the other end has hung up.
            Ok(0) => Err(ErrorKind::BrokenPipe.into()),
            Ok(count) => Ok(count),
            Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => {
                Ok(0)
            }
            Err(error) => Err(error),
        }
    }

    fn discard(&mut self) -> io::Result<()> {
        Ok(self.port.clear(ClearBuffer::Input)?)
    }

    fn now(&mut self) -> Duration {
        self.start.elapsed()
    }
}
