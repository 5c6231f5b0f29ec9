//! A simulated station on a pseudo terminal, as a program on the host meets a real one.

use crate::{Chip, ChipError, Counters, Defect, SimulatedSocket, SimulatedStation};
use dipsift_pins::Nanoseconds;
use dipsift_station::Press;
use dipsift_wire::SERIAL_BAUD;
use serialport::{SerialPort, TTYPort};
use std::io::{self, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How long the station waits for bytes before it looks at its clock.
const LISTEN: Duration = Duration::from_millis(5);
/// How long it sleeps while nobody has opened the line.
const UNHEARD: Duration = Duration::from_millis(1);
/// A shorter pause of the host is this machine being busy, and takes no time at the chip: what a
/// run says must not depend on the load. Half of the time after which a silent host is given up.
const PAUSE: Duration = Duration::from_millis(100);
/// What a byte takes on the line: eight bits, a start bit and a stop bit.
const BYTE: Nanoseconds = Nanoseconds(10 * 1_000_000_000 / SERIAL_BAUD as u64);

/// A station that serves a pseudo terminal from a thread of its own, until it is dropped.
///
/// Steps and bytes take virtual time. Real time counts once the host has been silent for long, so
/// that it finds its chip unpowered, as on a board.
pub struct Served {
    path: String,
    station: Arc<Mutex<SimulatedStation>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Served {
    /// Starts to serve.
    ///
    /// # Errors
    ///
    /// The system gives no pseudo terminal or no thread.
    pub fn start(socket: SimulatedSocket) -> io::Result<Self> {
        Self::start_station(SimulatedStation::new(socket))
    }

    /// Starts to serve a station of one's own.
    ///
    /// # Errors
    ///
    /// Those of [`start`](Self::start).
    pub fn start_station(station: SimulatedStation) -> io::Result<Self> {
        let (mut master, slave) = TTYPort::pair()?;
        let path =
            slave.name().ok_or_else(|| io::Error::other("a pseudo terminal without name"))?;
        // Held open here, it could not be opened for a host alone.
        drop(slave);
        master.set_timeout(LISTEN)?;
        let station = Arc::new(Mutex::new(station));
        let stop = Arc::new(AtomicBool::new(false));
        let (shared, stopped) = (Arc::clone(&station), Arc::clone(&stop));
        let thread = thread::Builder::new().name("simulated station".into()).spawn(move || {
            listen(&mut master, &shared, &stopped);
        })?;
        Ok(Self { path, station, stop, thread: Some(thread) })
    }

    /// The path that a host opens.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Puts a chip into the socket; see [`SimulatedSocket::insert`].
    pub fn insert(&self, chip: Chip, defects: &[Defect]) -> Result<(), ChipError> {
        self.station().insert(chip, defects)
    }

    /// Takes the chip out.
    pub fn remove(&self) {
        self.station().remove();
    }

    /// Presses the button; see [`SimulatedStation::press`].
    pub fn press(&self) -> Press {
        self.station().press()
    }

    /// The socket's counters.
    pub fn counters(&self) -> Counters {
        self.station().counters()
    }

    /// The station between two messages.
    pub fn station(&self) -> MutexGuard<'_, SimulatedStation> {
        self.station.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A panic of the station has been printed already.
            let _ = thread.join();
        }
    }
}

fn listen(line: &mut TTYPort, station: &Mutex<SimulatedStation>, stop: &AtomicBool) {
    let mut bytes = [0; 4096];
    let mut replies = Vec::new();
    let mut since = Instant::now();
    let mut silence = Duration::ZERO;
    while !stop.load(Ordering::Relaxed) {
        let read = line.read(&mut bytes);
        let Ok(mut station) = station.lock() else { return };
        let passed = since.elapsed();
        silence += passed;
        if silence >= PAUSE {
            // The pause is counted whole on the turn in which it becomes a silence.
            let counted = if silence - passed < PAUSE { silence } else { passed };
            station.idle(Nanoseconds(counted.as_nanos() as u64));
        }
        let mut unheard = false;
        match read {
            Ok(count) => {
                silence = Duration::ZERO;
                // A message acts when its last byte is in, however the system hands bytes over.
                for part in bytes[..count].split_inclusive(|&byte| byte == 0) {
                    station.idle(Nanoseconds(BYTE.0 * part.len() as u64));
                    station.receive(part, &mut replies);
                }
                drop(station);
                // A host that has gone meanwhile will find the station unpowered.
                let _ = line.write_all(&replies);
                replies.clear();
            }
            Err(error) => unheard = error.kind() != io::ErrorKind::TimedOut,
        }
        since = Instant::now();
        if unheard {
            thread::sleep(UNHEARD);
        }
    }
}
