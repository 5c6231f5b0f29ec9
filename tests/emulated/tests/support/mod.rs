//! What all tests share.
#![allow(dead_code, reason = "each test uses its share")]

pub mod desk;
pub mod talk;

use dipsift_emulated::{Fixture, Image, Line, Machine, Sources};
use std::path::Path;

/// The image under test, from `DIPSIFT_IMAGE`.
pub fn image() -> Image {
    let path = std::env::var_os("DIPSIFT_IMAGE")
        .expect("DIPSIFT_IMAGE names the ELF; tests/emulated/run builds it and sets this");
    Image::read(Path::new(&path)).expect("the image is readable")
}

/// A board that was just switched on.
pub fn machine(seed: u64, sources: Sources) -> Machine {
    Machine::new(image(), Fixture::new(seed), sources).expect("the board starts")
}

/// A line to such a board.
pub fn line(seed: u64, sources: Sources) -> Line {
    Line::new(machine(seed, sources))
}
