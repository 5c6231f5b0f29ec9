//! The running count of an evening, and where each chip goes.

use crate::{Outcome, Reason, Report};
use serde::Serialize;
use std::collections::BTreeMap;

/// Counts of outcomes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Good chips.
    pub go: u32,
    /// Bad chips.
    pub no_go: u32,
    /// Chips about which nothing could be said.
    pub not_decided: u32,
    /// Chips that this socket does not power, or for which no check exists.
    pub refused: u32,
    /// Insertions lost to tester trouble.
    pub trouble: u32,
}

impl Counts {
    /// All insertions.
    pub fn total(&self) -> u32 {
        self.go + self.no_go + self.not_decided + self.refused + self.trouble
    }

    fn add(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Go => self.go += 1,
            Outcome::NoGo => self.no_go += 1,
            Outcome::NotDecided => self.not_decided += 1,
            Outcome::Refused => self.refused += 1,
            Outcome::Trouble => self.trouble += 1,
        }
    }
}

/// How a pin of a part failed over an evening.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PinTally {
    /// The chip's name, `74LS00`.
    pub name: String,
    /// The pin's number.
    pub pin: u8,
    /// Its function.
    pub function: String,
    /// How it failed: `stays low`, `stays high`, `still drives`, `wrong`.
    pub how: &'static str,
    /// On how many chips.
    pub chips: u32,
}

/// The tally of an evening.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Tally {
    /// All chips.
    pub all: Counts,
    /// By name, in the order of the names.
    pub by_name: BTreeMap<String, Counts>,
    /// Failing pins, most frequent first.
    pub pins: Vec<PinTally>,
    /// How many chips went where, in the order of the places.
    pub places: BTreeMap<String, u32>,
}

impl Tally {
    /// Counts one report.
    pub fn add(&mut self, report: &Report) {
        self.all.add(report.outcome);
        self.by_name.entry(report.name.clone()).or_default().add(report.outcome);
        *self.places.entry(destination(report)).or_default() += 1;
        for fault in &report.pins {
            let how = match (fault.low, fault.high, fault.held) {
                (0, 0, _) => "still drives",
                (_, 0, _) => "stays low",
                (0, _, _) => "stays high",
                _ => "wrong",
            };
            let same = |tally: &&mut PinTally| {
                tally.name == report.name && tally.pin == fault.pin && tally.how == how
            };
            match self.pins.iter_mut().find(same) {
                Some(tally) => tally.chips += 1,
                None => self.pins.push(PinTally {
                    name: report.name.clone(),
                    pin: fault.pin,
                    function: fault.name.clone(),
                    how,
                    chips: 1,
                }),
            }
        }
        self.pins.sort_by(|a, b| {
            b.chips.cmp(&a.chips).then_with(|| a.name.cmp(&b.name)).then(a.pin.cmp(&b.pin))
        });
    }
}

/// Where a chip goes after its check.
pub fn destination(report: &Report) -> String {
    match (report.outcome, report.reason) {
        (Outcome::Go, _) => format!("drawer {}", report.name),
        (Outcome::NoGo, Reason::Intermittent) => "scrap: intermittent".into(),
        (Outcome::NoGo, _) => "scrap".into(),
        (Outcome::NotDecided, Reason::EmptySocket) => "nowhere: the socket was empty".into(),
        (Outcome::NotDecided, Reason::WeakLow | Reason::WeakAtLowSupply) => {
            "aside: try on a bench that loads it right".into()
        }
        (Outcome::NotDecided, _) => "aside: seat again and repeat".into(),
        (Outcome::Refused, Reason::Marking) => "aside: not recognised".into(),
        (Outcome::Refused, _) => "aside: not for this socket".into(),
        (Outcome::Trouble, _) => "back to the bag: tester trouble".into(),
    }
}
