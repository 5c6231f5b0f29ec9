//! The reference fixture in figures: what stands between the controller and the socket.
//!
//! The values are the fixture's own. Resistors are 1 %, the supply comes from an external 5 V
//! input, and decoupling capacitors sit on the rail before the shunts and the feed switches, never
//! at a position: what a switched position holds is a few picofarads.

use crate::clocking::Clocking;
use crate::map::{FEED_POSITIONS, GROUND_POSITIONS};
use dipsift_pins::Voltage;
pub use dipsift_pins::{Microamps, Millivolts};
use dipsift_wire::{Capabilities, Kind, MAX_CODE};

/// Between a pin of the controller and its position.
pub const SERIES_OHMS: u32 = 220;
/// Light keeper, one per position, behind its own three-state buffer.
pub const LIGHT_KEEPER_OHMS: u32 = 22_000;
/// Firm keeper, one per position, behind its own three-state buffer.
pub const FIRM_KEEPER_OHMS: u32 = 2_200;
/// The controller's supply, the drivers' and keepers' high level, and the ADC's reference.
pub const DRIVE_MILLIVOLTS: u16 = 3_300;
/// The external input, ±5 %.
pub const INPUT_MILLIVOLTS: u16 = 5_000;
/// The most that the input, and so a position, may have.
pub const INPUT_MAX_MILLIVOLTS: u16 = 5_250;
/// The fuse in the external input, behind its reverse polarity protection.
pub const FUSE_MILLIAMPS: u32 = 500;
/// How far the 3.3 V of the rail may be off.
pub const LOW_RAIL_PERCENT: u32 = 3;

/// On the rail, before the shunts.
pub const RAIL_MICROFARADS: u32 = 10;
/// Beside it, for the fast part.
pub const RAIL_NANOFARADS: u32 = 100;
/// At most in the supply's way but for the shunt and the switches at the socket: limiter, voltage
/// select, enable, and the switch that bridges the fine shunt.
pub const PATH_MILLIOHMS: u32 = 150;
/// From the rail to ground while the bleeder is on.
pub const BLEEDER_OHMS: u32 = 100;
/// How long the bleeder gets before the supply goes on again: six time constants.
pub const DISCHARGE_MICROSECONDS: u32 = 6 * RAIL_MICROFARADS * BLEEDER_OHMS;
/// How long a feed or ground switch takes at most.
pub const SWITCH_MICROSECONDS: u32 = 20;
/// What a feed or ground switch that is on may have.
pub const SWITCH_MILLIOHMS: u32 = 500;
/// What a feed or ground switch that is off may leak, with the full input across it either way
/// round.
pub const SWITCH_LEAK_NANOAMPS: u32 = 1_000;
/// How long the rail may take to come up before the supply counts as tripped.
pub const RAIL_UP_MICROSECONDS: u32 = 5_000;
/// The share of its nominal voltage at which the rail is up.
pub const RAIL_UP_PERCENT: u32 = 90;
/// The hardware limiter, which acts without the controller.
pub const LIMITER_MILLIAMPS: u32 = 400;
/// How long it may take.
pub const LIMITER_MICROSECONDS: u32 = 10;
/// Holds each control line of the fixture at its off level while the controller does not drive it:
/// at reset, without its supply, unplugged.
pub const PULL_OHMS: u32 = 10_000;
/// Below this controller supply a supervisor holds all feed switches off, whatever the pins do.
pub const SUPERVISOR_MILLIVOLTS: u16 = 2_900;

/// Always in the supply's way.
pub const SHUNT_MILLIOHMS: u32 = 500;
/// In the supply's way in the fine range, bridged by a switch otherwise.
pub const FINE_SHUNT_MILLIOHMS: u32 = 100_000;
/// The gain of both shunt amplifiers. They run from the controller's supply, so that their outputs
/// never stand above it; their inputs stand the full input without it.
pub const SENSE_GAIN: u32 = 20;
/// Between each shunt amplifier and its pin.
pub const SENSE_OHMS: u32 = 1_000;
/// How long the fine range takes to settle.
pub const FINE_SETTLE_MICROSECONDS: u32 = 50;
/// The steps of the ADC.
pub const ADC_STEPS: u32 = 4_096;
/// The divider at each feed position, upper and lower resistor alike. It loads a light keeper by a
/// tenth; the ADC's longest sampling time allows for its source resistance.
pub const DIVIDER_OHMS: u32 = 100_000;

/// The largest current limit.
pub const CURRENT_MAX: Microamps = Microamps(300_000);
/// Below this the fine range is used.
pub const FINE_MAX: Microamps = Microamps(1_000);

/// Whether a line of the fixture, by its name in the map, rests high. Each has a pull to its resting
/// level, at which what it controls is off; the rest of them rest low.
pub fn rests_high(line: &str) -> bool {
    matches!(line, "light keepers, enable" | "firm keepers, enable" | "limiter fault")
}

