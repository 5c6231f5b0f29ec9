//! A chip before it sits in the socket: a part in a family, a package and a seed.

use crate::{Defect, Fixture, position_of};
use dipsift_language::{Family, Network, Package, PackageKind, Part, PinId, Role};
use std::sync::Arc;

/// A modelled chip.
#[derive(Clone, Debug)]
pub struct Chip {
    pub(crate) part: Arc<Part>,
    pub(crate) network: Arc<Network>,
    pub(crate) package: Package,
    pub(crate) family: Family,
    pub(crate) seed: u64,
    pub(crate) shift: u8,
    pub(crate) contents: Option<Arc<[u8]>>,
    pub(crate) access_ns: Option<u32>,
}

/// Why a chip cannot be made, or a defect not put into it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ChipError {
    /// The description has no dual in-line package for the family.
    #[error("{number} has no dual in-line package in family {family}")]
    NoPackage {
        /// The part's number.
        number: String,
        /// The family's word.
        family: &'static str,
    },
    /// The chip has no such pin.
    #[error("\"{defect}\": {number} has {pins} pins")]
    NoPin {
        /// The defect's phrase.
        defect: String,
        /// The part's number.
        number: String,
        /// How many pins it has.
        pins: usize,
    },
    /// The defect needs another kind of pin.
    #[error("\"{defect}\": pin {pin} of {number} is not {wanted}")]
    WrongPin {
        /// The defect's phrase.
        defect: String,
        /// The pin's number.
        pin: u8,
        /// The part's number.
        number: String,
        /// What the defect needs.
        wanted: &'static str,
    },
    /// The memory has no such place, or none at all.
    #[error("\"{defect}\": {number} has no {wanted}")]
    NoPlace {
        /// The defect's phrase.
        defect: String,
        /// The part's number.
        number: String,
        /// What it lacks.
        wanted: String,
    },
    /// The part that a defect names is not known.
    #[error("no part \"{0}\"")]
    NoPart(String),
}

impl Chip {
    /// A chip in its dual in-line package. The seed chooses its power-up contents and the levels
    /// of outputs that the model does not know.
    pub fn new(part: Arc<Part>, family: Family, seed: u64) -> Result<Self, ChipError> {
        let package = part
            .package(PackageKind::Dip, family)
            .ok_or_else(|| ChipError::NoPackage {
                number: part.number.clone(),
                family: family.word(),
            })?
            .clone();
        let network = Arc::new(part.network.clone());
        let mut chip = Self {
            part,
            network,
            package,
            family,
            seed,
            shift: 0,
            contents: None,
            access_ns: None,
        };
        chip.shift = chip.natural_shift(&Fixture::default()).unwrap_or(0);
        Ok(chip)
    }

    /// The same chip, to be put in with pin 1 this many positions beyond position 1. Without it a
    /// chip goes to the first place where its supply pins meet switches, else to the top.
    #[must_use]
    pub fn at_shift(mut self, shift: u8) -> Self {
        self.shift = shift;
        self
    }

    /// The same memory with contents: a byte for each word, from address 0 on. A read-only memory
    /// without contents is blank, all ones, and so is what they do not reach; other memories
    /// without contents power up by the seed.
    #[must_use]
    pub fn programmed(mut self, contents: &[u8]) -> Self {
        self.contents = Some(contents.into());
        self
    }

    /// The same memory with this access time. Without it a chip has that of its fastest grade.
    #[must_use]
    pub fn with_access_ns(mut self, nanoseconds: u32) -> Self {
        self.access_ns = Some(nanoseconds);
        self
    }

    /// How many positions pin 1 lies beyond position 1.
    pub fn shift(&self) -> u8 {
        self.shift
    }

    /// The part.
    pub fn part(&self) -> &Arc<Part> {
        &self.part
    }

    /// The family.
    pub fn family(&self) -> Family {
        self.family
    }

    /// How many pins the package has.
    pub fn pins(&self) -> u8 {
        self.package.pins.len() as u8
    }

    /// What stands at a pin number.
    pub(crate) fn pin(&self, number: u8) -> (Option<PinId>, Option<Role>) {
        let id = self.package.at(number);
        (id, id.map(|id| self.part.pin(id).role))
    }

