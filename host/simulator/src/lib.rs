//! An electrical socket with modelled chips in it.
//!
//! A [`SimulatedSocket`] is a 40-way socket, its supply and its clock, as `dipsift-pins` asks for
//! them. Every position is solved as a circuit: the station's driver behind its resistor, both
//! keepers, and the pin of a [`Chip`] with its output, input current, leakage and diodes. Time is
//! virtual. Chance is seeded, so that every run can be repeated exactly.
//!
//! What is left out: temperature, noise, inductance, the slope of edges, output currents beyond
//! their linear part, and capacitive coupling between positions.

mod boundary;
mod branch;
mod chip;
mod defect;
mod figures;
mod fixture;
mod memories;
mod memory;
mod passing;
pub mod predict;
mod quick;
mod rails;
mod random;
mod seated;
#[cfg(unix)]
mod serve;
mod socket;
mod station;
mod wiring;

pub use boundary::{Compare, Drive, Sample};
pub use chip::{Chip, ChipError};
pub use defect::{Defect, LEAKY_OHMS, PhraseError, STUCK_OHMS, SUPPLY_SHORT_OHMS, WEAK_OHMS};
pub use dipsift_station::Press;
pub use dipsift_stored::Verdict;
pub use figures::{
    DIODE_OHMS, DIODE_VOLTS, FLOAT_VOLTS, Figures, INPUT_DROP_VOLTS, Pair, SUPPLY_DIODE_OHMS,
    Threshold, figures,
};
pub use fixture::{Fixture, position_of};
pub use memories::{Cell, Fault, NotAPrimitive, Primitive, Sensitiser, Wired};
pub use memory::{FlashMemory, SECTOR_WORDS};
#[cfg(unix)]
pub use serve::Served;
pub use socket::{Counters, SimulatedSocket};
pub use station::SimulatedStation;