/// What is lost between the input and a chip that draws a current: the way to the shunts, the
/// shunt, a feed switch and a ground switch.
pub const fn lost(current: Microamps) -> Millivolts {
    let milliohms = PATH_MILLIOHMS + SHUNT_MILLIOHMS + 2 * SWITCH_MILLIOHMS;
    Millivolts((current.0 as u64 * milliohms as u64 / 1_000_000) as u16)
}

/// What the divider of a fed position draws, which is part of every measured current.
pub const fn divider_current(at: Millivolts) -> Microamps {
    Microamps(at.0 as u32 * 1_000 / (2 * DIVIDER_OHMS))
}

/// Microamperes at the ADC's full scale behind a shunt.
const fn full_scale_ua(milliohms: u32) -> u32 {
    // mV / mΩ is A.
    (DRIVE_MILLIVOLTS as u64 * 1_000_000 / (milliohms * SENSE_GAIN) as u64) as u32
}

const fn microamps(reading: u16, milliohms: u32) -> Microamps {
    let scaled = reading as u64 * full_scale_ua(milliohms) as u64;
    Microamps(((scaled + ADC_STEPS as u64 / 2) / ADC_STEPS as u64) as u32)
}

/// The supply current of a reading in the whole range.
pub const fn current(reading: u16) -> Microamps {
    microamps(reading, SHUNT_MILLIOHMS)
}

/// The supply current of a reading in the fine range.
pub const fn fine_current(reading: u16) -> Microamps {
    microamps(reading, FINE_SHUNT_MILLIOHMS)
}

/// The largest reading that does not pass a current limit.
pub const fn threshold(limit: Microamps) -> u16 {
    let reading = limit.0 as u64 * ADC_STEPS as u64 / full_scale_ua(SHUNT_MILLIOHMS) as u64;
    if reading < ADC_STEPS as u64 { reading as u16 } else { (ADC_STEPS - 1) as u16 }
}

/// The voltage at a feed position of a reading behind its divider.
pub const fn position_voltage(reading: u16) -> Millivolts {
    let scaled = 2 * reading as u32 * DRIVE_MILLIVOLTS as u32;
    Millivolts(((scaled + ADC_STEPS / 2) / ADC_STEPS) as u16)
}

/// The voltage at which the rail counts as up.
pub const fn rail_up(voltage: Voltage) -> Millivolts {
    Millivolts((voltage.millivolts().0 as u32 * RAIL_UP_PERCENT / 100) as u16)
}

/// What a station with this fixture can do, at the clock that it runs on.
pub const fn capabilities(clocking: Clocking) -> Capabilities {
    Capabilities {
        feed: FEED_POSITIONS.bits(),
        ground: GROUND_POSITIONS.bits(),
        v3_3: true,
        v5: true,
        light_keeper_ohms: LIGHT_KEEPER_OHMS,
        firm_keeper_ohms: FIRM_KEEPER_OHMS,
        series_ohms: SERIES_OHMS,
        drive_mv: DRIVE_MILLIVOLTS,
        current_max_ua: CURRENT_MAX.0,
        current_step_ua: full_scale_ua(SHUNT_MILLIOHMS).div_ceil(ADC_STEPS),
        window_bytes: MAX_CODE as u16,
        window_steps: WINDOW_STEPS as u16,
        step_ns: clocking.cycle_ns(),
        sample_ns: clocking.cycle_ns() * SAMPLE_CYCLES,
        kinds: kinds(clocking),
    }
}

/// On the slow fallback a refresh, and with it a dynamic memory, would come too late.
const fn kinds(clocking: Clocking) -> u8 {
    let march = !matches!(clocking, Clocking::Slow);
    1 << Kind::Vector as u8 | (march as u8) << Kind::March as u8
}

/// The most steps in a window.
pub const WINDOW_STEPS: usize = 512;
/// A sample is taken within so many cycles after the wait before it, bus and synchronisers
/// included: the instructions around the wait, and the three ports one after the other. The test
/// `delays` on the emulated board bounds it.
const SAMPLE_CYCLES: u32 = 16;

#[cfg(test)]
mod tests {
    use super::*;

    /// Ohm's law, in floats.
    fn volts_at_adc(amps: f64, shunt_ohms: f64) -> f64 {
        amps * shunt_ohms * 20.0
    }

    #[test]
    fn currents_are_read_as_they_flow() {
        for (amps, fine) in [(0.0, false), (0.010, false), (0.150, false), (0.300, false)]
            .into_iter()
            .chain([(1e-6, true), (50e-6, true), (1e-3, true), (1.5e-3, true)])
        {
            let volts = volts_at_adc(amps, if fine { 100.0 } else { 0.5 });
            let reading = (volts / 3.3 * 4096.0).round();
            assert!(reading < 4096.0, "{amps} A is out of range");
            let read = if fine { fine_current(reading as u16) } else { current(reading as u16) };
            let step = if fine { 0.5e-6 } else { 81e-6 };
            assert!((f64::from(read.0) * 1e-6 - amps).abs() <= step, "{amps} A read as {read:?}");
        }
    }

