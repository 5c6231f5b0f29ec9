//! Everything that a check of one part needs, made once.

use crate::memory::Layout;
use crate::preflight::Look;
use crate::{NoPlacement, Outcome, Placement, ProgramHash, Reason, Report, SupplyChoice};
use dipsift_generator::{Conditions, Vectors};
use dipsift_language::{Family, Output, Package, PackageKind, Part, Role, marking};
use dipsift_wire::{Capabilities, Header, Kind, Pins, Power, Strength, Voltage};
use std::sync::Arc;

/// A part that is ready to be checked on one tester.
pub struct Prepared {
    /// The part.
    pub part: Arc<Part>,
    /// The family.
    pub family: Family,
    /// The name as people write it, `74LS00`.
    pub name: String,
    /// The package.
    pub package: Package,
    /// Where it sits.
    pub placement: Placement,
    /// How it is powered.
    pub supply: SupplyChoice,
    /// What its vectors were generated for.
    pub conditions: Conditions,
    /// Its vectors; none for a memory.
    pub vectors: Vectors,
    /// Its array, where it is a memory: it is marched then.
    pub memory: Option<Layout>,
    /// What a go does not say.
    pub not_tested: Vec<String>,
    /// The hash of its vectors as they are run; `None` for a memory.
    pub(crate) vectors_hash: Option<ProgramHash>,
    /// The look before power.
    pub(crate) look: Look,
}

/// A part that is not checked here, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// The part's number.
    pub part: String,
    /// The family's word.
    pub family: String,
    /// The name as people write it.
    pub name: String,
    /// Why, and what would be needed.
    pub sentences: Vec<String>,
}

impl Refused {
    /// A refusal with one sentence.
    pub fn because(part: &str, family: &str, name: String, sentence: String) -> Self {
        Self { part: part.into(), family: family.into(), name, sentences: vec![sentence] }
    }

    /// The refusal as a report.
    pub fn report(&self, tester: &str) -> Report {
        let mut report = Report::new(&self.part, &self.family, &self.name, tester);
        report.outcome = Outcome::Refused;
        report.reason = Reason::Unsupported;
        report.sentences.clone_from(&self.sentences);
        report
    }
}

/// What no check on this tester says, whatever the part.
const NEVER_TESTED: &[&str] = &[
    "delay: outputs are read a microsecond or more after each change",
    "drive: outputs carry a keeper's current, not their rated load",
    "temperature: the chip is at room temperature",
    "supply margin: the supply is at its nominal voltage",
];

/// The same for memories.
const MEMORY_NEVER_TESTED: &[&str] = &[
    "drive: outputs carry a keeper's current, not their rated load",
    "temperature: the chip is at room temperature",
    "supply margin: the supply is at its nominal voltage",
    "patterns beyond those of the march, such as faults of three cells",
];

/// The same for parts that are only read.
const READ_ONLY_NEVER_TESTED: &[&str] = &[
    "whether it holds what it should: compare its sums with those of a good part",
    "whether it can be erased or programmed",
    "drive: outputs carry a keeper's current, not their rated load",
    "temperature: the chip is at room temperature",
    "supply margin: the supply is at its nominal voltage",
];

/// The drivers' own output resistance (STM32F405/407 data sheet: 0.4 V at 8 mA at most).
const DRIVER_OHMS: u32 = 50;

/// The generator's conditions for a part on a tester.
pub(crate) fn conditions(
    family: Family,
    keeper: Strength,
    capabilities: &Capabilities,
) -> Conditions {
    Conditions {
        keeper,
        series_ohms: capabilities.series_ohms + DRIVER_OHMS,
        light_ohms: capabilities.light_keeper_ohms,
        firm_ohms: capabilities.firm_keeper_ohms,
        high_mv: capabilities.drive_mv.into(),
        ..Conditions::reference(family)
    }
}

