//! The simulated tester in this process: a station on a pseudo terminal, and chips for its socket
//! from the names and phrases that people type.

use crate::exit::Failure;
use crate::library;
use dipsift_language::Library;
use dipsift_simulator::{Chip, Defect, Press, Served, SimulatedSocket, SimulatedStation};
use std::io;
use std::rc::Rc;
use std::sync::Arc;

/// A chip with what is wrong with it, ready to be inserted.
pub struct Ready {
    chip: Chip,
    defects: Vec<Defect>,
}

impl Ready {
    /// Makes the chip `holds` as it would lie in the place of the chip `marking`; where nothing is
    /// said of what it holds, it is what its marking says.
    pub fn new(
        library: &Library,
        marking: &str,
        holds: Option<&str>,
        phrases: &[String],
        seed: u64,
    ) -> Result<Self, String> {
        let make = |name: &str| {
            let named = library::look_up(library, name).map_err(|error| error.to_string())?;
            Chip::new(named.part, named.family, seed).map_err(|error| error.to_string())
        };
        let defects = phrases
            .iter()
            .map(|phrase| phrase.parse::<Defect>().map_err(|error| error.to_string()))
            .collect::<Result<Vec<Defect>, String>>()?;
        let mut chip = make(holds.unwrap_or(marking))?;
        // A remarked chip is seated where its marking belongs, if the marking is known at all.
        if holds.is_some()
            && let Ok(marked) = make(marking)
        {
            chip = chip.at_shift(marked.shift());
        }
        let find = |number: &str| library.part(number).map(Arc::clone);
        let chip = chip.replaced(&defects, find).map_err(|error| error.to_string())?;
        // Whether the defects fit the chip shows only when it is put in.
        SimulatedSocket::new(seed)
            .insert(chip.clone(), &defects)
            .map_err(|error| error.to_string())?;
        Ok(Self { chip, defects })
    }

    /// The same chip with these bytes in it, where it is a memory that is only read.
    pub fn holding(mut self, bytes: Option<&[u8]>) -> Self {
        if let Some(bytes) = bytes {
            self.chip = self.chip.programmed(bytes);
        }
        self
    }
}

/// A simulated tester with its socket. It lives as long as any copy of this.
#[derive(Clone)]
pub struct Simulated(Rc<Served>);

impl Simulated {
    /// Starts a simulated tester with an empty socket.
    pub fn start(seed: u64) -> Result<Self, Failure> {
        Self::serve(Served::start(SimulatedSocket::new(seed)))
    }

    /// Starts one whose image holds these stored programs.
    pub fn with_stored(seed: u64, programs: Vec<u8>) -> Result<Self, Failure> {
        // An image lasts as long as its station, and this one as long as the program.
        let programs = Vec::leak(programs);
        let station = SimulatedStation::with_stored(SimulatedSocket::new(seed), programs);
        Self::serve(Served::start_station(station))
    }

    fn serve(served: io::Result<Served>) -> Result<Self, Failure> {
        let served = served.map_err(|error| {
            Failure::trouble(format!("failed to start the simulated tester: {error}"))
        })?;
        Ok(Self(Rc::new(served)))
    }

    /// The port that a host opens.
    pub fn path(&self) -> &str {
        self.0.path()
    }

    /// Puts a chip into the socket, in place of one that is there.
    pub fn insert(&self, ready: Ready) -> Result<(), Failure> {
        self.0.insert(ready.chip, &ready.defects).map_err(|error| {
            Failure::usage(format!("failed to put a chip into the simulated socket: {error}"))
        })
    }

    /// Takes the chip out.
    pub fn remove(&self) {
        self.0.remove();
    }

    /// Presses the button.
    pub fn press(&self) -> Press {
        self.0.press()
    }
}
