//! What the ledger keeps of each insertion.

use super::session::Checked;
use crate::commands::ledger::{LedgerArgs, said, zone};
use crate::exit::Failure;
use crate::marking::Marked;
use crate::testers::Opened;
use dipsift_bench::{Outcome, Report};
use dipsift_ledger::{
    Current, FailingPin, Hex, Id, Insertion, Ledger, Lot, MemoryMap, Nature, Remark, RemarkKind,
    Selection, Subject, Tester, Type, Undo, Verdict,
};
use jiff::Timestamp;
use serde_json::json;
use std::collections::BTreeMap;

/// A lot that is being screened.
pub struct Record {
    ledger: Ledger,
    lot: String,
    tester: Tester,
    /// How many chips it had before.
    pub before: u64,
}

impl Record {
    /// Opens the lot; begins it where it is new. A lot holds results of one nature of tester: a
    /// simulated evening never counts among real chips.
    pub fn open(args: &LedgerArgs, lot: &str, opened: &Opened) -> Result<Self, Failure> {
        let mut ledger = args.open_or_make()?;
        let tester = opened.record();
        let name = match ledger.lot(lot).map_err(|error| said(&error))? {
            Some(known) => known.entry.name,
            None => {
                let new = Lot { at: Timestamp::now(), name: lot.into(), description: None };
                ledger.add_lot(&new).map_err(|error| said(&error))?;
                lot.to_string()
            }
        };
        let report = ledger.report(&Selection::lot(&name)).map_err(|error| said(&error))?;
        let others = report.testers.iter().map(|line| line.tester.nature);
        if let Some(other) = others.into_iter().find(|nature| *nature != tester.nature) {
            return Err(Failure::usage(format!(
                "the lot {name:?} holds results of {} tester, and this one is {}: say another --lot",
                with_article(other),
                tester.nature,
            )));
        }
        Ok(Self { ledger, lot: name, tester, before: report.chips().total() })
    }

    /// The lot's name.
    pub fn lot(&self) -> &str {
        &self.lot
    }

    /// Whether a real or an emulated tester has not been tested by itself today, or has failed.
    pub fn untested_today(&self) -> Result<bool, Failure> {
        if self.tester.nature == Nature::Simulated {
            return Ok(false);
        }
        let today = zone().to_datetime(Timestamp::now()).date();
        let midnight = zone().to_timestamp(today.at(0, 0, 0, 0)).unwrap_or(Timestamp::MIN);
        let last =
            self.ledger.last_selftest(&self.tester.name, midnight).map_err(|error| said(&error))?;
        Ok(last.is_none_or(|selftest| !selftest.entry.passed))
    }

    /// The marking of the last insertion of the lot, from whatever evening.
    pub fn last_marking(&self) -> Result<Option<String>, Failure> {
        let last = self.ledger.last_insertions(&self.lot, 1).map_err(|error| said(&error))?;
        Ok(last.into_iter().next().map(|last| last.entry.marking))
    }

    /// Records an insertion; on the disk when this returns.
    pub fn add(
        &mut self,
        marked: &Marked,
        checked: &Checked,
        note: Option<&str>,
        retest_of: Option<Id>,
    ) -> Result<Id, Failure> {
        let insertion = Insertion {
            note: note.map(str::to_string),
            retest_of,
            ..insertion(&self.lot, &self.tester, marked, checked)
        };
        self.ledger.record(&insertion).map_err(|error| {
            let cause = said(&error);
            Failure::usage(format!("failed to record the chip {}: {cause}", marked.text))
        })
    }

    /// Undoes an insertion.
    pub fn undo(&mut self, insertion: Id) -> Result<(), Failure> {
        let undo = Undo { at: Timestamp::now(), insertion, reason: None };
        self.ledger.undo(&undo).map(drop).map_err(|error| said(&error))
    }

    /// Undoes the lot's last insertion, from whatever evening; gives its marking.
    pub fn undo_last(&mut self) -> Result<String, Failure> {
        let undone = self
            .ledger
            .undo_last(&self.lot, Timestamp::now(), None)
            .and_then(|id| self.ledger.insertion(id))
            .map_err(|error| said(&error))?;
        Ok(undone.map(|insertion| insertion.entry.marking).unwrap_or_default())
    }

