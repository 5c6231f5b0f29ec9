//! `screen`: a batch of chips, one after the other, with a running tally.

mod batch;
mod hands;
mod session;

use crate::args::{General, Screen};
use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::{interrupt, library};

/// Screens a batch: a simulated one from a file, or chips that a person inserts.
pub fn run(args: &Screen, general: &General, out: &mut Output) -> Result<Status, Failure> {
    let library = library::load(general)?;
    if args.demo || args.batch.is_some() {
        return batch::run(args, &library, out);
    }
    interrupt::install();
    hands::run(args, &library, out)
}
