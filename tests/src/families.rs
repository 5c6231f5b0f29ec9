//! Which verdict a chip of another family deserves, from the figures of both families: what its
//! inputs and outputs come to on this fixture, against the thresholds of chip and station.

use crate::rules::Verdict;
use dipsift_bench::{Outcome, Prepared};
use dipsift_generator::Conditions;
use dipsift_language::{Family, Output, PackageKind, Pin, Role};
use dipsift_pins::Rail as PinRail;
use dipsift_simulator::{FLOAT_VOLTS, Figures, Fixture, figures, predict};
use dipsift_wire::{Rail, Strength};

/// What a marked part in this family deserves if it really is of the `real` one.
pub fn other_family(prepared: &Prepared, real: Family) -> Verdict {
    let supply = f64::from(prepared.supply.millivolts()) / 1_000.0;
    let chip = figures(real);
    if supply < chip.works_volts {
        let why = format!("{supply} V against the {} V that it needs", chip.works_volts);
        return Verdict::because(vec![Outcome::NoGo], why);
    }
    if prepared.part.package(PackageKind::Dip, real) != Some(&prepared.package) {
        return Verdict::because(vec![Outcome::NoGo], "another pinout".into());
    }
    let fixture = Fixture::default();
    let keeper = keeper_ohms(prepared, &fixture);
    // An output changes after its delay, then charges its position against the keeper.
    let weaker = chip.low_ohms.at(supply).max(chip.high_ohms.at(supply));
    let charging = predict::settling(&fixture, weaker * keeper / (weaker + keeper)).0;
    let takes = predict::delay(real, supply, None).0 + charging;
    let waits = u64::from(prepared.supply.settle_ns.max(prepared.vectors.settle_ns));
    if takes > waits {
        let why = format!("{takes} ns against {waits} ns of settling");
        return Verdict::because(vec![Outcome::NoGo], why);
    }
    let judged = Judged { prepared, real, chip, supply, keeper, fixture };
    let mut findings: Vec<Finding> =
        prepared.part.pins.iter().flat_map(|pin| judged.pin(pin)).collect();
    findings.sort_by_key(|finding| finding.fit);
    match findings.first() {
        Some(Finding { fit: Fit::Bad, why }) => Verdict::because(vec![Outcome::NoGo], why.clone()),
        // The failure may look like a weak low.
        Some(Finding { fit: Fit::WeakLow, why }) => {
            Verdict::because(vec![Outcome::NotDecided, Outcome::NoGo], why.clone())
        }
        // Each doubtful level is read as it may.
        Some(Finding { fit: Fit::Doubtful, why }) => {
            Verdict::because(vec![Outcome::NoGo, Outcome::Go], why.clone())
        }
        // The chip itself takes a level as it may, which can look like a weak low too.
        Some(Finding { fit: Fit::Undefined, why }) => {
            Verdict::because(vec![Outcome::NoGo, Outcome::Go, Outcome::NotDecided], why.clone())
        }
        None => Verdict::because(
            vec![Outcome::Go],
            format!("every level holds at {supply} V; {takes} ns against {waits} ns of settling"),
        ),
    }
}

fn keeper_ohms(prepared: &Prepared, fixture: &Fixture) -> f64 {
    match prepared.supply.keeper {
        Strength::Light => fixture.light_ohms,
        Strength::Firm => fixture.firm_ohms,
    }
}

/// What a pin's level means, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Fit {
    Bad,
    WeakLow,
    Undefined,
    Doubtful,
}

struct Finding {
    fit: Fit,
    why: String,
}

struct Judged<'a> {
    prepared: &'a Prepared,
    real: Family,
    chip: &'static Figures,
    supply: f64,
    keeper: f64,
    fixture: Fixture,
}

