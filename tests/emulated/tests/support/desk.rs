//! A bench with the emulated board.

use dipsift_bench::{Bench, Report};
use dipsift_emulated::{Line, Machine};
use dipsift_language::{Family, Part};
use dipsift_link::Link;
use dipsift_simulator::{Counters, Defect};
use dipsift_tests::desk::chip;
use std::sync::Arc;

/// The parts that come first, one of each kind of logic.
pub const FIRST: [&str; 12] = [
    "7400", "7404", "7474", "7475", "7490", "74125", "74138", "74161", "74245", "4017", "4040",
    "4050",
];

/// The family that a part is checked in.
pub fn family(part: &Part) -> Family {
    let usual = [Family::Standard, Family::B, Family::Ls];
    let made = usual.into_iter().find(|family| part.made.contains(family));
    made.unwrap_or(part.made[0])
}

/// A bench and its emulated tester.
pub struct Desk {
    pub bench: Bench<Line>,
}

impl Desk {
    /// A bench with an empty socket.
    pub fn new(seed: u64) -> Self {
        Self::on(super::quick_line(seed))
    }

    /// The same on this line.
    pub fn on(line: Line) -> Self {
        Self { bench: Bench::new(Link::open_from(line, 1).expect("the board answers")) }
    }

    pub fn machine(&mut self) -> &mut Machine {
        self.bench.link().transport_mut().machine_mut()
    }

    pub fn counters(&mut self) -> Counters {
        self.machine().board().fixture().socket().counters()
    }

    /// As the desk with the plain simulator does it.
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
        let chip = chip(&prepared, defects, seed)?;
        let socket = self.machine().board_mut().fixture_mut().socket_mut();
        socket.insert(chip, defects).map_err(|error| error.to_string())?;
        let report = self.bench.check(&prepared, seated);
        self.machine().board_mut().fixture_mut().socket_mut().remove();
        Ok(report)
    }
}
