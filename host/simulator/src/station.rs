//! A station on the simulated socket.

use crate::{Chip, ChipError, Counters, Defect, FlashMemory, SimulatedSocket};
use dipsift_nucleo_f429zi::stored::PROGRAMS;
use dipsift_pins::Nanoseconds;
use dipsift_station::{Identity, Press, Station, Stored};
use dipsift_wire::{Clock, Health, Nature, ResetCause};
use heapless::String;

/// How many steps a window may have.
const WINDOW_STEPS: usize = 512;

/// The firmware's own station on a simulated socket: bytes in, bytes out.
pub struct SimulatedStation {
    station: Box<Station<SimulatedSocket, WINDOW_STEPS, FlashMemory>>,
}

impl SimulatedStation {
    /// A station that was just switched on, with the programs of the board's image and nothing
    /// armed.
    pub fn new(socket: SimulatedSocket) -> Self {
        Self::with_stored(socket, PROGRAMS)
    }

    /// A station whose image holds these programs instead.
    pub fn with_stored(socket: SimulatedSocket, programs: &'static [u8]) -> Self {
        let identity = Identity {
            // The build may name its commit; a plain build does not know it.
            commit: option_env!("DIPSIFT_COMMIT")
                .and_then(|commit| String::try_from(commit.get(..16).unwrap_or(commit)).ok())
                .unwrap_or_default(),
            nature: Nature::Simulated,
            reset: ResetCause::PowerOn,
            capabilities: socket.fixture().capabilities(),
            health: Health { clock: Clock::Virtual, brown_out: None, stack_free: None },
        };
        let stored = Stored::new(programs, FlashMemory::default());
        Self { station: Box::new(Station::with_stored(socket, identity, stored)) }
    }

    /// Somebody presses the button: runs the armed program to its end.
    pub fn press(&mut self) -> Press {
        self.station.press(|_| true)
    }

    /// Takes bytes from the line and appends the bytes of replies. Runs whole windows before it
    /// returns; they take virtual time only.
    pub fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        self.station.receive(bytes, &mut |reply| out.extend_from_slice(reply));
    }

    /// Lets time pass with nothing on the line.
    pub fn idle(&mut self, time: Nanoseconds) {
        self.socket_mut().advance(time.0);
        self.station.poll();
    }

    /// Puts a chip into the socket; see [`SimulatedSocket::insert`].
    pub fn insert(&mut self, chip: Chip, defects: &[Defect]) -> Result<(), ChipError> {
        self.socket_mut().insert(chip, defects)
    }

    /// Takes the chip out.
    pub fn remove(&mut self) {
        self.socket_mut().remove();
    }

    /// The socket's counters.
    pub fn counters(&self) -> Counters {
        self.socket().counters()
    }

    /// The socket.
    pub fn socket(&self) -> &SimulatedSocket {
        self.station.hardware()
    }

    /// The socket. Whoever moves levels or power here answers for the safe state.
    pub fn socket_mut(&mut self) -> &mut SimulatedSocket {
        self.station.hardware_mut()
    }
}