impl Judged<'_> {
    fn pin(&self, pin: &Pin) -> Vec<Finding> {
        let mut found = Vec::new();
        if matches!(pin.role, Role::Input | Role::Bidirectional) {
            found.extend(self.driven_high(pin));
            found.extend(self.driven_low(pin));
        }
        if pin.role == Role::Input {
            found.extend(self.released_input(pin));
        }
        match pin.output {
            Some(Output::ThreeState) => found.extend(self.released_output(pin)),
            Some(Output::OpenCollector) => {
                let volts = self.fixture.drive_volts - self.keeper * self.chip.open_amps;
                found.extend(self.should_be_high(pin, "open collector pulled up", volts));
            }
            _ => {}
        }
        found
    }

    /// The station's high against what the chip takes for one.
    fn driven_high(&self, pin: &Pin) -> Option<Finding> {
        let threshold = if pin.schmitt { self.chip.hysteresis } else { self.chip.threshold };
        let (_, _, needed) = threshold.at(self.supply);
        let volts = self.fixture.drive_volts;
        (volts < needed).then(|| Finding {
            fit: Fit::Undefined,
            why: format!("{volts:.1} V against the {needed:.1} V that is a high"),
        })
    }

    /// The driver's low, lifted by the input's own current and the keeper, against what the chip
    /// takes for a low. The station reads it before the series resistor, where it is low.
    fn driven_low(&self, pin: &Pin) -> Option<Finding> {
        let marked = &self.prepared.conditions;
        let (light, firm) = marked.rails(Rail::High);
        let conditions = Conditions { family: self.real, ..*marked };
        let volts = f64::from(conditions.driven_low_mv(pin, light, firm)) / 1_000.0;
        let threshold = if pin.schmitt { self.chip.hysteresis } else { self.chip.threshold };
        let (low, typical, _) = threshold.at(self.supply);
        let taken = if self.chip.input_ohms.is_none() || pin.schmitt { low } else { typical };
        let name = &pin.name;
        (volts >= taken).then(|| Finding {
            fit: Fit::WeakLow,
            why: format!("{name} driven low: {volts:.2} V against the chip's {taken} V"),
        })
    }

    /// An input that the keeper alone raises, once. Below its floating voltage a bipolar input
    /// holds itself.
    fn released_input(&self, pin: &Pin) -> Option<Finding> {
        let load = f64::from(pin.load_tenths) / 10.0;
        let volts = self.fixture.drive_volts - self.keeper * self.chip.input_high_amps * load;
        let volts = if self.chip.input_ohms.is_some() { volts.max(FLOAT_VOLTS) } else { volts };
        self.should_be_high(pin, "released", volts)
    }

    /// An output that is proven off by both keepers; its own input may hold it up.
    fn released_output(&self, pin: &Pin) -> Option<Finding> {
        let ohms = self.keeper;
        let high = predict::released_volts(&self.fixture, self.real, PinRail::High, ohms);
        let mut low = predict::released_volts(&self.fixture, self.real, PinRail::Low, ohms);
        if pin.role == Role::Bidirectional {
            let load = f64::from(pin.load_tenths) / 10.0;
            low = low.max(predict::input_low_volts(self.real, self.supply, load, ohms));
        }
        let certain = self.fixture.low_volts;
        let name = &pin.name;
        if low > certain {
            let fit = if low > self.fixture.high_volts { Fit::Bad } else { Fit::Doubtful };
            let why = format!("{name} off under the low keeper: {low:.2} V against {certain} V");
            return Some(Finding { fit, why });
        }
        self.should_be_high(pin, "off under the high keeper", high)
    }

    fn should_be_high(&self, pin: &Pin, state: &str, volts: f64) -> Option<Finding> {
        let (low, high) = (self.fixture.low_volts, self.fixture.high_volts);
        let why = format!("{} {state}: {volts:.2} V against {high} V", pin.name);
        if volts > high {
            None
        } else if volts < low {
            Some(Finding { fit: Fit::Bad, why })
        } else {
            Some(Finding { fit: Fit::Doubtful, why })
        }
    }
}