    /// Adds a note or a picture's path to an insertion.
    pub fn remark(&mut self, kind: RemarkKind, insertion: Id, text: &str) -> Result<(), Failure> {
        let about = Subject::Insertion(insertion);
        let remark = Remark { at: Timestamp::now(), about, kind, text: text.into() };
        self.ledger.add_remark(&remark).map(drop).map_err(|error| said(&error))
    }
}

const fn with_article(nature: Nature) -> &'static str {
    match nature {
        Nature::Real => "a real",
        Nature::Emulated => "an emulated",
        Nature::Simulated => "a simulated",
    }
}

/// What is recorded of a checked chip.
fn insertion(lot: &str, tester: &Tester, marked: &Marked, checked: &Checked) -> Insertion {
    let report = &checked.run.report;
    let powered = report.supply_mv > 0;
    Insertion {
        at: Timestamp::now(),
        lot: lot.into(),
        marking: marked.text.clone(),
        chip: Type {
            name: if report.name.is_empty() { marked.text.clone() } else { report.name.clone() },
            part: report.part.clone(),
            family: report.family.clone(),
            package: checked.package.clone(),
        },
        date_code: marked.made,
        tester: tester.clone(),
        program_hash: report.program_hash.map(|hash| Hex(hash.0.to_vec())),
        verdict: verdict(report.outcome),
        reason: json!(report.reason).as_str().unwrap_or_default().into(),
        explanation: explanation(report),
        failing_pins: failing_pins(checked, report),
        supply_mv: powered.then_some(report.supply_mv),
        currents: if powered { largest(report) } else { Vec::new() },
        steps: report.steps,
        failures: report.failures,
        speed_grade: checked.speed_grade(),
        memory_map: memory_map(checked),
        note: None,
        retest_of: None,
    }
}

const fn verdict(outcome: Outcome) -> Verdict {
    match outcome {
        Outcome::Go => Verdict::Go,
        Outcome::NoGo => Verdict::NoGo,
        Outcome::NotDecided => Verdict::NotDecided,
        Outcome::Refused => Verdict::Refused,
        Outcome::Trouble => Verdict::Trouble,
    }
}

fn largest(report: &Report) -> Vec<Current> {
    let microamperes = i32::try_from(report.current_ua).unwrap_or(i32::MAX);
    vec![Current { what: "largest".into(), microamperes }]
}

/// The longest explanation that a record takes, in characters.
const LONGEST: usize = 10_000;

fn explanation(report: &Report) -> Option<String> {
    let found = report.memory.iter().flat_map(|memory| &memory.diagnosis);
    let pins = report.pins.iter().map(|fault| &fault.sentence);
    let sentences: Vec<&str> =
        report.sentences.iter().chain(found).chain(pins).map(String::as_str).collect();
    let text: String = sentences.join("; ").chars().take(LONGEST).collect();
    Some(text).filter(|text| !text.is_empty())
}

/// Pins that failed and pins without contact, by number.
fn failing_pins(checked: &Checked, report: &Report) -> Vec<FailingPin> {
    if report.outcome == Outcome::Go {
        return Vec::new();
    }
    let mut pins: BTreeMap<u8, FailingPin> = BTreeMap::new();
    for fault in &report.pins {
        let (low, high, held) = (fault.low.into(), fault.high.into(), fault.held.into());
        let pin =
            FailingPin { pin: fault.pin, name: fault.name.clone(), low, high, held, open: false };
        if low + high + held > 0 {
            pins.insert(fault.pin, pin);
        }
    }
    for &pin in &report.open {
        let new = || FailingPin {
            pin,
            name: checked.pin_name(pin),
            low: 0,
            high: 0,
            held: 0,
            open: true,
        };
        pins.entry(pin).or_insert_with(new).open = true;
    }
    pins.into_values().collect()
}

/// Where a memory failed; nothing where it did not, or where the map would be too large.
fn memory_map(checked: &Checked) -> Option<Hex> {
    let memory = checked.run.report.memory.as_ref()?;
    let bits = u8::try_from(memory.bits).ok()?;
    let failing = checked.run.failing.iter().map(|&(address, mask)| (address, u64::from(mask)));
    let map = MemoryMap::new(memory.words, bits, failing).ok()?;
    (map.failing_cells() > 0).then(|| map.to_hex().ok()).flatten()
}
