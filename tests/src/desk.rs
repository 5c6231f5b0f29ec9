//! A bench with a simulated tester in memory: the whole path but the serial port.

use dipsift_bench::{Bench, Prepared, Report};
use dipsift_language::{Family, Library, Part};
use dipsift_link::{Link, Memory, Peer};
use dipsift_pins::Nanoseconds;
use dipsift_simulator::{Chip, Counters, Defect, SimulatedSocket, SimulatedStation};
use std::io;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

/// The library, read once.
pub fn library() -> &'static Library {
    static LIBRARY: OnceLock<Library> = OnceLock::new();
    LIBRARY.get_or_init(Library::builtin)
}

/// A chip of what is prepared, seated as it is to be; defects may make it another part.
pub fn chip(prepared: &Prepared, defects: &[Defect], seed: u64) -> Result<Chip, String> {
    Chip::new(Arc::clone(&prepared.part), prepared.family, seed)
        .map_err(|error| error.to_string())?
        .at_shift(prepared.placement.shift)
        .replaced(defects, |number| library().part(number).cloned())
        .map_err(|error| error.to_string())
}

/// The other end of the line.
pub struct Station(pub SimulatedStation);

impl Peer for Station {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        self.0.receive(bytes, out);
        Ok(())
    }

    fn idle(&mut self, time: Duration, _: &mut Vec<u8>) -> io::Result<()> {
        self.0.idle(Nanoseconds(time.as_nanos() as u64));
        Ok(())
    }
}

/// A bench and its simulated tester.
pub struct Desk {
    /// The bench.
    pub bench: Bench<Memory<Station>>,
}

impl Desk {
    /// A bench with an empty socket.
    pub fn new(seed: u64) -> Self {
        let station = Station(SimulatedStation::new(SimulatedSocket::new(seed)));
        let link = Link::open(Memory::new(station)).expect("a station in memory answers");
        Self { bench: Bench::new(link) }
    }

    /// The simulated tester.
    pub fn station(&mut self) -> &mut SimulatedStation {
        &mut self.bench.link().transport_mut().peer_mut().0
    }

    /// The socket's counters.
    pub fn counters(&mut self) -> Counters {
        self.station().counters()
    }

    /// Puts a chip into the socket and checks it against its own description.
    pub fn check(
        &mut self,
        part: &Arc<Part>,
        family: Family,
        defects: &[Defect],
        seed: u64,
        seated: bool,
    ) -> Result<Report, String> {
        let prepared =
            self.bench.prepare(part, family).map_err(|refused| refused.sentences.join("; "))?;
        self.play(&prepared, defects, seed, seated)
    }

    /// Puts a chip of what is prepared into the socket and checks it. What one bench has prepared
    /// serves every bench with the same fixture.
    pub fn play(
        &mut self,
        prepared: &Prepared,
        defects: &[Defect],
        seed: u64,
        seated: bool,
    ) -> Result<Report, String> {
        let chip = chip(prepared, defects, seed)?;
        self.station().insert(chip, defects).map_err(|error| error.to_string())?;
        let report = self.bench.check(prepared, seated);
        self.station().remove();
        Ok(report)
    }
}
