//! Levels at the socket.

use super::board::Board;
use super::gpio::{set_modes, set_word};
use super::ports::{D, E, F, INPUTS, LEVELS, MODES, read, socket_ports, write};
use super::safe;
use dipsift_nucleo_f429zi::map::{FIRM_ENABLE, FIRM_LEVEL, LIGHT_ENABLE, LIGHT_LEVEL, Pin};
use dipsift_nucleo_f429zi::words::{
    self, Compare, Directions, Drive, Levels, PORTS, Sample, compare, drive,
};
use dipsift_pins::{Keepers, Moves, Positions, Rail, Socket};

/// The word that puts a keeper rail's level.
fn level(rail: Rail, pin: Pin) -> u32 {
    if rail == Rail::High { 1 << pin.bit } else { 1 << (pin.bit + 16) }
}

/// The word that turns a keeper rail on, if it is to be.
fn enable(rail: Rail, pin: Pin) -> u32 {
    if rail == Rail::Off { 0 } else { 1 << (pin.bit + 16) }
}

impl Socket for Board {
    type Drive = Drive;
    type Compare = Compare;
    type Sample = Sample;

    fn prepare_drive(&self, driven: Positions, high: Positions) -> Drive {
        drive(driven, high)
    }

    fn prepare_compare(&self, compared: Positions, high: Positions) -> Compare {
        compare(compared, high)
    }

    /// Levels of all ports first, so that a position that becomes driven starts at its level.
    #[inline]
    fn apply(&mut self, drive: &Drive) {
        for (port, word) in PORTS.into_iter().zip(drive.levels) {
            set_word(port, word);
        }
        for (port, word) in PORTS.into_iter().zip(drive.modes) {
            set_modes(port, word);
        }
    }

    #[inline]
    fn sample(&mut self) -> Sample {
        let base = socket_ports();
        Sample::new([E, F, D].map(|port| read(base, port + INPUTS)))
    }

    fn differing(&self, sample: &Sample, compare: &Compare) -> Positions {
        compare.differing(sample)
    }

    #[inline]
    fn agrees(&self, sample: &Sample, compare: &Compare) -> bool {
        compare.agrees(sample)
    }

    fn high(&self, sample: &Sample) -> Positions {
        sample.high()
    }

    /// Off, then levels, then on: a rail never drives the level that it had before.
    fn keep(&mut self, keepers: Keepers) {
        safe::keepers_off();
        let Keepers { light, firm } = keepers;
        set_word(LIGHT_LEVEL.port, level(light, LIGHT_LEVEL) | level(firm, FIRM_LEVEL));
        set_word(LIGHT_ENABLE.port, enable(light, LIGHT_ENABLE) | enable(firm, FIRM_ENABLE));
    }

    fn release(&mut self) {
        safe::release_drivers();
        safe::keepers_off();
    }
}

impl Moves for Board {
    type Levels = Levels;
    type Directions = Directions;

    const NO_LEVELS: Levels = Levels([0; 3]);

    /// The comparison and the way round the shortest loop are fourteen instructions of a cycle or
    /// more; the tests on the emulated board measure it at the pins.
    const AFTER_READ: u32 = 12;

    fn prepare_levels(&self, positions: Positions, high: Positions) -> Levels {
        words::levels(positions, high)
    }

    #[inline]
    fn join(first: Levels, second: Levels) -> Levels {
        first.join(second)
    }

    /// A word of zeros changes nothing and costs less than to ask whether it is one.
    #[inline(always)]
    fn set(&mut self, levels: &Levels) {
        let base = socket_ports();
        for (port, word) in [E, F, D].into_iter().zip(levels.0) {
            write(base, port + LEVELS, word);
        }
    }

    fn prepare_directions(&self, driven: Positions) -> Directions {
        words::directions(driven)
    }

    #[inline(always)]
    fn direct(&mut self, directions: &Directions) {
        let base = socket_ports();
        for (port, word) in [E, F, D].into_iter().zip(directions.0) {
            write(base, port + MODES, word);
        }
    }

    #[inline(always)]
    fn is_tripped(&self) -> bool {
        super::safe::has_tripped()
    }

    #[inline(always)]
    fn ticks(&mut self) -> u32 {
        super::time::ticks()
    }

    fn prepare_wait(&self, ns: u32) -> u32 {
        self.time.cycles(ns)
    }

    #[inline(always)]
    fn wait(&mut self, ticks: u32) {
        super::time::wait(ticks);
    }

    /// From a change to the first port of a sample after it lies the wait and 40 to 65 ns, some
    /// 100 ns at least; the last port follows 24 ns later. Each cycle more of the wait is a cycle
    /// more between them.
    #[inline(always)]
    fn wait_closely(&mut self, ticks: u32) {
        super::time::wait_closely(ticks);
    }
}
