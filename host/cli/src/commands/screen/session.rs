//! What has been screened so far.

use super::record::Record;
use crate::commands::check::mark;
use crate::exit::{Failure, Status};
use crate::library::Named;
use crate::marking::Marked;
use crate::output::Output;
use crate::summary;
use crate::testers::Opened;
use dipsift_bench::memory::{Mark, MemoryProgress, MemoryRun, MemoryWish};
use dipsift_bench::{Outcome, Reason, Refused, Report, Tally, destination};
use dipsift_language::Library;
use dipsift_ledger::{Id, RemarkKind};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// What is wanted of every chip.
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    /// How often each is checked.
    pub repeat: u32,
    /// Whether memories are measured.
    pub grade: bool,
}

/// A checked chip, not yet counted.
pub struct Checked {
    /// What the check yields.
    pub run: MemoryRun,
    /// Its package, `DIP14`; empty for a chip that was refused.
    pub package: String,
    /// The names of its pins.
    pins: BTreeMap<u8, String>,
    /// What its speed mark promises, where it has one that is understood.
    mark: Option<Mark>,
}

impl Checked {
    fn refused(report: Report) -> Self {
        let run = MemoryRun::of(report);
        Self { run, package: String::new(), pins: BTreeMap::new(), mark: None }
    }

    /// Its report.
    pub fn report(&self) -> &Report {
        &self.run.report
    }

    /// The name of a pin.
    pub fn pin_name(&self, pin: u8) -> String {
        self.pins.get(&pin).cloned().unwrap_or_default()
    }

    /// The speed that it was marched at, where it is good and marked with one: a good chip without
    /// a mark has no grade, since a measured time never makes one.
    pub fn speed_grade(&self) -> Option<String> {
        let mark = self.mark.as_ref().filter(|_| self.report().outcome == Outcome::Go)?;
        Some(format!("{} ns", mark.access_ns))
    }
}

/// Whether a chip still counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Counts,
    Undone,
    Repeated,
}

impl State {
    const fn word(self) -> &'static str {
        match self {
            Self::Counts => "counts",
            Self::Undone => "undone",
            Self::Repeated => "repeated",
        }
    }
}

/// An insertion of this evening.
struct Insertion {
    chip: u64,
    marking: String,
    note: Option<String>,
    report: Report,
    recorded: Option<Id>,
    state: State,
}

/// How a batch, or an evening, ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Every chip had its turn.
    Completed,
    /// Ctrl-C came before.
    Interrupted,
    /// Something failed, which is told elsewhere.
    Failed,
}

/// A batch in work.
pub struct Session<'a> {
    /// The library.
    pub library: &'a Library,
    /// The tester.
    pub opened: Opened,
    /// Where it is recorded.
    pub record: Option<Record>,
    wanted: Wanted,
    tally: Tally,
    insertions: Vec<Insertion>,
    chips: u64,
}

impl<'a> Session<'a> {
    /// Nothing screened yet.
    pub fn new(
        library: &'a Library,
        opened: Opened,
        record: Option<Record>,
        wanted: Wanted,
    ) -> Self {
        let chips = record.as_ref().map_or(0, |record| record.before);
        let (tally, insertions) = (Tally::default(), Vec::new());
        Self { library, opened, record, wanted, tally, insertions, chips }
    }

    /// The number of the last chip; in a lot that goes on, those of earlier evenings count.
    pub fn count(&self) -> u64 {
        self.chips
    }

    /// The tally so far, in a few words.
    pub fn words(&self) -> String {
        let all = &self.tally.all;
        format!("good {}, bad {}, other {}", all.go, all.no_go, all.total() - all.go - all.no_go)
    }

    /// Checks the chip in the socket as what its marking says. A marking that the library does
    /// not know is refused, not guessed at. `None` where Ctrl-C has stopped the check: nothing is
    /// said about the chip then.
    pub fn check(
        &mut self,
        marked: &Marked,
        seated: bool,
        progress: &mut dyn FnMut(&MemoryProgress),
    ) -> Option<Checked> {
        let nature = self.opened.bench.nature();
        let named = match &marked.named {
            Ok(named) => named,
            Err(why) => {
                let refused = Refused::because("", "", marked.text.clone(), why.clone());
                let report = Report { reason: Reason::Marking, ..refused.report(nature) };
                return Some(Checked::refused(report));
            }
        };
        let checked = self.check_named(named, seated, progress);
        (!self.opened.bench.link().stopped()).then_some(checked)
    }

