//! Drives a part's model by pin number.

use crate::Check;
use dipsift_language::{
    Family, Library, Machine, Network, Package, PackageKind, Part, PinId, Settled, Word,
};
use std::fmt;
use std::sync::{Arc, OnceLock};

/// What is seen at an output.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Driven low.
    Low,
    /// Driven high; for an open collector: left to its resistor.
    High,
    /// High impedance.
    Released,
    /// The model does not know.
    Unknown,
}

impl From<bool> for Level {
    fn from(high: bool) -> Self {
        if high { Self::High } else { Self::Low }
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Low => "L",
            Self::High => "H",
            Self::Released => "Z",
            Self::Unknown => "unknown",
        })
    }
}

/// The built-in library, read once.
pub fn library() -> &'static Library {
    static LIBRARY: OnceLock<Library> = OnceLock::new();
    LIBRARY.get_or_init(Library::builtin)
}

/// A part of the built-in library.
pub fn part(number: &str) -> Result<Arc<Part>, String> {
    library().part(number).cloned().ok_or_else(|| format!("{number}: not in the library"))
}

/// The family whose pinout is checked: standard TTL or the buffered 4000 series where the part
/// was made in it, else the first family that the description names.
pub fn usual_family(part: &Part) -> Result<Family, String> {
    [Family::Standard, Family::B, Family::Ls]
        .into_iter()
        .find(|family| part.made.contains(family))
        .or(part.made.first().copied())
        .ok_or_else(|| format!("{}: made in no family", part.number))
}

/// The dual in-line pinout of a part in its usual family.
pub fn usual_package(part: &Part) -> Result<&Package, String> {
    part.package(PackageKind::Dip, usual_family(part)?)
        .ok_or_else(|| format!("{}: no dual in-line package", part.number))
}

/// One chip with its present levels. A clone is a second chip in the same state.
#[derive(Clone)]
pub struct Bench {
    part: Arc<Part>,
    pins: Arc<Vec<Option<PinId>>>,
    machine: Machine,
}

impl Bench {
    /// A chip of the built-in library, just powered: nothing applied, contents unknown.
    pub fn new(number: &str) -> Result<Self, String> {
        let part = part(number)?;
        Self::with(&part, &Arc::new(part.network.clone()))
    }

    /// A chip whose behaviour is `network` in place of the part's own.
    pub fn with(part: &Arc<Part>, network: &Arc<Network>) -> Result<Self, String> {
        Ok(Self {
            pins: Arc::new(usual_package(part)?.pins.clone()),
            machine: Machine::new(Arc::clone(network), part.pins.len()),
            part: Arc::clone(part),
        })
    }

    fn id(&self, pin: u8) -> Result<PinId, String> {
        usize::from(pin)
            .checked_sub(1)
            .and_then(|index| self.pins.get(index).copied().flatten())
            .ok_or_else(|| self.tell(pin, "not connected"))
    }

    /// A message about a pin.
    fn tell(&self, pin: u8, what: &str) -> String {
        format!("{} pin {pin}: {what}", self.part.number)
    }

    /// Applies a level without letting the chip settle.
    pub fn apply(&mut self, pin: u8, level: Word) -> Check {
        use dipsift_language::Role;
        let id = self.id(pin)?;
        match self.part.pin(id).role {
            Role::Input | Role::Bidirectional => {
                self.machine.apply(id, level);
                Ok(())
            }
            role => Err(self.tell(pin, &format!("expected an input, is {role:?}"))),
        }
    }

    /// Lets the chip come to rest.
    pub fn settle(&mut self) -> Check {
        match self.machine.settle() {
            Settled::Stable => Ok(()),
            Settled::Oscillates => Err(format!("{}: does not come to rest", self.part.number)),
        }
    }

    /// Sets one input.
    pub fn set(&mut self, pin: u8, high: bool) -> Check {
        self.apply(pin, Word::all(high))?;
        self.settle()
    }

