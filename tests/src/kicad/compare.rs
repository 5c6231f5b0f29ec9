//! Pinouts side by side.

use dipsift_language::{Family, Output, PackageKind, Part, Role};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt;

/// What is known of one pin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Terminal {
    /// What it is for, in words: `supply`, `input`, `open collector`.
    pub kind: String,
    /// Its name without marks; empty where it has none.
    pub name: String,
    /// Whether it is marked active low.
    pub low: bool,
    /// Whether it is drawn as a clock.
    pub clock: bool,
    /// Its section, where there are several.
    pub section: Option<u8>,
}

/// Pins by number; a number that is not listed is not connected.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pinout {
    /// The pins.
    pub pins: BTreeMap<u8, Terminal>,
}

/// What differs at a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Aspect {
    /// What the pin is for and how it drives.
    Kind,
    /// Its name.
    Name,
    /// Its active level.
    Level,
    /// The pins it forms a section with.
    Section,
}

impl Aspect {
    const ALL: [Self; 4] = [Self::Kind, Self::Name, Self::Level, Self::Section];

    /// The word that stands for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Kind => "kind",
            Self::Name => "name",
            Self::Level => "level",
            Self::Section => "section",
        }
    }

    /// The aspect that a word stands for.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|aspect| aspect.word() == word)
    }
}

/// One difference between two pinouts.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Difference {
    /// The part.
    pub part: String,
    /// The pin.
    pub pin: u8,
    /// What differs.
    pub aspect: Aspect,
    /// What the description says.
    pub ours: String,
    /// What the other side says.
    pub theirs: String,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { part, pin, aspect, ours, theirs } = self;
        write!(f, "{part} | {pin} | {} | {ours} | {theirs}", aspect.word())
    }
}

/// A name without the marks of an active level, in the form in which names are compared.
pub fn plain(name: &str) -> String {
    name.chars()
        .filter(|character| character.is_ascii_alphanumeric() || "<>=+'".contains(*character))
        .map(|character| character.to_ascii_uppercase())
        .collect()
}

impl Pinout {
    /// The pinout of a description, in the family whose symbol is compared.
    pub fn of(part: &Part, family: Family) -> Result<Self, String> {
        let package = part
            .package(PackageKind::Dip, family)
            .ok_or_else(|| format!("{}: no dual in-line package", part.number))?;
        let mut pinout = Self::default();
        for (number, id) in (1..).zip(&package.pins) {
            let Some(id) = id else { continue };
            let pin = part.pin(*id);
            let kind = match (pin.role, pin.output) {
                (Role::Supply, _) => "supply",
                (Role::Ground, _) => "ground",
                (Role::Fed, _) => "fed",
                (Role::Open, _) => "left open",
                (Role::Foreign { .. }, _) => "other supply",
                (Role::Input, _) => "input",
                (Role::Bidirectional, Some(Output::OpenCollector)) => {
                    "bidirectional open collector"
                }
                (Role::Bidirectional, _) => "bidirectional",
                (Role::Output, Some(Output::OpenCollector)) => "open collector",
                (Role::Output, Some(Output::ThreeState)) => "three-state",
                (Role::Output, _) => "output",
            };
            let bare = pin.name.trim_start_matches('/');
            let section = bare.chars().next().and_then(|first| first.to_digit(10));
            let terminal = Terminal {
                kind: kind.to_owned(),
                name: plain(bare),
                low: pin.name.starts_with('/'),
                clock: false,
                section: section.map(|digit| digit as u8),
            };
            pinout.pins.insert(number, terminal);
        }
        Ok(pinout)
    }

    /// Sections as sets of pins; one set where there are no sections.
    fn sections(&self) -> HashMap<u8, BTreeSet<u8>> {
        let mut sets: BTreeMap<Option<u8>, BTreeSet<u8>> = BTreeMap::new();
        for (number, pin) in &self.pins {
            if !matches!(pin.kind.as_str(), "supply" | "ground" | "not connected") {
                sets.entry(pin.section).or_default().insert(*number);
            }
        }
        sets.values().flat_map(|set| set.iter().map(|number| (*number, set.clone()))).collect()
    }

    fn units(&self) -> usize {
        self.sections().into_values().collect::<BTreeSet<_>>().len()
    }
}

