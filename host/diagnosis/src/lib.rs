//! What is wrong with a memory, from the reads of a march that failed.
//!
//! [`Diagnosis::of`] says it in words, simplest first; [`Map::of`] shows where. Pure computation:
//! nothing is read, written or asked.
//!
//! Every finding is the outcome of an experiment: a fault is played through the march on paper,
//! and it is named only if it fails the very reads that failed. Whatever else fails them too
//! stands beside it ([`Finding::or`]), so that nothing is claimed that the data do not force.

mod cause;
mod cells;
mod coupling;
mod diagnose;
mod evidence;
mod lines;
mod map;
mod play;
mod shape;
mod whole;
mod words;

pub use cause::{
    Aggressors, Block, Cause, Cell, CellFault, Condition, Effect, Finding, Half, Joined, LineFault,
    Place, Wins,
};
pub use coupling::aggressor_by_halves;
pub use diagnose::Diagnosis;
pub use evidence::{Extent, Observation, Slow, Unfit};
pub use map::{Map, NotDrawn, Reads};
pub use shape::{AddressLine, Arrangement, DataLine, Physical, Shape, Strobe};