    /// Sets several inputs at once; bit 0 of `value` goes to the first pin.
    pub fn set_bus(&mut self, pins: &[u8], value: u64) -> Check {
        for (bit, pin) in pins.iter().enumerate() {
            self.apply(*pin, Word::all(value >> bit & 1 == 1))?;
        }
        self.settle()
    }

    /// Releases pins that are driven from outside.
    pub fn release(&mut self, pins: &[u8]) -> Check {
        for pin in pins {
            self.apply(*pin, Word::UNKNOWN)?;
        }
        self.settle()
    }

    /// Low, then high: a rising edge that leaves the pin high.
    pub fn rise(&mut self, pin: u8) -> Check {
        self.set(pin, false)?;
        self.set(pin, true)
    }

    /// High, then low: a falling edge that leaves the pin low.
    pub fn fall(&mut self, pin: u8) -> Check {
        self.set(pin, true)?;
        self.set(pin, false)
    }

    /// What the chip does at a pin in all lanes: level and whether it drives.
    pub fn driven(&self, pin: u8) -> Result<(Word, Word), String> {
        let id = self.id(pin)?;
        if self.machine.network().driver(id).is_none() {
            return Err(self.tell(pin, "expected an output, has no driver"));
        }
        Ok(self.machine.driven(id))
    }

    /// What is seen at an output.
    pub fn level(&self, pin: u8) -> Result<Level, String> {
        let (level, enable) = self.driven(pin)?;
        Ok(match (enable.known(), level.known()) {
            (Some(false), _) => Level::Released,
            (Some(true), Some(high)) => high.into(),
            _ => Level::Unknown,
        })
    }

    /// Compares an output.
    pub fn expect(&self, pin: u8, expected: Level, when: &dyn fmt::Display) -> Check {
        let seen = self.level(pin)?;
        if seen == expected {
            return Ok(());
        }
        Err(self.tell(pin, &format!("{when}: expected {expected}, the model says {seen}")))
    }

    /// Compares several outputs with a number; bit 0 belongs to the first pin.
    pub fn expect_bus(&self, pins: &[u8], value: u64, when: &dyn fmt::Display) -> Check {
        for (bit, pin) in pins.iter().enumerate() {
            self.expect(*pin, (value >> bit & 1 == 1).into(), when)?;
        }
        Ok(())
    }

    /// All of these are released.
    pub fn expect_released(&self, pins: &[u8], when: &dyn fmt::Display) -> Check {
        pins.iter().try_for_each(|pin| self.expect(*pin, Level::Released, when))
    }

    /// Compares a function without memory for every combination of its inputs. `function` gets
    /// the inputs as a number, bit 0 at the first pin, and returns the outputs in the same way.
    pub fn expect_everywhere(
        &mut self,
        inputs: &[u8],
        outputs: &[u8],
        function: impl Fn(u64) -> u64,
    ) -> Check {
        let combinations = 1_u64 << inputs.len();
        for first in (0..combinations).step_by(64) {
            let lanes = (combinations - first).min(64);
            let used = if lanes == 64 { u64::MAX } else { (1 << lanes) - 1 };
            for (bit, pin) in inputs.iter().enumerate() {
                let level = (0..64)
                    .fold(0, |word, lane| word | (first.wrapping_add(lane) >> bit & 1) << lane);
                self.apply(*pin, Word::lanes(level))?;
            }
            self.settle()?;
            for (bit, pin) in outputs.iter().enumerate() {
                let expected = (0..lanes)
                    .fold(0, |word, lane| word | (function(first + lane) >> bit & 1) << lane);
                let (level, enable) = self.driven(*pin)?;
                let right = Word::lanes(expected);
                let wrong = (level.low ^ right.low | level.high ^ right.high | enable.low) & used;
                if wrong != 0 {
                    let lane = wrong.trailing_zeros();
                    return Err(self.tell(
                        *pin,
                        &format!(
                            "inputs {inputs:?} = {:#b} (first pin last): expected {}",
                            first + u64::from(lane),
                            Level::from(expected >> lane & 1 == 1)
                        ),
                    ));
                }
            }
        }
        Ok(())
    }
}
