//! What a check reports.

use crate::memory::MemoryReport;
use crate::{Outcome, ProgramHash, Reason};
use serde::Serialize;

/// A failing pin, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PinFault {
    /// The pin's number on the package.
    pub pin: u8,
    /// Its name in the pin list.
    pub name: String,
    /// What it does: `2Y (pin 6) stays high: 2A=H 2B=H should give L`.
    pub sentence: String,
    /// How often it was low and should have been high.
    pub low: u16,
    /// How often it was high and should have been low.
    pub high: u16,
    /// How often it should have been released and was not.
    pub held: u16,
}

/// The result of one check.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// The part's number, `7400`.
    pub part: String,
    /// The family's word, `LS`.
    pub family: String,
    /// The name as people write it, `74LS00`.
    pub name: String,
    /// How the check ended.
    pub outcome: Outcome,
    /// Why, for programs.
    pub reason: Reason,
    /// Why, and what to do next, for people.
    pub sentences: Vec<String>,
    /// Pins that failed.
    pub pins: Vec<PinFault>,
    /// Pins without contact.
    pub open: Vec<u8>,
    /// The program that ran on the powered chip; `None` where none did.
    pub program_hash: Option<ProgramHash>,
    /// The supply voltage of the check in millivolts; 0 where nothing was powered.
    pub supply_mv: u32,
    /// The largest supply current in microamperes.
    pub current_ua: u32,
    /// How many vector steps ran.
    pub steps: u32,
    /// How many comparisons failed.
    pub failures: u32,
    /// What a memory has shown; `None` for other parts and where nothing was powered.
    pub memory: Option<MemoryReport>,
    /// What a go does not say.
    pub not_tested: Vec<String>,
    /// Whether the tester was simulated, emulated or real: `simulated`, `emulated`, `real`.
    pub tester: String,
}

impl Report {
    /// A report of a chip of which nothing is known yet.
    pub(crate) fn new(part: &str, family: &str, name: &str, tester: &str) -> Self {
        Self {
            part: part.into(),
            family: family.into(),
            name: name.into(),
            outcome: Outcome::NotDecided,
            reason: Reason::Link,
            sentences: Vec::new(),
            pins: Vec::new(),
            open: Vec::new(),
            program_hash: None,
            supply_mv: 0,
            current_ua: 0,
            steps: 0,
            failures: 0,
            memory: None,
            not_tested: Vec::new(),
            tester: tester.into(),
        }
    }
}
