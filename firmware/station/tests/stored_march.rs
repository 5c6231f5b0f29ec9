//! Marches that the station holds itself.

#[path = "../../engine/tests/ideal/mod.rs"]
mod ideal;
mod made;

use dipsift_station::{Identity, Press, Station, Stored};
use dipsift_stored::{Memory as Kept, MemoryFault, Sector, Verdict};
use dipsift_wire::*;
use ideal::memory::{
    Bit, C_MINUS, Fault, INTERVAL_NS, Memory, dynamic_setup, march_header, socket, static_setup,
};
use ideal::{Ideal, Trip, capabilities};
use made::{Made, blob};

const GO: u8 = 0;
const NO_GO: u8 = 1;
const NOT_DECIDED: u8 = 2;
const NEXT: u8 = 3;

/// What is armed, in words.
struct Words([[u32; 32]; 2]);

impl Kept for Words {
    fn words(&self) -> usize {
        32
    }
    fn read(&self, sector: Sector, word: usize) -> u32 {
        self.0[sector as usize][word]
    }
    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault> {
        self.0[sector as usize][word] = value;
        Ok(())
    }
    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault> {
        self.0[sector as usize] = [u32::MAX; 32];
        Ok(())
    }
}

type TestStation = Station<Ideal, 256, Words>;

/// A look that measures a voltage, then a march.
fn phases(setup: MarchSetup) -> Vec<Made> {
    let look = Made {
        next: [NEXT, NOT_DECIDED, NOT_DECIDED, NOT_DECIDED],
        voltages: vec![(0, u16::MAX)],
        header: Header { power: None, kind: Kind::Vector, ..march_header() },
        windows: vec![vec![Step::Voltage { pin: 16 }]],
        march: None,
    };
    let march = Made {
        next: [GO, NO_GO, NO_GO, NOT_DECIDED],
        voltages: Vec::new(),
        header: march_header(),
        windows: Vec::new(),
        march: Some(setup),
    };
    vec![look, march]
}

/// A station that holds these phases alone, and has them armed.
fn armed(memory: Memory, phases: Vec<Made>) -> TestStation {
    let identity = Identity {
        commit: "0000000".try_into().unwrap(),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities: capabilities(),
        health: Health { clock: Clock::Virtual, brown_out: None, stack_free: None },
    };
    let stored = Stored::new(blob(&[("ram", 1, phases)]), Words([[u32::MAX; 32]; 2]));
    let mut station = Station::with_stored(socket(memory), identity, stored);
    let mut buffer = [0; MAX_FRAME];
    let arm = Ask::Arm(Some("ram".try_into().unwrap()));
    let frame = encode_request(&Request { sequence: 1, ask: arm }, &mut buffer).unwrap();
    station.receive(frame, &mut |_| {});
    station
}

fn press(station: &mut TestStation) -> Press {
    let press = station.press(|hardware| {
        // Lamps and the like.
        hardware.now += 100_000;
        true
    });
    assert!(station.hardware().is_safe());
    press
}

#[test]
fn a_press_marches() {
    for (memory, setup) in [
        (Memory::static_ram(false), static_setup(false, C_MINUS)),
        (Memory::static_ram(true), static_setup(true, C_MINUS)),
        (Memory::dynamic_ram(), dynamic_setup(C_MINUS)),
    ] {
        let mut station = armed(memory.clone(), phases(setup.clone()));
        assert_eq!(press(&mut station), Press::Ran(Verdict::Go));
        for value in [false, true] {
            let mut bad = memory.clone();
            let cell = Bit { address: 7, bit: 0 };
            bad.array.faults.push(Fault::StuckAt { cell, value });
            let mut station = armed(bad, phases(setup.clone()));
            assert_eq!(press(&mut station), Press::Ran(Verdict::NoGo));
        }
    }
}

#[test]
fn a_trip_in_a_march_is_a_no_go_and_one_at_power_up_is_not_decided() {
    for (trip, verdict) in
        [(Trip::AtOnce, Verdict::NotDecided), (Trip::AfterMoves(100), Verdict::NoGo)]
    {
        let mut station = armed(Memory::static_ram(false), phases(static_setup(false, C_MINUS)));
        station.hardware_mut().trip = trip;
        assert_eq!(press(&mut station), Press::Ran(verdict));
    }
}

#[test]
fn a_dynamic_memory_is_refreshed_between_pieces() {
    let setup = dynamic_setup("any(w1);pause(300);any(r1)");
    let mut station = armed(Memory::dynamic_ram(), phases(setup));
    assert_eq!(press(&mut station), Press::Ran(Verdict::Go));
    let dynamic = station.hardware().memory.as_ref().unwrap().dynamic();
    assert!(dynamic.longest_gap <= INTERVAL_NS.into(), "{} ns", dynamic.longest_gap);
}

#[test]
fn a_march_can_be_broken_off() {
    let setup = static_setup(false, "any(w1);pause(10000);any(r1)");
    let mut station = armed(Memory::static_ram(false), phases(setup));
    let mut looks = 0;
    let press = station.press(|hardware| {
        looks += 1;
        assert!(hardware.connection.is_some());
        looks < 3
    });
    assert_eq!((press, looks), (Press::Ran(Verdict::NotDecided), 3));
    assert!(station.hardware().is_safe());
    // Looked at often enough for a button and a watchdog.
    assert!(station.hardware().now < 500_000_000, "{} ns", station.hardware().now);
}

#[test]
fn a_set_up_that_the_engine_refuses_powers_nothing() {
    let mut supplied = static_setup(false, C_MINUS);
    supplied.address[0] = 16;
    let mut empty = static_setup(false, C_MINUS);
    empty.backgrounds.clear();
    for setup in [supplied, empty] {
        let mut station = armed(Memory::static_ram(false), phases(setup));
        assert_eq!(press(&mut station), Press::Ran(Verdict::NotDecided));
        assert_eq!(station.hardware().connects, 0);
    }
}
