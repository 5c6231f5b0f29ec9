//! Every described part in every family it was made in: it sits, passes the checks before power,
//! draws a bearable current, fights no driver, and shows what its logic says through the circuit.

mod common;

use dipsift_language::{
    Class, Family, Library, Machine, Output, PackageKind, Part, PinId, Role, Settled, Word,
};
use dipsift_pins::{
    Clock, Connection, Keepers, Microamps, Nanoseconds, Positions, Rail, Socket, Supply, Voltage,
};
use dipsift_simulator::{Chip, Fixture, SimulatedSocket, figures, position_of};
use embedded_hal::delay::DelayNs;
use std::sync::Arc;

/// A chip in the socket, with its pins by number.
struct Seat {
    what: String,
    part: Arc<Part>,
    family: Family,
    at: Vec<(u8, Option<PinId>)>,
    socket: SimulatedSocket,
    driven: Positions,
    high: Positions,
}

impl Seat {
    fn every() -> impl Iterator<Item = Self> {
        let library = Library::builtin();
        let parts: Vec<Arc<Part>> =
            library.iter().filter(|part| part.memory.is_none()).cloned().collect();
        assert!(parts.len() >= 12, "{} parts", parts.len());
        parts.into_iter().flat_map(|part| {
            let families = part.made.clone();
            families.into_iter().map(move |family| Self::new(part.clone(), family))
        })
    }

    fn new(part: Arc<Part>, family: Family) -> Self {
        let what = format!("{} in {}", part.number, family.word());
        let chip = Chip::new(part.clone(), family, 3).unwrap();
        let shift = chip.natural_shift(&Fixture::default());
        let shift = shift.unwrap_or_else(|| panic!("{what} finds no place"));
        let package = part.package(PackageKind::Dip, family).unwrap();
        let at = (1..=chip.pins())
            .map(|pin| (position_of(pin, chip.pins(), shift, false).unwrap(), package.at(pin)))
            .collect();
        let mut socket = SimulatedSocket::new(5);
        socket.insert(chip, &[]).unwrap();
        let (driven, high) = (Positions::NONE, Positions::NONE);
        Self { what, part, family, at, socket, driven, high }
    }

    fn positions(&self, wanted: impl Fn(Role) -> bool) -> Positions {
        self.at.iter().fold(Positions::NONE, |set, &(at, id)| match id {
            Some(id) if wanted(self.part.pin(id).role) => set | Positions::one(at),
            _ => set,
        })
    }

    fn supply(&self) -> Positions {
        self.positions(|role| matches!(role, Role::Supply | Role::Fed))
    }

    fn ground(&self) -> Positions {
        self.positions(|role| role == Role::Ground)
    }

    fn signals(&self) -> Positions {
        self.positions(|role| {
            matches!(role, Role::Input | Role::Output | Role::Bidirectional | Role::Open)
        })
    }

    /// The resistance of its heaviest input.
    fn lowest_input_ohms(&self) -> f64 {
        let loads = self.part.pins.iter().map(|pin| pin.load_tenths).max().unwrap_or(0);
        match figures(self.family).input_ohms {
            Some(unit) if loads > 0 => unit * 10.0 / f64::from(loads),
            _ => f64::INFINITY,
        }
    }

    fn drive(&mut self, positions: Positions, high: bool) {
        self.driven |= positions;
        self.high = if high { self.high | positions } else { self.high.without(positions) };
        let drive = self.socket.prepare_drive(self.driven, self.high);
        self.socket.apply(&drive);
    }

    fn power(&mut self) {
        let voltage = if self.family.class() == Class::Cmos { Voltage::V3_3 } else { Voltage::V5 };
        let milliamps = self.part.limit_ma.unwrap_or(150);
        let (feed, ground) = (self.supply(), self.ground());
        let limit = Microamps(milliamps * 1_000);
        let connected = self.socket.connect(&Connection { feed, ground, voltage, limit });
        assert_eq!(connected, Ok(()), "{}", self.what);
    }
}

