//! Measures how long the library that comes with the program takes to read: the median of many
//! runs. Run it in release.

use dipsift_language::Library;
use std::time::{Duration, Instant};

/// Odd, so that the median is one of them.
const RUNS: usize = 101;

fn main() -> Result<(), std::io::Error> {
    let mut times: Vec<Duration> = Vec::with_capacity(RUNS);
    let mut parts = 0;
    for _ in 0..RUNS {
        let started = Instant::now();
        let (library, _) = Library::builtin_with(&[])?;
        times.push(started.elapsed());
        parts = library.len();
    }
    times.sort();
    println!(
        "{parts} parts: median {:?}, fastest {:?}, slowest {:?} of {RUNS} runs",
        times[RUNS / 2],
        times[0],
        times[RUNS - 1]
    );
    Ok(())
}
