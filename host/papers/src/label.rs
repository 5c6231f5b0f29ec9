//! What a label says.

use crate::matrix::Symbol;
use crate::words::{count, day, days, made};
use dipsift_ledger::{DateCode, LotReport, Nature, Type, TypeCounts};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use thiserror::Error;

/// The label of a tube, a drawer or a bag: the good chips of one type from one lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// What the part does: `quad 2-input NAND gate`. May be empty.
    pub function: String,
    /// The type, its family and package.
    pub chip: Type,
    /// How many good chips.
    pub count: u64,
    /// Speed grades, the fastest first.
    pub speeds: Vec<String>,
    /// The first and the last week of making.
    pub made: Option<(DateCode, DateCode)>,
    /// The first and the last day of screening.
    pub screened: Option<(Date, Date)>,
    /// The lot's name.
    pub lot: String,
    /// Whether a simulated or emulated tester was among those that screened.
    pub simulated: bool,
}

/// Why a label cannot be made.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LabelError {
    /// The names are longer than a symbol can hold.
    #[error("the lot {0:?} has a name that is too long for a symbol on a label")]
    TooLong(String),
    /// Its symbol would have modules that a scanner cannot tell apart.
    #[error(
        "the label of {name} in the lot {lot:?} is too small for its symbol of {modules} modules: \
         a higher label or a shorter name of the lot is needed"
    )]
    Small {
        /// The type.
        name: String,
        /// The lot.
        lot: String,
        /// Modules of a side.
        modules: usize,
    },
}

impl Label {
    /// What the symbol says: two lines, `LOT name` and `PART type`.
    pub fn symbol_text(&self) -> String {
        format!("LOT {}\nPART {}", self.lot, self.chip.name)
    }

    pub(crate) fn symbol(&self) -> Result<Symbol, LabelError> {
        Symbol::of(&self.symbol_text()).ok_or_else(|| LabelError::TooLong(self.lot.clone()))
    }

    /// The lines below the function, what matters most first; the lot, which the symbol says, last.
    pub(crate) fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let chips = count(self.count, "chip", "chips");
        let family = match self.chip.family.as_str() {
            "74" => "standard TTL",
            other => other,
        };
        let words = [chips.as_str(), &self.chip.package, family];
        lines
            .push(words.into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(", "));
        if !self.speeds.is_empty() {
            lines.push(self.speeds.join(", "));
        }
        if self.made.is_some() {
            lines.push(format!("made {}", made(self.made)));
        }
        if let Some((first, last)) = self.screened {
            lines.push(format!("screened {}", days(first, last)));
        }
        lines.push(format!("lot {}", self.lot));
        lines
    }
}

/// The labels of a lot: one for each type with good chips. `titles` says what each part does, by
/// its number.
pub fn labels_of(
    lot: &str,
    report: &LotReport,
    titles: &BTreeMap<String, String>,
    zone: &TimeZone,
) -> Vec<Label> {
    let simulated = report.testers.iter().any(|line| line.tester.nature != Nature::Real);
    let label = |line: &TypeCounts| Label {
        function: titles.get(&line.chip.part).cloned().unwrap_or_default(),
        chip: line.chip.clone(),
        count: line.counts.go,
        speeds: report
            .speeds
            .iter()
            .filter(|speed| speed.chip == line.chip)
            .map(|speed| speed.speed_grade.clone())
            .collect(),
        made: line.good_made,
        screened: line.good_between.map(|(first, last)| (day(first, zone), day(last, zone))),
        lot: lot.to_owned(),
        simulated,
    };
    report.types.iter().filter(|line| line.counts.go > 0).map(label).collect()
}
