//! What a marking says.

use crate::date::DateCode;
use dipsift_language::{Library, PartName};
use serde::Serialize;

/// All readings of a marking, the likeliest first.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Decoded {
    /// The readings; none where nothing was understood.
    pub readings: Vec<Reading>,
    /// What holds for all of them.
    pub notes: Vec<String>,
}

impl Decoded {
    /// Whether it is left open what the chip is or what a part of its marking means.
    pub fn is_ambiguous(&self) -> bool {
        self.readings.len() > 1 || self.readings.iter().any(Reading::is_ambiguous)
    }
}

/// How surely a marking names its part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Trust {
    /// It is the part's own number, alone or in a form that all makers of its series use.
    Number,
    /// A maker's marking that two independent sources explain.
    TwoSources,
    /// A maker's marking that one document explains.
    OneSource,
    /// A maker's marking that is recalled and not read anywhere.
    FromMemory,
    /// A known number behind letters that are not listed with it: another maker's number may mean
    /// another chip.
    Unlisted,
    /// Not known.
    Unknown,
}

impl Trust {
    /// It in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Number => "the number itself",
            Self::TwoSources => "two independent sources say so",
            Self::OneSource => "one source says so: compare the data sheet before power",
            Self::FromMemory => "from memory: compare the data sheet before power",
            Self::Unlisted => "the prefix is not listed with this number: compare the data sheet",
            Self::Unknown => "not known",
        }
    }
}

/// Digits in front of the family that stand for a temperature range.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Temperature {
    /// As marked: `54`, `74`.
    pub prefix: String,
    /// What it says.
    pub words: String,
}

/// Letters that stand for a package.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Package {
    /// As marked: `N`, `DW`.
    pub letters: String,
    /// What they stand for; several where makers differ and the prefix does not decide.
    pub meanings: Vec<String>,
}

/// How a mark after the dash is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpeedKind {
    /// Nanoseconds.
    Nanoseconds,
    /// Tens of nanoseconds.
    TensOfNanoseconds,
    /// The number of a grade.
    Grade,
    /// No mark, which is a grade of its own.
    Unmarked,
    /// A temperature range or processing, no speed.
    Temperature,
    /// Not known for this part.
    Unknown,
}

/// A mark after the dash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Speed {
    /// As marked, without the dash; empty for none.
    pub mark: String,
    /// The mark by which the library knows this grade, where that is another: `15` for `150`.
    pub grade: Option<String>,
    /// How it is meant.
    pub kind: SpeedKind,
    /// The access time in nanoseconds, where it says one.
    pub access_ns: Option<u32>,
    /// The prefix that this meaning depends on; none for the usual one.
    pub prefix: Option<String>,
    /// It in words.
    pub words: String,
}

/// Military processing, a slash sheet or a drawing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Military {
    /// As marked: `/883B`, `JM38510/00104BCA`.
    pub mark: String,
    /// What it says.
    pub words: String,
}

/// One reading of a marking.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Reading {
    /// The device's marking as it is read here, worn characters of the number filled in.
    pub marking: String,
    /// The letters in front, as marked. No maker is claimed.
    pub prefix: Option<String>,
    /// The number: of the library where it is described, else as its series numbers it.
    pub number: Option<String>,
    /// The function; `None` where the number is not described in the library.
    pub title: Option<String>,
    /// The temperature range that the number says.
    pub temperature: Option<Temperature>,
    /// The logic family: `LS`, `4000B`.
    pub family: Option<String>,
    /// The package.
    pub package: Option<Package>,
    /// The revision letter.
    pub revision: Option<String>,
    /// What the mark after the dash means; several where makers differ.
    pub speeds: Vec<Speed>,
    /// Date codes: of each code its usual meaning first, then rarer ones.
    pub date_codes: Vec<DateCode>,
    /// Military processing and drawings.
    pub military: Vec<Military>,
    /// How surely the marking names the part.
    pub trust: Trust,
    /// The documents that explain the marking.
    pub sources: Vec<String>,
    /// The prefix that this reading depends on, where with another it would be another chip.
    pub depends_on: Option<String>,
    /// What was filled in or taken for granted.
    pub assumed: Vec<String>,
    /// What is ambiguous: what else it, or a part of it, could be.
    pub could_be: Vec<String>,
    /// Further things to know.
    pub remarks: Vec<String>,
    /// Characters of the marking that are not understood.
    pub unread: Option<String>,
    /// See [`Reading::part_name`].
    pub(crate) part_name: Option<String>,
    /// See [`Reading::part_name_if_confirmed`].
    #[serde(rename = "part_name_if_confirmed")]
    pub(crate) if_confirmed: Option<String>,
}

impl Speed {
    /// The mark to name a part with; `None` where no time is known or none is marked.
    pub(crate) fn name(&self) -> Option<&str> {
        let mark = self.grade.as_ref().unwrap_or(&self.mark);
        (self.access_ns.is_some() && !mark.is_empty()).then_some(mark)
    }
}

impl Reading {
    pub(crate) fn of(marking: &str) -> Self {
        Self {
            marking: marking.to_owned(),
            prefix: None,
            number: None,
            title: None,
            temperature: None,
            family: None,
            package: None,
            revision: None,
            speeds: Vec::new(),
            date_codes: Vec::new(),
            military: Vec::new(),
            trust: Trust::Unknown,
            sources: Vec::new(),
            depends_on: None,
            assumed: Vec::new(),
            could_be: Vec::new(),
            remarks: Vec::new(),
            unread: None,
            part_name: None,
            if_confirmed: None,
        }
    }

    /// The text that [`PartName::parse`] accepts for this reading: `74LS00`, `4164-15`, `HM4864-3`.
    /// `None` where the part is not described, where its number is shared by several chips, where
    /// worn characters were filled in, and where fewer than two sources explain the marking. A
    /// number that could be a date code has a name: whether somebody means the number is for
    /// [`Reading::is_ambiguous`] to ask.
    pub fn part_name(&self) -> Option<&str> {
        self.part_name.as_deref()
    }

    /// The text for this reading once a person has compared the data sheet: `6264-15` for
    /// `HM6264LP-15`. The same as [`Reading::part_name`] where no such look is needed.
    pub fn part_name_if_confirmed(&self) -> Option<&str> {
        self.part_name().or(self.if_confirmed.as_deref())
    }

    /// Whether it is left open what a part of the marking means.
    pub fn is_ambiguous(&self) -> bool {
        !self.could_be.is_empty()
            || self.package.as_ref().is_some_and(|package| package.meanings.len() > 1)
            || self.speeds.len() > 1
    }

    /// Sets the names for the check: the first that the library takes for this reading's number.
    pub(crate) fn name(&mut self, body: &str, speed: Option<&str>, library: &Library) {
        let accepted = |text: &str| {
            PartName::parse(text, library)
                .is_ok_and(|name| Some(&name.number) == self.number.as_ref())
        };
        let dashed = speed.map(|speed| format!("{body}-{speed}"));
        let name = dashed.into_iter().chain([body.to_owned()]).find(|text| accepted(text));
        if self.trust <= Trust::TwoSources && self.assumed.is_empty() {
            self.part_name = name;
        } else {
            self.if_confirmed = name;
        }
    }

    /// Demands a look at the data sheet before the part is powered.
    pub(crate) fn wants_confirmation(&mut self) {
        if let Some(name) = self.part_name.take() {
            self.if_confirmed = Some(name);
        }
    }
}