    fn check_named(
        &mut self,
        named: &Named,
        seated: bool,
        progress: &mut dyn FnMut(&MemoryProgress),
    ) -> Checked {
        let bench = &mut self.opened.bench;
        let prepared = match bench.prepare(&named.part, named.family) {
            Ok(prepared) => prepared,
            Err(refused) => return Checked::refused(refused.report(bench.nature())),
        };
        let mark = named.part.memory.as_ref().and_then(|memory| mark(memory, named));
        let wish =
            MemoryWish { mark: mark.clone(), grade: self.wanted.grade, ..MemoryWish::bulk() };
        let run = bench.check_repeated(&prepared, &wish, seated, self.wanted.repeat, &mut |now| {
            progress(now);
            ControlFlow::Continue(())
        });
        let package = &prepared.package;
        let pins = (1..).zip(&package.pins);
        let pins = pins.filter_map(|(number, pin)| {
            Some((number, prepared.part.pins.get(usize::from((*pin)?.0))?.name.clone()))
        });
        Checked { run, package: format!("DIP{}", package.pins.len()), pins: pins.collect(), mark }
    }

    /// Records, counts and prints an insertion: of the next chip, or of the last one `again`.
    pub fn add(
        &mut self,
        out: &mut Output,
        marked: &Marked,
        note: Option<&str>,
        checked: &Checked,
        again: bool,
    ) -> Result<(), Failure> {
        let earlier = if again { self.last() } else { None };
        let retest_of = earlier.and_then(|index| self.insertions[index].recorded);
        let recorded = match &mut self.record {
            Some(record) => Some(record.add(marked, checked, note, retest_of)?),
            None => None,
        };
        match earlier {
            Some(index) => self.insertions[index].state = State::Repeated,
            None => self.chips += 1,
        }
        self.insertions.push(Insertion {
            chip: self.chips,
            marking: marked.text.clone(),
            note: note.map(str::to_string),
            report: kept(checked.report(), out.json),
            recorded,
            state: State::Counts,
        });
        if earlier.is_some() {
            self.count_anew();
        } else {
            self.tally.add(checked.report());
        }
        if !out.json {
            let report = checked.report();
            summary::chip(out, self.chips, &marked.text, note, report, &self.tally.all)?;
        }
        Ok(())
    }

    /// The last insertion of this evening that counts.
    fn last(&self) -> Option<usize> {
        self.insertions.iter().rposition(|insertion| insertion.state == State::Counts)
    }

    fn count_anew(&mut self) {
        self.tally = Tally::default();
        for insertion in self.insertions.iter().filter(|one| one.state == State::Counts) {
            self.tally.add(&insertion.report);
        }
    }

    /// The marking of the last insertion that counts.
    pub fn last_marking(&self) -> Option<&str> {
        self.last().map(|index| self.insertions[index].marking.as_str())
    }

    /// Undoes the last insertion: this evening's, else the lot's. Says which it was.
    pub fn undo(&mut self) -> Result<String, Failure> {
        let Some(index) = self.last() else {
            let record = self.record.as_mut().ok_or_else(nothing_to_undo)?;
            let marking = record.undo_last()?;
            self.chips = self.chips.saturating_sub(1);
            return Ok(format!("undone: {marking}, of an earlier evening"));
        };
        if let (Some(record), Some(id)) = (&mut self.record, self.insertions[index].recorded) {
            record.undo(id)?;
        }
        let insertion = &mut self.insertions[index];
        insertion.state = State::Undone;
        let (chip, marking) = (insertion.chip, insertion.marking.clone());
        // Where it repeated an earlier insertion of the chip, that one counts again.
        let before = self.insertions[..index]
            .iter_mut()
            .rev()
            .find(|one| one.chip == chip && one.state == State::Repeated);
        match before {
            Some(before) => before.state = State::Counts,
            None => self.chips -= 1,
        }
        self.count_anew();
        Ok(format!("undone: chip {chip}, {marking}"))
    }

