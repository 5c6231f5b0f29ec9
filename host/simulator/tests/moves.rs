//! Partial changes of the drivers on the simulated socket.

use dipsift_pins::{Moves, Positions, Socket};
use dipsift_simulator::SimulatedSocket;

fn one(position: u8) -> Positions {
    Positions::one(position)
}

/// The levels of an empty socket's driven positions.
fn levels(socket: &mut SimulatedSocket) -> Positions {
    socket.wait(1_000);
    let sample = socket.sample();
    socket.high(&sample)
}

#[test]
fn a_level_waits_for_its_driver() {
    let mut socket = SimulatedSocket::new(1);
    let high = socket.prepare_levels(one(3) | one(4), one(3));
    socket.set(&high);
    assert_eq!(levels(&mut socket), Positions::NONE);
    let both = socket.prepare_directions(one(3) | one(4));
    socket.direct(&both);
    assert_eq!(levels(&mut socket), one(3));
    // Only what is named changes; what is released keeps its level for later.
    let four = socket.prepare_levels(one(4), one(4));
    socket.set(&four);
    assert_eq!(levels(&mut socket), one(3) | one(4));
    let only_four = socket.prepare_directions(one(4));
    socket.direct(&only_four);
    socket.direct(&both);
    assert_eq!(levels(&mut socket), one(3) | one(4));
    // What is applied as a whole counts too.
    let drive = socket.prepare_drive(one(3), Positions::NONE);
    socket.apply(&drive);
    socket.direct(&both);
    assert_eq!(levels(&mut socket), one(4));
}

#[test]
fn joined_levels_do_both() {
    let mut socket = SimulatedSocket::new(1);
    let directions = socket.prepare_directions(Positions::ALL);
    socket.direct(&directions);
    let first = socket.prepare_levels(one(1) | one(2), one(1));
    let second = socket.prepare_levels(one(39) | one(40), one(40));
    socket.set(&SimulatedSocket::join(first, second));
    assert_eq!(levels(&mut socket), one(1) | one(40));
    socket.set(&SimulatedSocket::NO_LEVELS);
    assert_eq!(levels(&mut socket), one(1) | one(40));
}

#[test]
fn ticks_go_around() {
    let mut socket = SimulatedSocket::new(1);
    let start = socket.ticks();
    for _ in 0..5 {
        let wait = socket.prepare_wait(1_000_000_000);
        socket.wait(wait);
    }
    assert_eq!(socket.ticks().wrapping_sub(start), (5_000_000_000_u64 % (1 << 32)) as u32);
}