/// What differs between a description's pinout and another one. `names` gives for a name there,
/// or for `PIN:NAME`, the one that answers to it here.
pub fn differences(
    number: &str,
    ours: &Pinout,
    theirs: &Pinout,
    names: &HashMap<String, String>,
) -> BTreeSet<Difference> {
    let mut found = BTreeSet::new();
    let several = theirs.units() > 1;
    let (our_sections, their_sections) = (ours.sections(), theirs.sections());
    let numbers: BTreeSet<u8> = ours.pins.keys().chain(theirs.pins.keys()).copied().collect();
    for pin in numbers {
        let mut tell = |aspect, ours: &str, theirs: &str| {
            if ours != theirs {
                let (ours, theirs) = (ours.to_owned(), theirs.to_owned());
                found.insert(Difference { part: number.to_owned(), pin, aspect, ours, theirs });
            }
        };
        let kind = |terminal: Option<&Terminal>| {
            terminal.map_or("not connected".to_owned(), |terminal| terminal.kind.clone())
        };
        let (our, their) = (ours.pins.get(&pin), theirs.pins.get(&pin));
        tell(Aspect::Kind, &kind(our), &kind(their));
        let (Some(our), Some(their)) = (our, their) else { continue };
        if several && ours.units() > 1 {
            let list = |sections: &HashMap<u8, BTreeSet<u8>>| {
                sections.get(&pin).map_or(String::new(), |set| {
                    set.iter().map(u8::to_string).collect::<Vec<_>>().join(" ")
                })
            };
            tell(Aspect::Section, &list(&our_sections), &list(&their_sections));
        }
        if their.name.is_empty() {
            continue;
        }
        let section = our.section.filter(|_| several).map_or(String::new(), |s| s.to_string());
        let bare = our.name.strip_prefix(&section).unwrap_or(&our.name);
        let translated = names
            .get(&format!("{pin}:{}", their.name))
            .or_else(|| names.get(&their.name))
            .unwrap_or(&their.name);
        tell(Aspect::Name, bare, translated);
        if !their.clock && !["CLK", "CK", "CKA", "CKB", "A"].contains(&bare) {
            let level = |terminal: &Terminal| if terminal.low { "low" } else { "high" };
            tell(Aspect::Level, level(our), level(their));
        }
    }
    found
}

/// Pinouts typed from data sheets, for parts that the symbol library lacks. A line is
/// `PART | PIN…`, in pin order; `KIND:NAME` with the kinds `in out io z gnd vcc volts`, `/` before
/// an active-low name, and `-` where nothing is connected.
pub fn typed_pinouts() -> Result<Vec<(String, Pinout)>, String> {
    typed("pinouts.txt", include_str!("../../reference/pinouts.txt"))
}

/// The same for memories: pinouts as published outside the data sheets.
pub fn typed_memory_pinouts() -> Result<Vec<(String, Pinout)>, String> {
    typed("memory-pinouts.txt", include_str!("../../reference/memory-pinouts.txt"))
}

fn typed(file: &str, text: &str) -> Result<Vec<(String, Pinout)>, String> {
    let mut pinouts = Vec::new();
    for line in text.lines().filter(|line| !line.starts_with('#') && !line.is_empty()) {
        let (part, pins) = line.split_once('|').ok_or(format!("{file}: no bar: {line}"))?;
        let mut pinout = Pinout::default();
        for (number, pin) in (1..).zip(pins.split_whitespace()) {
            if pin == "-" {
                continue;
            }
            let (kind, name) =
                pin.split_once(':').ok_or(format!("{file}: expected KIND:NAME: {pin}"))?;
            let kind = match kind {
                "in" => "input",
                "out" => "output",
                "io" => "bidirectional",
                "z" => "three-state",
                "gnd" => "ground",
                "vcc" => "supply",
                "volts" => "other supply",
                _ => return Err(format!("{file}: unknown kind {kind}")),
            };
            let terminal = Terminal {
                kind: kind.to_owned(),
                name: plain(name),
                low: name.starts_with('/'),
                clock: false,
                section: None,
            };
            pinout.pins.insert(number, terminal);
        }
        pinouts.push((part.trim().to_owned(), pinout));
    }
    Ok(pinouts)
}