/// Places a part, chooses its supply and generates its vectors.
pub(crate) fn prepare(
    part: &Arc<Part>,
    family: Family,
    capabilities: &Capabilities,
) -> Result<Prepared, Refused> {
    let refuse = |sentence: String| {
        Refused::because(&part.number, family.word(), marking(&part.number, family), sentence)
    };
    let missing = missing_supplies(part);
    if !missing.is_empty() {
        return Err(refuse(format!(
            "{} needs {}, which this socket does not have; this says nothing about the chip",
            part.number,
            missing.join(" and ")
        )));
    }
    let package = part.package(PackageKind::Dip, family).cloned().ok_or_else(|| {
        refuse(format!("{} has no dual in-line pinout in this family", part.number))
    })?;
    let supply = SupplyChoice::of(part, family);
    let offered = match supply.voltage {
        Voltage::V3_3 => capabilities.v3_3,
        Voltage::V5 => capabilities.v5,
    };
    if !offered {
        return Err(refuse(format!("this tester has no {} mV supply", supply.millivolts())));
    }
    let placement = Placement::find(part, &package, capabilities)
        .map_err(|error: NoPlacement| refuse(error.to_string()))?;
    let conditions = conditions(family, supply.keeper, capabilities);
    let (vectors, memory) = if part.memory.is_some() {
        (Vectors::default(), Some(Layout::of(part, &package, family).map_err(refuse)?))
    } else {
        let vectors = dipsift_generator::generate(part, &package, &conditions)
            .map_err(|error| refuse(error.to_string()))?;
        (vectors, None)
    };
    let connected = pins_with(part, &package, |role| !matches!(role, Role::Ground | Role::Open));
    let inputs = pins_with(part, &package, |role| role == Role::Input);
    let look = Look::new(&placement, family.class(), connected, inputs);
    let mut not_tested: Vec<String> = Vec::new();
    if part.pins.iter().any(|pin| pin.schmitt) {
        not_tested.push("hysteresis: inputs see full levels only".into());
    }
    if part.pins.iter().any(|pin| pin.output == Some(Output::OpenCollector)) {
        not_tested.push("the voltage that open-collector outputs stand".into());
    }
    let never = match &memory {
        Some(layout) if layout.is_read_only() => READ_ONLY_NEVER_TESTED,
        Some(_) => MEMORY_NEVER_TESTED,
        None => NEVER_TESTED,
    };
    not_tested.extend(never.iter().map(|line| (*line).to_string()));
    not_tested.extend(part.untested.iter().cloned());
    not_tested.extend(vectors.untested.iter().cloned());
    let mut prepared = Prepared {
        part: Arc::clone(part),
        family,
        name: marking(&part.number, family),
        package,
        placement,
        supply,
        conditions,
        vectors,
        memory,
        not_tested,
        vectors_hash: None,
        look,
    };
    if prepared.memory.is_none() {
        prepared.vectors_hash = ProgramHash::of(&prepared.header(false), &prepared.vectors.steps);
    }
    Ok(prepared)
}

/// The supplies that a part needs and that no socket with 5 V alone has, in words.
fn missing_supplies(part: &Part) -> Vec<String> {
    let volts = |millivolts: i32| {
        let (sign, size) = (if millivolts < 0 { '-' } else { '+' }, millivolts.abs());
        match size % 1_000 {
            0 => format!("{sign}{} V", size / 1_000),
            rest => format!("{sign}{}.{} V", size / 1_000, rest / 100),
        }
    };
    part.foreign_supplies().map(|(name, mv)| format!("{name} {}", volts(mv))).collect()
}

/// The package pins with a role that is wanted.
fn pins_with(part: &Part, package: &Package, wanted: impl Fn(Role) -> bool) -> Pins {
    (1..=package.pins.len() as u8)
        .filter(|&number| package.at(number).is_some_and(|id| wanted(part.pin(id).role)))
        .collect()
}

impl Prepared {
    /// The header of the powered program.
    pub(crate) fn header(&self, capture: bool) -> Header {
        Header {
            kind: Kind::Vector,
            pins: self.placement.pins,
            shift: self.placement.shift,
            power: Some(Power {
                feed: self.placement.feed,
                ground: self.placement.ground,
                voltage: self.supply.voltage,
                limit_ua: self.supply.limit_ua,
            }),
            settle_ns: self.supply.settle_ns.max(self.vectors.settle_ns),
            keeper_ns: crate::preflight::KEEPER_NS.max(self.vectors.keeper_ns),
            capture,
        }
    }

    /// The header of a march.
    pub(crate) fn march_header(&self) -> Header {
        Header { kind: Kind::March, ..self.header(false) }
    }

    /// The pins that are inputs only.
    pub(crate) fn inputs(&self) -> Pins {
        pins_with(&self.part, &self.package, |role| role == Role::Input)
    }

    /// A report that nothing is known for yet.
    pub(crate) fn report(&self, tester: &str) -> Report {
        Report::new(&self.part.number, self.family.word(), &self.name, tester)
    }
}