#[test]
fn every_part_passes_the_checks_before_power() {
    for mut seat in Seat::every() {
        let Some(supply) = seat.supply().iter().next() else { continue };
        let what = seat.what.clone();
        assert!(seat.socket.voltage_at(supply).unwrap().0 < 300, "{what}");
        seat.socket.keep(Keepers { light: Rail::High, firm: Rail::Off });
        seat.drive(seat.ground(), false);
        seat.socket.delay_ns(50_000);
        let pulled = seat.socket.voltage_at(supply).unwrap().0;
        assert!(pulled > 1_500, "{what}: {pulled} mV");
        seat.socket.keep(Keepers { light: Rail::Low, firm: Rail::Off });
        let (ground, signals) = (seat.ground(), seat.signals());
        for position in signals.iter() {
            seat.driven = Positions::NONE;
            seat.drive((ground | signals).without(Positions::one(position)), true);
            seat.socket.delay_ns(50_000);
            let sample = seat.socket.sample();
            assert!(seat.socket.high(&sample).contains(position), "{what}, position {position}");
        }
    }
}

#[test]
fn every_part_shows_what_its_logic_says_without_a_fight() {
    let mut compared = 0;
    for mut seat in Seat::every() {
        let what = seat.what.clone();
        let part = seat.part.clone();
        seat.power();
        // The carry input of a 74S181 is five loads of 3.2 kΩ: beside a firm keeper a driver
        // cannot pull it below the threshold.
        let kept = seat.lowest_input_ohms() > 700.0;
        seat.socket.keep(match (kept, seat.family.class()) {
            (false, _) => Keepers::OFF,
            (true, Class::Ttl) => Keepers { light: Rail::Off, firm: Rail::High },
            (true, _) => Keepers { light: Rail::High, firm: Rail::Off },
        });
        let mut machine = Machine::new(Arc::new(part.network.clone()), part.pins.len());
        let inputs: Vec<(u8, PinId)> = seat
            .at
            .iter()
            .filter_map(|&(at, id)| Some((at, id?)))
            .filter(|&(_, id)| part.pin(id).role == Role::Input)
            .collect();
        // A bidirectional pin that nobody drives is on its keeper.
        for &(_, id) in &seat.at {
            if let Some(id) = id
                && part.pin(id).role == Role::Bidirectional
            {
                machine.apply(id, Word::HIGH);
            }
        }
        let mut random = 0x1234_5678_u64;
        for _ in 0..60 {
            for &(at, id) in &inputs {
                random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                let high = random >> 40 & 1 == 1;
                machine.apply(id, Word::all(high));
                let settled = machine.settle();
                seat.drive(Positions::one(at), high);
                seat.socket.delay_ns(10_000);
                if settled == Settled::Oscillates {
                    // A disallowed state of a latch: what it does is nobody's promise.
                    continue;
                }
                for place in &seat.at {
                    let &(at, Some(id)) = place else { continue };
                    let (level, enable) = machine.driven(id);
                    let pin = part.pin(id);
                    let expected = match (pin.output, enable.known(), level.known()) {
                        (None, ..) | (_, None, _) => continue,
                        (_, Some(false), _) if kept => true,
                        (_, Some(false), _) => continue,
                        (Some(Output::OpenCollector), _, Some(true)) if !kept => continue,
                        (_, Some(true), Some(level)) => level,
                        (_, Some(true), None) => continue,
                    };
                    let bit = Positions::one(at);
                    let high = if expected { bit } else { Positions::NONE };
                    let compare = seat.socket.prepare_compare(bit, high);
                    let sample = seat.socket.sample();
                    assert!(
                        seat.socket.agrees(&sample, &compare),
                        "{what}: {} should be {expected}, {} V",
                        pin.name,
                        seat.socket.voltage(at)
                    );
                    compared += 1;
                }
            }
        }
        let counters = seat.socket.counters();
        assert_eq!(counters.contention_events, 0, "{what}");
        assert_eq!(counters.doubtful_samples, 0, "{what}");
        assert_eq!(counters.trips, 0, "{what}");
        assert!(seat.socket.now() > Nanoseconds(0));
    }
    assert!(compared > 50_000, "{compared}");
}