    /// The smallest shift at which a fixture can feed and ground all supply pins.
    pub fn natural_shift(&self, fixture: &Fixture) -> Option<u8> {
        let pins = self.pins();
        (0..=20 - (pins / 2).min(20)).find(|&shift| {
            (1..=pins).all(|number| {
                let switches = match self.pin(number).1 {
                    Some(Role::Supply | Role::Fed) => fixture.feed,
                    Some(Role::Ground) => fixture.ground,
                    _ => return true,
                };
                position_of(number, pins, shift, false).is_some_and(|at| switches.contains(at))
            })
        })
    }

    /// The chip that is really in the socket: [`Defect::Part`] and [`Defect::Family`] replace it,
    /// other defects leave it. It stays where the chip of the marking would sit. `find` looks a
    /// part number up; a replaced part is in the same family if it was made in it, else in the
    /// first of its own.
    pub fn replaced(
        self,
        defects: &[Defect],
        find: impl Fn(&str) -> Option<Arc<Part>>,
    ) -> Result<Self, ChipError> {
        let mut chip = self;
        for defect in defects {
            let (part, family) = match defect {
                Defect::Part(number) => {
                    let part = find(number).ok_or_else(|| ChipError::NoPart(number.clone()))?;
                    let first = part.made.first().copied().unwrap_or(chip.family);
                    let family = if part.made.contains(&chip.family) { chip.family } else { first };
                    (part, family)
                }
                Defect::Family(family) => (Arc::clone(&chip.part), *family),
                _ => continue,
            };
            let (contents, access_ns) = (chip.contents.take(), chip.access_ns);
            chip = Self::new(part, family, chip.seed)?.at_shift(chip.shift);
            (chip.contents, chip.access_ns) = (contents, access_ns);
        }
        Ok(chip)
    }

    /// Checks that a defect fits the chip.
    pub(crate) fn fits(&self, defect: &Defect) -> Result<(), ChipError> {
        if let Defect::Memory(fault) = defect {
            let memory = self.part.memory.as_ref();
            return fault.fits(memory).map_err(|wanted| ChipError::NoPlace {
                defect: defect.to_string(),
                number: self.part.number.clone(),
                wanted,
            });
        }
        for pin in defect.pins() {
            if pin > self.pins() {
                return Err(ChipError::NoPin {
                    defect: defect.to_string(),
                    number: self.part.number.clone(),
                    pins: self.package.pins.len(),
                });
            }
            let (id, role) = self.pin(pin);
            let drives = id.is_some_and(|id| self.part.pin(id).output.is_some());
            let signal = !matches!(role, Some(Role::Supply | Role::Ground));
            let (fits, wanted) = match defect {
                Defect::Weak { .. } | Defect::Slow { .. } => (drives, "an output"),
                Defect::Shorted { .. } => (true, ""),
                _ => (signal, "a signal pin"),
            };
            if !fits {
                return Err(ChipError::WrongPin {
                    defect: defect.to_string(),
                    pin,
                    number: self.part.number.clone(),
                    wanted,
                });
            }
        }
        Ok(())
    }

    /// An estimate of its supply current in amperes at 5 V, beside what its outputs deliver.
    ///
    /// Circuits are counted as gates: one for an output, three for a register, one for three
    /// further gates of the model. With the families' power per gate this gives 8 mA for a 7400
    /// (TI SDLS025B: ICCH typical 4 mA, ICCL 12 mA) and about 90 mA for a 74181 (91 mA typical,
    /// from memory). It never exceeds six tenths of the part's current limit, so that an estimate
    /// cannot fail a good chip.
    pub(crate) fn supply_amps(&self) -> f64 {
        use dipsift_language::Node;
        let figures = crate::figures(self.family);
        let gates = self
            .network
            .nodes
            .iter()
            .filter(|node| {
                matches!(node, Node::And(..) | Node::Or(..) | Node::Xor(..) | Node::Mux { .. })
            })
            .count();
        let outputs = self.network.drivers.len();
        let further = gates.saturating_sub(outputs);
        let circuits = outputs + 3 * self.network.registers.len() + further / 3;
        let limit = f64::from(self.part.limit_ma.unwrap_or(150)) * 1e-3;
        if self.part.memory.is_some() && figures.gate_amps > 0.0 {
            // A bipolar array is mostly current: half of the limit, from memory of the 7489.
            return 0.5 * limit;
        }
        (circuits as f64 * figures.gate_amps + figures.idle_amps).min(0.6 * limit)
    }
}
