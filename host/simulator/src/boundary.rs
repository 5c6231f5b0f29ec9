//! The hardware boundary on the simulated socket.

use crate::SimulatedSocket;
use crate::socket::{Nodes, Power};
use dipsift_pins::{
    Clock, Connection, Keepers, Microamps, Millivolts, Moves, Nanoseconds, POSITIONS, Positions,
    Socket, Supply, SupplyFault,
};
use embedded_hal::delay::DelayNs;

/// The levels of all drivers, absolute.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Drive {
    driven: u64,
    high: u64,
}

/// The levels of some drivers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Levels {
    positions: u64,
    high: u64,
}

/// Which positions are driven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Directions {
    driven: u64,
}

/// Positions with the levels that they should show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Compare {
    compared: u64,
    high: u64,
}

/// The levels of all positions at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample {
    levels: u64,
    doubtful: u64,
}

impl Socket for SimulatedSocket {
    type Drive = Drive;
    type Compare = Compare;
    type Sample = Sample;

    fn prepare_drive(&self, driven: Positions, high: Positions) -> Drive {
        Drive { driven: driven.bits(), high: high.and(driven).bits() }
    }

    fn prepare_compare(&self, compared: Positions, high: Positions) -> Compare {
        Compare { compared: compared.bits(), high: high.and(compared).bits() }
    }

    fn apply(&mut self, drive: &Drive) {
        self.latched = self.latched & !drive.driven | drive.high;
        self.set_drivers(drive.driven, drive.high);
    }

    fn sample(&mut self) -> Sample {
        let (levels, doubtful) = self.read_levels();
        Sample { levels, doubtful }
    }

    fn differing(&self, sample: &Sample, compare: &Compare) -> Positions {
        let doubtful = (sample.doubtful & compare.compared).count_ones();
        self.doubtful.set(self.doubtful.get() + u64::from(doubtful));
        Positions::from_bits((sample.levels ^ compare.high) & compare.compared)
    }

    fn high(&self, sample: &Sample) -> Positions {
        Positions::from_bits(sample.levels)
    }

    fn keep(&mut self, keepers: Keepers) {
        self.count_change();
        if keepers != self.keepers {
            self.keepers = keepers;
            self.update(Nodes::MAX);
        }
    }

    fn release(&mut self) {
        self.set_drivers(0, 0);
        self.keep(Keepers::OFF);
    }
}

/// A tick is a nanosecond.
impl Moves for SimulatedSocket {
    type Levels = Levels;
    type Directions = Directions;

    const NO_LEVELS: Levels = Levels { positions: 0, high: 0 };

    fn prepare_levels(&self, positions: Positions, high: Positions) -> Levels {
        Levels { positions: positions.bits(), high: high.and(positions).bits() }
    }

    fn join(first: Levels, second: Levels) -> Levels {
        Levels { positions: first.positions | second.positions, high: first.high | second.high }
    }

    fn set(&mut self, levels: &Levels) {
        self.latched = self.latched & !levels.positions | levels.high;
        self.set_drivers(self.driven, self.latched);
    }

    fn prepare_directions(&self, driven: Positions) -> Directions {
        Directions { driven: driven.bits() }
    }

    fn direct(&mut self, directions: &Directions) {
        self.set_drivers(directions.driven, self.latched);
    }

    fn is_tripped(&self) -> bool {
        self.tripped
    }

    fn ticks(&mut self) -> u32 {
        self.now as u32
    }

    fn prepare_wait(&self, ns: u32) -> u32 {
        ns
    }

    fn wait(&mut self, ticks: u32) {
        self.advance(u64::from(ticks));
    }
}

impl Supply for SimulatedSocket {
    fn connect(&mut self, connection: &Connection) -> Result<(), SupplyFault> {
        let Connection { feed, ground, voltage, limit } = *connection;
        self.disconnect();
        self.tripped = false;
        let limit_amps = f64::from(limit.0.min(self.fixture.current_max_ua)) * 1e-6;
        if !feed.without(self.fixture.feed).is_empty()
            || !ground.without(self.fixture.ground).is_empty()
            || feed.overlaps(ground)
        {
            return Err(SupplyFault::Unconnectable);
        }
        let volts = f64::from(voltage.millivolts().0) * 1e-3;
        self.power = Some(Power { feed: 0, ground: ground.bits(), volts, limit_amps });
        self.update(Nodes::MAX);
        self.power = Some(Power { feed: feed.bits(), ground: ground.bits(), volts, limit_amps });
        self.update(Nodes::MAX);
        if self.tripped {
            self.disconnect();
            return Err(SupplyFault::Tripped);
        }
        Ok(())
    }

    fn disconnect(&mut self) {
        if let Some(power) = self.power.take() {
            self.update(Nodes::MAX);
            self.settle_at_once(power.feed | power.ground);
        }
    }

    fn connected(&self) -> bool {
        self.power.is_some_and(|power| power.feed != 0)
    }

    fn tripped(&mut self) -> bool {
        self.tripped
    }

    fn current(&mut self) -> Microamps {
        let step = f64::from(self.fixture.current_step_ua);
        let steps = (self.supply_amps() * 1e6 / step).round().max(0.0);
        Microamps((steps * step) as u32)
    }

    fn voltage_at(&mut self, position: u8) -> Option<Millivolts> {
        let measured = position <= POSITIONS && self.fixture.feed.contains(position);
        measured.then(|| self.shown_millivolts(position))
    }
}

impl DelayNs for SimulatedSocket {
    fn delay_ns(&mut self, ns: u32) {
        self.advance(u64::from(ns));
    }
}

impl Clock for SimulatedSocket {
    fn now(&mut self) -> Nanoseconds {
        Nanoseconds(self.now)
    }
}
