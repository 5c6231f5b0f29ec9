//! What all tests share.
#![allow(dead_code, reason = "each test uses its share")]

pub mod button;
pub mod desk;
pub mod memory;
pub mod strobes;
pub mod talk;

use dipsift_emulated::{Fixture, Image, Line, Machine, Sources};
use std::path::Path;

/// The image under test, from `DIPSIFT_IMAGE`.
pub fn image() -> Image {
    let path = std::env::var_os("DIPSIFT_IMAGE")
        .expect("DIPSIFT_IMAGE names the ELF; tests/emulated/run builds it and sets this");
    Image::read(Path::new(&path)).expect("the image is readable")
}

/// A board that has started.
pub fn machine(seed: u64, sources: Sources) -> Machine {
    let machine = Machine::new(image(), Fixture::new(seed), sources);
    let mut machine = machine.expect("the board is there");
    started(&mut machine);
    machine
}

/// Runs until the board has started; returns how long that took, in nanoseconds.
pub fn started(machine: &mut Machine) -> u64 {
    let start = machine.nanoseconds();
    while !machine.board().is_listening() {
        machine.run(100_000).expect("the board runs");
        assert!(machine.nanoseconds() < start + 2_000_000_000, "it does not start");
    }
    // The receiver is the last that starts; now the loop runs.
    machine.run(100_000).expect("the board runs");
    machine.nanoseconds() - start
}

/// A line to a board whose idle rounds are passed over.
pub fn quick_line(seed: u64) -> Line {
    let mut machine = machine(seed, Sources::default());
    machine.board_mut().skip_idle_rounds(true);
    Line::new(machine)
}

/// A line to such a board.
pub fn line(seed: u64, sources: Sources) -> Line {
    Line::new(machine(seed, sources))
}
