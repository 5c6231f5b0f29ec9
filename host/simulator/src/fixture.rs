//! The simulated fixture, as data: by default the reference fixture of the board crate.

use dipsift_nucleo_f429zi::fixture;
use dipsift_nucleo_f429zi::map::{FEED_POSITIONS, GROUND_POSITIONS};
use dipsift_pins::{POSITIONS, Positions};
use dipsift_wire::{Capabilities, Kind, MAX_CODE};

/// What stands between the station and the socket. All resistances in ohms, voltages in volts.
#[derive(Clone, Debug, PartialEq)]
pub struct Fixture {
    /// Positions with a feed switch; each has a voltage measurement too.
    pub feed: Positions,
    /// Positions with a ground switch.
    pub ground: Positions,
    /// The drivers' and keepers' high level.
    pub drive_volts: f64,
    /// The resistor between a driver and its position.
    pub series_ohms: f64,
    /// The driver's own output resistance.
    pub driver_ohms: f64,
    /// The light keepers.
    pub light_ohms: f64,
    /// The firm keepers.
    pub firm_ohms: f64,
    /// A feed or ground switch that is on.
    pub switch_ohms: f64,
    /// What a position leaks to ground with everything off.
    pub leak_ohms: f64,
    /// The capacitance of a position with a chip in it.
    pub node_farads: f64,
    /// A level below this is read low with certainty.
    pub low_volts: f64,
    /// A level above this is read high with certainty.
    pub high_volts: f64,
    /// The largest current limit in microamperes.
    pub current_max_ua: u32,
    /// The resolution of current measurements in microamperes.
    pub current_step_ua: u32,
}

impl Default for Fixture {
    fn default() -> Self {
        Self {
            feed: FEED_POSITIONS,
            ground: GROUND_POSITIONS,
            drive_volts: f64::from(fixture::DRIVE_MILLIVOLTS) * 1e-3,
            series_ohms: f64::from(fixture::SERIES_OHMS),
            // STM32F405/407 data sheet: VOL at most 0.4 V at 8 mA.
            driver_ohms: 50.0,
            light_ohms: f64::from(fixture::LIGHT_KEEPER_OHMS),
            firm_ohms: f64::from(fixture::FIRM_KEEPER_OHMS),
            switch_ohms: f64::from(fixture::SWITCH_MILLIOHMS) * 1e-3,
            leak_ohms: 10e6,
            node_farads: 60e-12,
            // 0.3 and 0.7 of 3.3 V, STM32F405/407 data sheet, from memory.
            low_volts: 0.99,
            high_volts: 2.31,
            current_max_ua: fixture::CURRENT_MAX.0,
            current_step_ua: 100,
        }
    }
}

impl Fixture {
    /// The voltage between a driver's own resistance and its series resistor, with the position
    /// at `volts`.
    pub fn before_resistor(&self, volts: f64, high: bool) -> f64 {
        let drive = if high { self.drive_volts } else { 0.0 };
        drive + (volts - drive) * self.driver_ohms / self.drive_ohms()
    }

    /// The resistance of a driver up to its position.
    pub fn drive_ohms(&self) -> f64 {
        self.series_ohms + self.driver_ohms
    }

    /// What the fixture can do, in the station's words.
    pub fn capabilities(&self) -> Capabilities {
        Capabilities {
            feed: self.feed.bits(),
            ground: self.ground.bits(),
            v3_3: true,
            v5: true,
            light_keeper_ohms: self.light_ohms as u32,
            firm_keeper_ohms: self.firm_ohms as u32,
            series_ohms: self.series_ohms as u32,
            drive_mv: (self.drive_volts * 1_000.0).round() as u16,
            current_max_ua: self.current_max_ua,
            current_step_ua: self.current_step_ua,
            window_bytes: MAX_CODE as u16,
            window_steps: 512,
            step_ns: 1,
            sample_ns: 0,
            kinds: 1 << Kind::Vector as u8 | 1 << Kind::March as u8,
        }
    }
}

/// The position of a pin of a dual in-line package: pin 1 lies `shift` positions below position
/// 1, and a package that is `turned` lies with its pin 1 where the opposite pin belongs. `None`
/// where the pin falls outside the socket.
pub fn position_of(pin: u8, pins: u8, shift: u8, turned: bool) -> Option<u8> {
    if pin == 0 || pin > pins || pins > POSITIONS || pins % 2 == 1 || shift >= POSITIONS {
        return None;
    }
    let pin = if turned { (pin - 1 + pins / 2) % pins + 1 } else { pin };
    if pins / 2 + shift > POSITIONS / 2 {
        // The lower end would stand beyond position 20 or 21.
        let (left, reach) = (pin <= pins / 2, POSITIONS / 2);
        let row = if left { pin } else { pins + 1 - pin };
        if row + shift > reach {
            return None;
        }
    }
    if pin <= pins / 2 { Some(pin + shift) } else { Some(POSITIONS - pins + pin - shift) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_of_packages_land_where_the_socket_is_numbered() {
        assert_eq!(position_of(1, 14, 0, false), Some(1));
        assert_eq!(position_of(7, 14, 0, false), Some(7));
        assert_eq!(position_of(8, 14, 0, false), Some(34));
        assert_eq!(position_of(14, 14, 0, false), Some(40));
        assert_eq!(position_of(14, 14, 1, false), Some(39));
        assert_eq!(position_of(20, 40, 0, false), Some(20));
        assert_eq!(position_of(21, 40, 0, false), Some(21));
    }

    #[test]
    fn a_turned_package_swaps_opposite_corners() {
        assert_eq!(position_of(7, 14, 0, true), position_of(14, 14, 0, false));
        assert_eq!(position_of(14, 14, 0, true), position_of(7, 14, 0, false));
        assert_eq!(position_of(1, 14, 0, true), position_of(8, 14, 0, false));
    }

    #[test]
    fn what_hangs_over_the_end_has_no_position() {
        assert_eq!(position_of(20, 40, 1, false), None);
        assert_eq!(position_of(21, 40, 1, false), None);
        assert_eq!(position_of(19, 40, 1, false), Some(20));
        assert_eq!(position_of(22, 40, 1, false), Some(21));
        assert_eq!(position_of(15, 14, 0, false), None);
    }
}