    /// Adds a note or a picture's path to the last insertion.
    pub fn remark(&mut self, kind: RemarkKind, text: &str) -> Result<String, Failure> {
        let none = || Failure::usage("there is no chip yet this evening".to_string());
        let index = self.last().ok_or_else(none)?;
        let insertion = &mut self.insertions[index];
        match (&mut self.record, insertion.recorded) {
            (Some(record), Some(id)) => record.remark(kind, id, text)?,
            _ => return Err(Failure::usage("nothing is recorded: say --lot NAME".to_string())),
        }
        Ok(format!("{kind} added to chip {}", insertion.chip))
    }

    /// Switches the tester off. Off it is already between two checks, and one that does not answer
    /// switches off by itself.
    pub fn switch_off(&mut self) {
        let _ = self.opened.bench.link().off();
    }

    /// Prints what there is after a failure, which the caller tells: what was recorded, stays.
    pub fn failed(self, out: &mut Output, failure: Failure) -> Failure {
        // Where it is the output that fails, that is told once.
        let _ = self.end(out, json!({}), Ending::Failed);
        failure
    }

    /// Prints the end.
    pub fn end(
        mut self,
        out: &mut Output,
        mut body: Value,
        ending: Ending,
    ) -> Result<Status, Failure> {
        let lost = self.tally.all.trouble > 0 || ending == Ending::Failed;
        if !lost {
            self.switch_off();
        }
        if ending == Ending::Failed && out.json {
            return Ok(Status::Trouble);
        }
        let status = match (lost, ending) {
            (false, Ending::Completed) => Status::Go,
            (false, Ending::Interrupted) => Status::NotDecided,
            _ => Status::Trouble,
        };
        let lot = self.record.as_ref().map(Record::lot);
        if out.json {
            let tester = self.opened.json();
            for (key, value) in tester.as_object().into_iter().flatten() {
                body[key] = value.clone();
            }
            body["completed"] = json!(status == Status::Go);
            body["lot"] = json!(lot);
            body["chips"] = self.insertions.iter().map(json_of).collect();
            body["tally"] = json!(self.tally);
            out.object(status, body)?;
            return Ok(status);
        }
        summary::end(out, &self.tally, self.opened.bench.nature())?;
        match status {
            Status::Trouble if ending == Ending::Failed => {}
            Status::Trouble => {
                out.paragraph("", 0, "the tester was lost: the batch is not complete")?
            }
            Status::NotDecided if body["batch"].is_null() => {
                out.paragraph("", 0, "interrupted: the socket is unpowered")?
            }
            Status::NotDecided => out.paragraph("", 0, "interrupted: the batch is not complete")?,
            _ => {}
        }
        summary::recorded(out, lot)?;
        Ok(status)
    }
}

fn nothing_to_undo() -> Failure {
    Failure::usage("there is nothing to undo")
}

/// A report for the tally; whole where it is printed at the end.
fn kept(report: &Report, whole: bool) -> Report {
    let mut kept = report.clone();
    if !whole {
        kept.sentences.clear();
        kept.not_tested.clear();
        kept.memory = None;
    }
    kept
}

fn json_of(insertion: &Insertion) -> Value {
    json!({
        "chip": insertion.chip,
        "marking": insertion.marking,
        "note": insertion.note,
        "state": insertion.state.word(),
        "recorded": insertion.recorded,
        "destination": destination(&insertion.report),
        "report": insertion.report,
    })
}

/// Whether a report says that the tester was lost.
pub fn lost(report: &Report) -> bool {
    report.outcome == Outcome::Trouble
}

/// Whether a better seat may change the verdict.
pub fn contact_fault(report: &Report) -> bool {
    report.outcome == Outcome::NotDecided
        && matches!(
            report.reason,
            Reason::OpenContact | Reason::ShortOrTurned | Reason::Misplaced | Reason::Intermittent
        )
}
