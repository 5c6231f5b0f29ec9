//! Whatever is in the socket and whatever is done to it, the model stays finite and the safe
//! state is safe: any part in place of any other, any defects, any order of operations.

mod common;

use dipsift_language::{Family, Library, Part};
use dipsift_pins::{
    Connection, Keepers, Microamps, POSITIONS, Positions, Rail, Socket, Supply, Voltage,
};
use dipsift_simulator::{Chip, Defect, SimulatedSocket};
use embedded_hal::delay::DelayNs;
use std::sync::Arc;

/// A small generator of its own: the simulator's seeds must not be what is tested with.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }

    fn positions(&mut self) -> Positions {
        Positions::from_bits(self.below(1 << 20) << 20 | self.below(1 << 20))
    }

    fn rail(&mut self) -> Rail {
        [Rail::Off, Rail::Low, Rail::High][self.below(3) as usize]
    }

    fn defect(&mut self) -> Defect {
        let (pin, other) = (1 + self.below(24) as u8, 1 + self.below(24) as u8);
        match self.below(11) {
            0 => Defect::Stuck { pin, high: self.below(2) == 1 },
            1 => Defect::Open { pin },
            2 if pin != other => Defect::Shorted { pin, other },
            3 => Defect::SupplyShorted,
            4 => Defect::SupplyOpen,
            5 => Defect::Weak { pin, ohms: 20_000 },
            6 => Defect::Slow { pin, factor: 1_000 },
            7 => Defect::Leaky { pin, ohms: 100 },
            8 => Defect::Intermittent { pin },
            9 => Defect::TurnedRound,
            _ => Defect::Shifted { by: 1 + self.below(19) as u8 },
        }
    }
}

fn one_life(parts: &[Arc<Part>], seed: u64) {
    let mut dice = Dice(seed);
    let part = &parts[dice.below(parts.len() as u64) as usize];
    let family = part.made[dice.below(part.made.len() as u64) as usize];
    let chip = Chip::new(part.clone(), family, seed).unwrap().at_shift(dice.below(4) as u8);
    let mut socket = SimulatedSocket::new(seed);
    let defects: Vec<Defect> = (0..dice.below(4)).map(|_| dice.defect()).collect();
    if socket.insert(chip.clone(), &defects).is_err() {
        socket.insert(chip, &[]).unwrap();
    }
    for _ in 0..40 {
        match dice.below(6) {
            0 => {
                let connection = Connection {
                    feed: dice.positions().and(socket.fixture().feed),
                    ground: dice.positions().and(socket.fixture().ground),
                    voltage: if dice.below(2) == 1 { Voltage::V5 } else { Voltage::V3_3 },
                    limit: Microamps(dice.below(500_000) as u32),
                };
                let connected = socket.connect(&connection);
                assert_eq!(socket.connected(), connected.is_ok() && !connection.feed.is_empty());
            }
            1 => socket.keep(Keepers { light: dice.rail(), firm: dice.rail() }),
            2 => socket.disconnect(),
            _ => {
                let drive = socket.prepare_drive(dice.positions(), dice.positions());
                socket.apply(&drive);
            }
        }
        socket.delay_ns(dice.below(20_000) as u32);
        socket.sample();
        for position in 1..=POSITIONS {
            let volts = socket.voltage(position);
            assert!((-1.5..6.5).contains(&volts), "seed {seed}, position {position}: {volts} V");
        }
        assert!(socket.current().0 <= 500_000, "seed {seed}: {:?}", socket.current());
    }
    socket.release();
    socket.disconnect();
    socket.delay_ns(20_000_000);
    assert!(!socket.connected());
    for position in 1..=POSITIONS {
        let volts = socket.voltage(position);
        assert!(volts.abs() < 0.3, "seed {seed}, position {position}: {volts} V at rest");
    }
}

#[test]
fn nothing_breaks_the_model() {
    let library = Library::builtin();
    let parts: Vec<Arc<Part>> = library.iter().cloned().collect();
    for seed in 0..600 {
        one_life(&parts, seed);
    }
}

#[test]
fn another_parts_supply_pins_are_no_supply() {
    // A 7490 (VCC 5, GND 10) where a 7400 (VCC 14, GND 7) should be: whatever it does, it does
    // not show a 7400's table.
    let library = Library::builtin();
    let (right, wrong) = (library.part("7400").unwrap(), library.part("7490").unwrap());
    let chip = Chip::new(right.clone(), Family::Standard, 1).unwrap();
    let find = |number: &str| library.part(number).cloned();
    let defects = ["part 7490".parse().unwrap()];
    let chip = chip.replaced(&defects, find).unwrap();
    assert_eq!(chip.part().number, wrong.number);
    assert_eq!(chip.shift(), 0, "it sits where the marking says");
    let mut socket = SimulatedSocket::new(1);
    socket.insert(chip, &defects).unwrap();
    let connection = Connection {
        feed: Positions::one(40),
        ground: Positions::one(7),
        voltage: Voltage::V5,
        limit: Microamps(150_000),
    };
    socket.connect(&connection).unwrap();
    assert!(socket.current().0 < 1_000, "{:?}", socket.current());
}
