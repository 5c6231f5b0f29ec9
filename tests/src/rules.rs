//! Which verdict a defect deserves, derived from the pin's role, the family's figures and closed
//! formulas: never from what the simulator did.

use dipsift_bench::{Outcome, Prepared};
use dipsift_language::{Class, Family, Output, PinId, Role};
use dipsift_simulator::{Defect, Fixture, INPUT_DROP_VOLTS, figures, predict};
use dipsift_wire::{Rail, Strength};

/// What a rule says of a defect on a chip.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The outcomes that are right.
    pub right: Vec<Outcome>,
    /// The computed figure against its threshold, where the defect may escape.
    pub why: String,
}

impl Verdict {
    fn only(outcome: Outcome) -> Self {
        Self { right: vec![outcome], why: String::new() }
    }

    pub(crate) fn because(right: Vec<Outcome>, why: String) -> Self {
        Self { right, why }
    }
}

/// Low and high levels that the station reads with certainty, in volts.
fn certain() -> (f64, f64) {
    let fixture = Fixture::default();
    (fixture.low_volts, fixture.high_volts)
}

fn volts(prepared: &Prepared) -> f64 {
    f64::from(prepared.supply.millivolts()) / 1_000.0
}

fn keeper_ohms(prepared: &Prepared) -> f64 {
    let fixture = Fixture::default();
    match prepared.supply.keeper {
        Strength::Light => fixture.light_ohms,
        Strength::Firm => fixture.firm_ohms,
    }
}

/// What stands at a pin number.
pub fn pin(prepared: &Prepared, number: u8) -> Option<PinId> {
    prepared.package.at(number)
}

fn role(prepared: &Prepared, number: u8) -> Option<Role> {
    pin(prepared, number).map(|id| prepared.part.pin(id).role)
}

/// The low input level that every TTL family guarantees (TI SN7400 data sheet, SDLS025).
const TTL_LOW_MV: u32 = 800;

/// Whether an input is so heavy that its driven low is above what the family guarantees: a chip
/// that takes it for a high cannot be told from a good one. The controller reads a driven pin
/// before its series resistor, where it looks as driven.
fn too_heavy(prepared: &Prepared, number: u8) -> bool {
    let Some(id) = pin(prepared, number) else { return false };
    let (light, firm) = prepared.conditions.rails(Rail::High);
    role(prepared, number) == Some(Role::Input)
        && prepared.family.class() == Class::Ttl
        && prepared.conditions.driven_low_mv(prepared.part.pin(id), light, firm) > TTL_LOW_MV
}

/// No-go, or not decided where the maker specifies no supply as low as the one here.
fn bad_unless_unspecified(prepared: &Prepared) -> Outcome {
    match prepared.family {
        Family::B | Family::Ub => Outcome::NotDecided,
        _ => Outcome::NoGo,
    }
}

/// What a defect deserves when the user has not said that the chip is seated.
pub fn verdict(prepared: &Prepared, defect: &Defect) -> Verdict {
    let supply = volts(prepared);
    let family = prepared.family;
    match *defect {
        // In place of its output stage, so that no output drives against it.
        Defect::Stuck { pin, high: true } if role(prepared, pin) != Some(Role::Input) => {
            Verdict::only(Outcome::NoGo)
        }
        Defect::Stuck { pin, high: true } => tied_to_supply(prepared, pin),
        Defect::Stuck { pin, high: false } => tied_to_ground(prepared, pin, 20.0),
        Defect::Open { .. } | Defect::SupplyOpen | Defect::SupplyShorted => {
            Verdict::only(Outcome::NotDecided)
        }
        Defect::TurnedRound | Defect::Shifted { .. } | Defect::Empty => {
            Verdict::only(Outcome::NotDecided)
        }
        Defect::Shorted { pin, other } => shorted(prepared, pin, other),
        Defect::Weak { pin, ohms } => weak(prepared, pin, f64::from(ohms)),
        Defect::Slow { .. } => {
            let delay = predict::delay(family, supply, Some(defect)).0;
            let waits = u64::from(prepared.supply.settle_ns.max(prepared.vectors.settle_ns));
            let why = format!("{delay} ns against {waits} ns of settling");
            // The run that tells slow from stuck waits at least twenty times as long.
            let right = if delay > waits * 20 {
                vec![Outcome::NoGo, bad_unless_unspecified(prepared)]
            } else if delay > waits {
                vec![bad_unless_unspecified(prepared)]
            } else {
                vec![Outcome::Go]
            };
            Verdict::because(right, why)
        }
        Defect::Leaky { pin, ohms } => leaky(prepared, pin, f64::from(ohms)),
        Defect::Family(real) => crate::families::other_family(prepared, real),
        Defect::Part(_) => {
            Verdict::because(vec![Outcome::NoGo, Outcome::NotDecided], "another function".into())
        }
        Defect::Memory(_) => Verdict::only(Outcome::NoGo),
        // Judged over repeated checks.
        Defect::Intermittent { .. } => {
            Verdict::because(vec![Outcome::NoGo, Outcome::NotDecided], "comes and goes".into())
        }
    }
}

