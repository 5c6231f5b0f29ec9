//! What has been screened so far.

use crate::exit::{Failure, Status};
use crate::library::{self, Named};
use crate::output::Output;
use crate::summary;
use crate::testers::Opened;
use dipsift_bench::{Outcome, Refused, Report, Tally, destination};
use dipsift_language::Library;
use serde_json::{Value, json};

/// A batch in work.
pub struct Session<'a> {
    /// The library.
    pub library: &'a Library,
    /// The tester.
    pub opened: Opened,
    tally: Tally,
    chips: Vec<Value>,
    number: u32,
    repeat: u32,
}

impl<'a> Session<'a> {
    /// Nothing screened yet.
    pub fn new(library: &'a Library, opened: Opened, repeat: u32) -> Self {
        Self { library, opened, tally: Tally::default(), chips: Vec::new(), number: 0, repeat }
    }

    /// How many chips there were.
    pub fn count(&self) -> u32 {
        self.number
    }

    /// The tally so far, in a few words.
    pub fn words(&self) -> String {
        let all = &self.tally.all;
        format!("good {}, bad {}, other {}", all.go, all.no_go, all.total() - all.go - all.no_go)
    }

    /// Checks the chip in the socket as what its marking says. A marking that the library does
    /// not know is refused, not guessed at.
    pub fn check(&mut self, marking: &str) -> Report {
        let nature = self.opened.bench.nature();
        match library::look_up(self.library, marking) {
            Ok(named) => self.check_named(&named),
            Err(error) => {
                Refused::because("", "", marking.into(), error.to_string()).report(nature)
            }
        }
    }

    fn check_named(&mut self, named: &Named) -> Report {
        match self.opened.bench.prepare(&named.part, named.family) {
            Ok(prepared) => {
                self.opened.bench.check_repeated(&prepared, false, self.repeat, &mut |_| {})
            }
            Err(refused) => refused.report(self.opened.bench.nature()),
        }
    }

    /// Counts and prints a chip. `Err` where the tester is lost: no further chip can be checked.
    pub fn add(
        &mut self,
        out: &mut Output,
        marking: &str,
        note: Option<&str>,
        report: &Report,
    ) -> Result<(), Failure> {
        self.number += 1;
        self.tally.add(report);
        if out.json {
            self.chips.push(json!({
                "chip": self.number,
                "marking": marking,
                "note": note,
                "destination": destination(report),
                "report": report,
            }));
        } else {
            summary::chip(out, self.number, marking, note, report, &self.tally.all)?;
        }
        Ok(())
    }

    /// Whether the tester was lost.
    pub fn lost(&self) -> bool {
        self.tally.all.trouble > 0
    }

    /// Prints the end. `completed` says whether every chip of the batch had its turn.
    pub fn end(
        self,
        out: &mut Output,
        mut body: Value,
        completed: bool,
    ) -> Result<Status, Failure> {
        let status = match (self.lost(), completed) {
            (true, _) => Status::Trouble,
            (false, true) => Status::Go,
            (false, false) => Status::NotDecided,
        };
        if out.json {
            let tester = self.opened.json();
            for (key, value) in tester.as_object().into_iter().flatten() {
                body[key] = value.clone();
            }
            body["completed"] = json!(completed && status == Status::Go);
            body["chips"] = json!(self.chips);
            body["tally"] = json!(self.tally);
            out.object(status, body)?;
        } else {
            summary::end(out, &self.tally, self.opened.bench.nature())?;
            match status {
                Status::Trouble => {
                    out.paragraph("", 0, "the tester was lost: the batch is not complete")?
                }
                Status::NotDecided => {
                    out.paragraph("", 0, "interrupted: the batch is not complete")?
                }
                _ => {}
            }
        }
        Ok(status)
    }
}

/// Whether a report says that the tester was lost.
pub fn lost(report: &Report) -> bool {
    report.outcome == Outcome::Trouble
}
