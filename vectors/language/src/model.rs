//! A part as its description says it is.

use crate::{Family, Memory, Network};

/// Points at a [`Pin`] of the same part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PinId(pub u16);

/// What a pin is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A signal into the chip.
    Input,
    /// A signal out of the chip.
    Output,
    /// A signal both ways.
    Bidirectional,
    /// A supply pin: VCC or VDD.
    Supply,
    /// A ground pin: GND or VSS, or one that this socket ties to ground (VEE).
    Ground,
    /// A pin that must be fed like the supply in every use this socket makes of the chip (VPP).
    Fed,
    /// A pin to leave open: it has a function that is not tested here.
    Open,
    /// A supply at a voltage that a 5 V socket does not have (VBB, VGG). The part is never powered.
    Foreign {
        /// The voltage it needs against ground, in millivolts.
        millivolts: i32,
    },
}

/// How a pin drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// Both levels, always.
    TotemPole,
    /// Low only; high is left to a resistor outside.
    OpenCollector,
    /// Both levels while enabled, else high impedance.
    ThreeState,
}

/// A signal or supply of the part, by its name in the pin list. One that stands in several
/// packages, or several times in one (a second ground), is one `Pin`.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// Its name as in the pin list, with the `/` of an active-low pin.
    pub name: String,
    /// What it is for.
    pub role: Role,
    /// How it drives, where it does.
    pub output: Option<Output>,
    /// Whether it has a Schmitt-trigger input.
    pub schmitt: bool,
    /// Its input load in tenths of a unit load of its family; 10 is one.
    pub load_tenths: u16,
}

/// The form of a package.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PackageKind {
    /// Dual in-line.
    Dip,
    /// Flat pack.
    Flat,
}

/// A pinout.
#[derive(Clone, Debug, PartialEq)]
pub struct Package {
    /// Dual in-line or flat.
    pub kind: PackageKind,
    /// The families that have this pinout; empty for all families not named by another pinout
    /// of the same kind.
    pub families: Vec<Family>,
    /// The pins from 1 on; `None` is not connected.
    pub pins: Vec<Option<PinId>>,
}

/// Inputs that must not change while a condition holds (pulse-triggered flip-flops, mode inputs
/// of counters).
#[derive(Clone, Debug, PartialEq)]
pub struct Steady {
    /// The inputs.
    pub pins: Vec<PinId>,
    /// A node of the network: they must hold still while it is high.
    pub condition: crate::NodeId,
}

/// A part's whole description.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its number: `7400`, `4017`, `2114`.
    pub number: String,
    /// Its function in words.
    pub title: String,
    /// The documents that the description was written from.
    pub sources: Vec<String>,
    /// The families it was made in.
    pub made: Vec<Family>,
    /// Its pinouts.
    pub packages: Vec<Package>,
    /// Its pins; a [`PinId`] counts them.
    pub pins: Vec<Pin>,
    /// Its behaviour.
    pub network: Network,
    /// Inputs that must hold still at times.
    pub steady: Vec<Steady>,
    /// Nodes of the network: conditions that must never be brought about.
    pub avoid: Vec<crate::NodeId>,
    /// Its memory array, where it has one.
    pub memory: Option<Memory>,
    /// The supply current limit in milliamperes, where the description sets one.
    pub limit_ma: Option<u32>,
    /// Remarks for the person at the bench.
    pub notes: Vec<String>,
    /// What a check of this part leaves out, beyond what every check leaves out.
    pub untested: Vec<String>,
}

impl Part {
    /// A pin by its id.
    pub fn pin(&self, id: PinId) -> &Pin {
        &self.pins[usize::from(id.0)]
    }

    /// The id of a pin by its name in the pin list.
    pub fn pin_named(&self, name: &str) -> Option<PinId> {
        self.pins.iter().position(|pin| pin.name == name).map(|index| PinId(index as u16))
    }

    /// All pin ids.
    pub fn pin_ids(&self) -> impl Iterator<Item = PinId> + use<> {
        (0..self.pins.len() as u16).map(PinId)
    }

    /// The supplies that a 5 V socket does not have, each with its pin's name and millivolts.
    pub fn foreign_supplies(&self) -> impl Iterator<Item = (&str, i32)> {
        self.pins.iter().filter_map(|pin| match pin.role {
            Role::Foreign { millivolts } => Some((pin.name.as_str(), millivolts)),
            _ => None,
        })
    }

    /// The package of a kind in a family: the one that names the family, else the one that
    /// names none.
    pub fn package(&self, kind: PackageKind, family: Family) -> Option<&Package> {
        let of_kind = || self.packages.iter().filter(move |package| package.kind == kind);
        of_kind()
            .find(|package| package.families.contains(&family))
            .or_else(|| of_kind().find(|package| package.families.is_empty()))
    }
}

impl Package {
    /// The pin numbers, from 1, at which a pin stands.
    pub fn numbers(&self, pin: PinId) -> impl Iterator<Item = u8> {
        self.pins
            .iter()
            .enumerate()
            .filter(move |(_, at)| **at == Some(pin))
            .map(|(index, _)| index as u8 + 1)
    }

    /// What stands at a pin number, from 1; `None` where nothing is connected.
    pub fn at(&self, number: u8) -> Option<PinId> {
        self.pins.get(usize::from(number).checked_sub(1)?).copied().flatten()
    }
}