/// An output that drives against a rail. What it takes may trip the supply, and if that happens
/// before the first vector it looks like a short. The chip's own current is at most six tenths of
/// its limit.
fn output_against_rail(prepared: &Prepared, amps: f64) -> Verdict {
    let limit = f64::from(prepared.supply.limit_ua) * 1e-6;
    let why = format!(
        "{:.0} mA, and up to {:.0} mA of its own, against {:.0} mA",
        amps * 1e3,
        600.0 * limit,
        limit * 1e3
    );
    let right = if amps + 0.6 * limit > limit {
        vec![Outcome::NoGo, Outcome::NotDecided]
    } else {
        vec![Outcome::NoGo]
    };
    Verdict::because(right, why)
}

/// A pin joined to the supply. A heavy input cannot be told from one that takes no low.
fn tied_to_supply(prepared: &Prepared, number: u8) -> Verdict {
    if role(prepared, number) != Some(Role::Input) {
        let (chip, supply) = (figures(prepared.family), volts(prepared));
        let amps = (supply - chip.low_volts) / chip.low_ohms.at(supply);
        return output_against_rail(prepared, amps);
    }
    if too_heavy(prepared, number) {
        return Verdict::because(
            vec![Outcome::NoGo, Outcome::NotDecided],
            "as a low that is too weak".into(),
        );
    }
    Verdict::only(Outcome::NoGo)
}

/// A pin tied to ground through `ohms`: before power, the keeper that pulls the supply up feeds it
/// through the input's own resistor, or through a high output of a MOS chip.
fn tied_to_ground(prepared: &Prepared, number: u8, ohms: f64) -> Verdict {
    let fixture = Fixture::default();
    let right = vec![Outcome::NoGo];
    let Some(id) = pin(prepared, number) else { return Verdict::only(Outcome::Go) };
    match figures(prepared.family).input_ohms {
        Some(unit) if role(prepared, number) == Some(Role::Input) => {
            let load = f64::from(prepared.part.pin(id).load_tenths) / 10.0;
            let path = unit / load + ohms;
            let drop = INPUT_DROP_VOLTS;
            let volts = drop + (fixture.drive_volts - drop) * path / (path + fixture.light_ohms);
            let why = format!("the supply pulled up to {volts:.2} V");
            // A tenth of a volt for the chip's other paths.
            let right = if volts < 0.85 { vec![Outcome::NoGo, Outcome::NotDecided] } else { right };
            Verdict::because(right, why)
        }
        None if role(prepared, number) != Some(Role::Input) => Verdict::because(
            vec![Outcome::NoGo, Outcome::NotDecided],
            "a high output of a chip that the keepers feed".into(),
        ),
        _ if ohms == 0.0 && role(prepared, number) != Some(Role::Input) => {
            let (chip, supply) = (figures(prepared.family), volts(prepared));
            let amps = (supply - chip.high_drop_volts) / chip.high_ohms.at(supply);
            output_against_rail(prepared, amps)
        }
        _ => Verdict::only(Outcome::NoGo),
    }
}

