//! What a level or a time comes to, by hand formulas on the same figures.
//!
//! For whoever must say why a defect escapes: the computed voltage or time beside its threshold.
//! Nothing here looks at a socket. Voltages are in volts, resistances in ohms.

use crate::figures::{FLOAT_VOLTS, INPUT_DROP_VOLTS, figures};
use crate::{Defect, Fixture};
use dipsift_language::Family;
use dipsift_pins::{Nanoseconds, Rail};

/// The voltage of two sources on one node, each behind its resistance.
fn joined(first: (f64, f64), second: (f64, f64)) -> f64 {
    (first.0 / first.1 + second.0 / second.1) / (1.0 / first.1 + 1.0 / second.1)
}

/// A low output that a keeper pulls high, with `added` resistance in the output.
pub fn output_low_volts(
    fixture: &Fixture,
    family: Family,
    supply: f64,
    keeper: f64,
    added: f64,
) -> f64 {
    let figures = figures(family);
    let output = (figures.low_volts, figures.low_ohms.at(supply) + added);
    joined(output, (fixture.drive_volts, keeper))
}

/// A high output that a keeper pulls low, with `added` resistance in the output.
pub fn output_high_volts(family: Family, supply: f64, keeper: f64, added: f64) -> f64 {
    let figures = figures(family);
    let output = (supply - figures.high_drop_volts, figures.high_ohms.at(supply) + added);
    joined(output, (0.0, keeper))
}

/// An input of `load` unit loads that a driver or keeper of `ohms` pulls low.
pub fn input_low_volts(family: Family, supply: f64, load: f64, ohms: f64) -> f64 {
    match figures(family).input_ohms {
        Some(unit) if load > 0.0 => {
            joined((supply - INPUT_DROP_VOLTS, unit / load), (0.0, ohms)).min(FLOAT_VOLTS)
        }
        _ => 0.0,
    }
}

/// A leaky input that a driver or keeper of `ohms` pulls high. `load` is its unit loads.
pub fn leaky_volts(
    fixture: &Fixture,
    family: Family,
    supply: f64,
    load: f64,
    leak: f64,
    ohms: f64,
) -> f64 {
    let alone = joined((fixture.drive_volts, ohms), (0.0, leak));
    match figures(family).input_ohms {
        Some(unit) if load > 0.0 && alone < FLOAT_VOLTS => {
            // Down there the input's own current helps to lift it.
            let (source, conductance) =
                (supply - INPUT_DROP_VOLTS, load / unit + 1.0 / ohms + 1.0 / leak);
            ((source * load / unit + fixture.drive_volts / ohms) / conductance).min(FLOAT_VOLTS)
        }
        _ => alone,
    }
}

/// A disabled three-state output, without input, that a keeper of `ohms` pulls to a rail.
pub fn released_volts(fixture: &Fixture, family: Family, rail: Rail, ohms: f64) -> f64 {
    let drop = figures(family).three_state_amps * ohms;
    match rail {
        Rail::High => fixture.drive_volts - drop,
        Rail::Low => drop,
        Rail::Off => 0.0,
    }
}

/// The delay of an output with a defect of this family at this supply: [`Defect::Slow`] makes it
/// longer.
pub fn delay(family: Family, supply: f64, defect: Option<&Defect>) -> Nanoseconds {
    let factor = match defect {
        Some(Defect::Slow { factor, .. }) => f64::from(*factor),
        _ => 1.0,
    };
    Nanoseconds((figures(family).delay_seconds.at(supply) * 1e9 * factor).ceil() as u64)
}

/// How long a position takes to rest behind a resistance: five time constants.
pub fn settling(fixture: &Fixture, ohms: f64) -> Nanoseconds {
    Nanoseconds((5e9 * ohms * fixture.node_farads).ceil() as u64)
}
