//! How many chips of a bag to test, and what the count then says.
//!
//! Three questions, each with its exact answer and no approximation by the normal distribution:
//!
//! | question | answer |
//! |---|---|
//! | what yield does a count stand for? | [`yield_interval`], [`yield_at_least`] |
//! | how many chips without a failure say what I want? | [`zero_acceptance`], [`Bag::zero_acceptance`] |
//! | what would a buyer's standard ask? | [`iso2859::plan`] |
//!
//! Pure functions without input or output. [`SCOPE`] says what none of the numbers promises.

mod bag;
mod interval;
pub mod iso2859;
mod share;
mod zero;

pub use bag::{BadCount, Bag};
pub use interval::{Interval, yield_at_least, yield_interval};
pub use share::{PlanError, Share, Tally};
pub use zero::{acceptance, bad_at_most_after_none, zero_acceptance};

/// What a sampling number does not promise, in sentences for people.
///
/// The first follows the scope of ISO 2859-1 and of ASTM E2234, which are written for a steady
/// stream of lots from one process; the others are common practice.
pub const SCOPE: [&str; 4] = [
    "a donated batch is an isolated lot of unknown mixture: the acceptance quality limits of \
     ISO 2859-1 are meant for a steady stream of lots and are shown for reference only",
    "divide the bag by type and date code first and plan for each part of it: one number for a \
     mixture says nothing about any of its kinds",
    "draw the sample at random from the whole bag, not from its top",
    "the number speaks of chips that pass this functional check; it promises nothing about speed, \
     load, temperature, the time a chip has left, or the next bag",
];