fn shorted(prepared: &Prepared, one: u8, other: u8) -> Verdict {
    let (Some(a), Some(b)) = (role(prepared, one), role(prepared, other)) else {
        return Verdict::because(
            vec![Outcome::Go],
            "one of the pins is connected to nothing inside".into(),
        );
    };
    let supply = |role| matches!(role, Role::Supply | Role::Fed);
    match (a, b) {
        (Role::Ground, b) if supply(b) => Verdict::only(Outcome::NotDecided),
        (a, Role::Ground) if supply(a) => Verdict::only(Outcome::NotDecided),
        (Role::Ground, _) => tied_to_ground(prepared, other, 0.0),
        (_, Role::Ground) => tied_to_ground(prepared, one, 0.0),
        (a, _) if supply(a) => tied_to_supply(prepared, other),
        (_, b) if supply(b) => tied_to_supply(prepared, one),
        _ if follows(prepared, one, other) || follows(prepared, other, one) => Verdict::because(
            vec![Outcome::Go],
            "the output always has the level of that input".into(),
        ),
        _ if (1..=prepared.package.pins.len() as u8).any(|pin| too_heavy(prepared, pin)) => {
            Verdict::because(
                vec![Outcome::NoGo, Outcome::NotDecided],
                "may look as if a heavy input took no low".into(),
            )
        }
        _ => Verdict::only(Outcome::NoGo),
    }
}

/// Whether an output only repeats that input: a buffer that is always on, shorted from end to end,
/// does what its data sheet says.
fn follows(prepared: &Prepared, output: u8, input: u8) -> bool {
    let (Some(output), Some(input)) = (pin(prepared, output), pin(prepared, input)) else {
        return false;
    };
    let driver = prepared.part.network.driver(output);
    driver.is_some_and(|driver| {
        driver.enable.is_none()
            && prepared.part.network.node(driver.value) == dipsift_language::Node::Pin(input)
    })
}

fn weak(prepared: &Prepared, number: u8, added: f64) -> Verdict {
    let (low, high) = certain();
    let fixture = Fixture::default();
    let (family, supply) = (prepared.family, volts(prepared));
    let keeper = keeper_ohms(prepared);
    let lows = predict::output_low_volts(&fixture, family, supply, keeper, added);
    let highs = predict::output_high_volts(family, supply, fixture.light_ohms, added);
    let open = pin(prepared, number)
        .is_some_and(|id| prepared.part.pin(id).output == Some(Output::OpenCollector));
    let why = format!(
        "low {lows:.2} V against {low} V{}",
        if open { String::new() } else { format!(", high {highs:.2} V against {high} V") }
    );
    let bad = bad_unless_unspecified(prepared);
    let right = if lows > high || (!open && highs < low) {
        vec![bad]
    } else if lows >= low || (!open && highs <= high) {
        // Read as it may: how often it is sampled decides.
        vec![bad, Outcome::Go]
    } else {
        vec![Outcome::Go]
    };
    Verdict::because(right, why)
}

fn leaky(prepared: &Prepared, number: u8, ohms: f64) -> Verdict {
    let (low, high) = certain();
    let fixture = Fixture::default();
    let (family, supply) = (prepared.family, volts(prepared));
    let Some(id) = pin(prepared, number) else { return Verdict::only(Outcome::Go) };
    let load = f64::from(prepared.part.pin(id).load_tenths) / 10.0;
    if role(prepared, number) == Some(Role::Input) {
        let volts =
            predict::leaky_volts(&fixture, family, supply, load, ohms, keeper_ohms(prepared));
        let why = format!("released {volts:.2} V against {low} V and {high} V");
        let right = if volts < low {
            vec![Outcome::NoGo]
        } else if volts <= high {
            // Read as it may: one sample decides.
            vec![Outcome::NoGo, Outcome::Go]
        } else {
            vec![Outcome::Go]
        };
        return Verdict::because(right, why);
    }
    // An output carries it, if its high is strong enough; one that is proven released or pulled
    // up shows it. Before power, a MOS chip that the keepers feed may show it as a short.
    let highs = predict::output_high_volts(family, supply, ohms, 0.0);
    let why = format!("high {highs:.2} V against {high} V");
    let mut right = match prepared.part.pin(id).output {
        Some(Output::TotemPole) if highs > high => vec![Outcome::Go],
        Some(Output::TotemPole) if highs < low => vec![Outcome::NoGo],
        _ => vec![Outcome::NoGo, Outcome::Go],
    };
    if family.class() != Class::Ttl {
        right.push(Outcome::NotDecided);
    }
    Verdict::because(right, why)
}
