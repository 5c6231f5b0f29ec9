//! How long March C- with four backgrounds takes on a simulated 32K x 8 memory, through the same
//! traits as a station. Run it with `--release`.

#[path = "../tests/common/mod.rs"]
mod common;

use common::memory::MemoryBench;
use std::time::Instant;

/// March C-: M. Marinescu, ITC 1982, without its redundant read; van de Goor, "Testing
/// Semiconductor Memories". Upwards, then what each cell gets: read and write, of the background
/// or its inverse.
const ELEMENTS: [(bool, &[(char, bool)]); 6] = [
    (true, &[('w', false)]),
    (true, &[('r', false), ('w', true)]),
    (true, &[('r', true), ('w', false)]),
    (false, &[('r', false), ('w', true)]),
    (false, &[('r', true), ('w', false)]),
    (true, &[('r', false)]),
];

fn main() {
    let mut bench = MemoryBench::new("32KX8", &[]);
    bench.select_as_a_station();
    let start = Instant::now();
    let (mut operations, mut failures) = (0_u64, 0_u64);
    for background in [0x00, 0x55, 0x33, 0x0F] {
        for (upwards, element) in ELEMENTS {
            for step in 0..bench.words() {
                let address = if upwards { step } else { bench.words() - 1 - step };
                bench.set_address(address);
                for &(operation, inverse) in element {
                    let word = if inverse { background ^ 0xFF } else { background };
                    operations += 1;
                    match operation {
                        'w' => bench.write_cycle(word),
                        _ => failures += u64::from(bench.read_cycle() != word),
                    }
                }
            }
        }
    }
    let seconds = start.elapsed().as_secs_f64();
    let counters = bench.counters();
    println!(
        "{operations} operations in {seconds:.2} s, {:.0} ns each",
        seconds * 1e9 / operations as f64
    );
    println!(
        "{failures} failures, {} fights, {} violations",
        counters.contention_events, counters.memory_violations
    );
    println!("{} changes, {} samples", counters.changes, counters.samples);
}
