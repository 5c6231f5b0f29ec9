//! What a person does at the bench: place a chip, choose its supply, look before power, check,
//! judge, screen a batch.

mod batch;
mod bench;
pub mod fixture;
mod judge;
pub mod memory;
mod outcome;
mod placement;
mod preflight;
mod prepare;
mod program_hash;
mod report;
mod seen;
mod selftest;
mod stimulus;
pub mod stored;
mod supply;
mod tally;
mod trace;
mod words;

pub use batch::{Batch, BatchChip, BatchError, MOST_CHIPS};
pub use bench::Bench;
pub use outcome::{Outcome, Reason};
pub use placement::{NoPlacement, Placement};
pub use preflight::Finding;
pub use prepare::{Prepared, Refused};
pub use program_hash::ProgramHash;
pub use report::{PinFault, Report};
pub use selftest::{Selftest, SelftestLine};
pub use stimulus::{MOST_ROWS, Stimulus, StimulusError};
pub use supply::SupplyChoice;
pub use tally::{Counts, PinTally, Tally, destination};
pub use trace::{Trace, TraceError, TraceRow};