    #[test]
    fn the_watch_acts_just_above_the_limit() {
        for limit in (1_000..=CURRENT_MAX.0).step_by(997) {
            let threshold = threshold(Microamps(limit));
            assert!(current(threshold).0 <= limit + 1, "{limit}");
            assert!(current(threshold + 1).0 > limit, "{limit}");
        }
        assert_eq!(threshold(Microamps(u32::MAX)), 4095);
    }

    #[test]
    fn the_fine_range_reaches_beyond_its_switching_point() {
        assert!(fine_current(4095).0 > FINE_MAX.0 * 3 / 2);
    }

    #[test]
    fn voltages_reach_beyond_the_input() {
        assert_eq!(position_voltage(0), Millivolts(0));
        let reading = (5.0 / 2.0 / 3.3 * 4096.0) as u16;
        assert!(position_voltage(reading).0.abs_diff(5_000) <= 2);
        assert!(position_voltage(4095).0 > INPUT_MAX_MILLIVOLTS);
    }

    #[test]
    fn a_light_keeper_still_pulls_a_measured_position_high() {
        // ST DS9405, I/O static characteristics: VIH 0.7 VDD, from memory.
        let divider = f64::from(2 * DIVIDER_OHMS);
        let volts = 3.3 * divider / (divider + f64::from(LIGHT_KEEPER_OHMS));
        assert!(volts > 0.7 * 3.3 + 0.5, "{volts}");
    }

    #[test]
    fn the_adc_settles_through_the_divider() {
        // ST DS9405, ADC characteristics, equation 1, from memory: the largest source resistance
        // is (k - 0.5) / (f C ln 2^(N+2)) - R, with R 6 kΩ, C 7 pF at most, N 12, k 480 cycles.
        let allowed = 479.5 / (21e6 * 7e-12 * (2.0_f64.powi(14)).ln()) - 6e3;
        assert!(f64::from(DIVIDER_OHMS) / 2.0 < allowed / 2.0, "{allowed}");
    }

    #[test]
    fn a_heavy_chip_still_gets_its_supply() {
        // 74181: 150 mA at most (TI SDLS136, from memory). 74 series: 4.75 V at least (TI SDLS025).
        assert!(INPUT_MILLIVOLTS - lost(Microamps(150_000)).0 >= 4_750);
        // 54 series: 4.5 V at least (TI SDLS025), at the most that a chip may draw.
        assert!(INPUT_MILLIVOLTS - lost(CURRENT_MAX).0 >= 4_500);
    }

    #[test]
    fn lines_that_act_low_rest_high() {
        use crate::map::{FIRM_ENABLE, LIGHT_ENABLE, LIMITER_FAULT, used};
        let high: std::vec::Vec<_> =
            used().filter(|(name, ..)| rests_high(name)).map(|(.., pin)| pin).collect();
        assert_eq!(high, [LIGHT_ENABLE, FIRM_ENABLE, LIMITER_FAULT]);
    }

    #[test]
    fn each_limit_acts_before_the_next_is_reached() {
        const { assert!(CURRENT_MAX.0 < LIMITER_MILLIAMPS * 1_000) };
        const { assert!(LIMITER_MILLIAMPS < FUSE_MILLIAMPS) };
        const { assert!(full_scale_ua(SHUNT_MILLIOHMS) > CURRENT_MAX.0) };
    }

    #[test]
    fn switches_that_are_off_move_no_level() {
        let switches = f64::from(FEED_POSITIONS.count() + GROUND_POSITIONS.count());
        let amps = switches * f64::from(SWITCH_LEAK_NANOAMPS) * 1e-9;
        // Even all of them against one light keeper: less than the noise margin of TTL (TI
        // SDLS025: VIL 0.8 V, VOL 0.4 V).
        let volts = amps * f64::from(LIGHT_KEEPER_OHMS);
        assert!(volts < 0.42, "{volts}");
    }

    #[test]
    fn the_divider_of_a_fed_position_is_seen_in_the_fine_range_and_leaves_it_room() {
        let divider = divider_current(Millivolts(INPUT_MAX_MILLIVOLTS));
        assert_eq!(divider, Microamps(26));
        assert!(FEED_POSITIONS.count() * divider.0 < FINE_MAX.0);
    }

    #[test]
    fn the_rail_is_empty_after_the_discharge() {
        let seconds = f64::from(DISCHARGE_MICROSECONDS) * 1e-6;
        let constant = f64::from(RAIL_MICROFARADS) * 1e-6 * f64::from(BLEEDER_OHMS);
        assert!(5.25 * (-seconds / constant).exp() < 0.05);
        // A quarter-watt resistor: nothing charges the rail while it is on.
        assert!(5.25 * 5.25 / f64::from(BLEEDER_OHMS) < 0.3);
    }
}
