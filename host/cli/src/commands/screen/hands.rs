//! The hands-free loop: insert, read the verdict, take out, insert the next. The tester sees a
//! chip come and go; between chips of one type nothing need be pressed. A mixed batch asks for
//! each chip's marking.

use super::ask::Asked;
use super::session::{Checked, Ending, Session, contact_fault, lost};
use super::typed::{Typed, WORDS};
use super::waits::{Then, Waited};
use crate::args::Screen;
use crate::desk::Desk;
use crate::desk::letters::large;
use crate::exit::{Failure, Status};
use crate::marking::{self, Marked, Meaning};
use crate::output::Output;
use crate::testers::Opened;
use crate::verdict;
use crate::{interrupt, summary};
use dipsift_bench::{Outcome, Reason, Report, destination};
use dipsift_language::Library;
use dipsift_ledger::RemarkKind;
use dipsift_marking::complete;
use serde_json::json;
use std::collections::HashMap;
use std::io::Write;
use std::path::Path;

/// Candidates for a marking that is being typed.
const MOST_CANDIDATES: usize = 24;

/// Screens chips until standard input ends or Ctrl-C is pressed.
pub fn run(
    args: &Screen,
    library: &Library,
    bell: bool,
    out: &mut Output,
) -> Result<Status, Failure> {
    let fixed = match &args.part {
        Some(part) => Some(the_part(library, part)?),
        None => None,
    };
    let simulated = args.part.as_deref().filter(|_| args.tester.chip.sim_part.is_none());
    let name = fixed.as_ref().and_then(|fixed| fixed.named.as_ref().ok()).map(|named| &named.name);
    let mut opened = Opened::open(&args.tester, library, simulated.and(name.map(String::as_str)))?;
    opened.interruptible();
    let record = super::record_of(args, &opened)?;
    let session = Session::new(library, opened, record, super::wanted(args));
    if !out.json {
        super::introduce(out, &session)?;
        if let Some(Ok(named)) = fixed.as_ref().map(|fixed| &fixed.named)
            && let Some(assumption) = &named.assumption
        {
            out.labelled("", assumption)?;
        }
        out.flush()?;
    }
    let candidates = |typed: &str| candidates(typed, library);
    let desk = Desk::open(out, bell, &candidates);
    if !out.json && !desk.is_watched() {
        let mut page = out.page();
        summary::heading(&mut page)?;
        desk.show(page);
    }
    let last = match &session.record {
        Some(record) if fixed.is_none() => record.last_marking()?,
        _ => None,
    };
    let (known, next, ended) = (HashMap::new(), None, false);
    let mut hands = Hands { session, desk, known, last, next, fixed, ended };
    let result = hands.screen(out);
    let Hands { mut session, desk, .. } = hands;
    if interrupt::asked() {
        // Before a terminal that stands still is waited for.
        session.switch_off();
    }
    // The keyboard goes back before anything else is printed, also after a failure.
    let shown = desk.close();
    if let Err(failure) = result {
        return Err(session.failed(out, failure));
    }
    shown?;
    let ending = if interrupt::asked() { Ending::Interrupted } else { Ending::Completed };
    session.end(out, json!({ "batch": null }), ending)
}

/// The one part that all chips are.
fn the_part(library: &Library, text: &str) -> Result<Marked, Failure> {
    match marking::read(library, text) {
        Meaning::One(marked) => Ok(marked),
        // The library's own words, with their status.
        _ => match crate::library::find(library, text) {
            Ok(named) => Ok(Marked { text: text.into(), named: Ok(named), made: None }),
            Err(failure) => Err(failure),
        },
    }
}

/// What a line that has been begun can become: a word, or a marking of the shelf.
fn candidates(typed: &str, library: &Library) -> Vec<String> {
    let lower = typed.to_ascii_lowercase();
    let words = WORDS.iter().map(|(word, _)| (*word).to_string());
    let words = words.filter(|word| !typed.is_empty() && word.starts_with(&lower));
    words.chain(complete(typed, library, MOST_CANDIDATES)).collect()
}

pub(super) struct Hands<'a, 'd> {
    pub(super) session: Session<'a>,
    pub(super) desk: Desk<'d>,
    /// What markings of this evening were checked as.
    pub(super) known: HashMap<String, Marked>,
    /// The marking that Enter stands for.
    pub(super) last: Option<String>,
    /// The chip that is inserted next, where its marking was typed before.
    pub(super) next: Option<Marked>,
    pub(super) fixed: Option<Marked>,
    /// Whether standard input has ended: the chip at hand is the last.
    pub(super) ended: bool,
}

impl Hands<'_, '_> {
    fn screen(&mut self, out: &Output) -> Result<(), Failure> {
        let mut again: Option<Marked> = None;
        loop {
            let question = self.insert_question(again.as_ref());
            let mut same = false;
            match self.wait(true, &question)? {
                Waited::Socket => {}
                Waited::End | Waited::Typed(Typed::End) => return Ok(()),
                // Checks without waiting for the tester to see a chip.
                Waited::Typed(Typed::Same) => same = true,
                Waited::Typed(Typed::Marking(line)) => {
                    again = None;
                    match self.hear_next(&line, out)? {
                        Then::End => return Ok(()),
                        _ => continue,
                    }
                }
                Waited::Typed(Typed::Again) => {
                    again = self.marked_again();
                    continue;
                }
                Waited::Typed(other) => {
                    if other == Typed::Undo {
                        again = None;
                    }
                    self.obey(&other)?;
                    continue;
                }
            }
            let repeats = again.is_some();
            let asked = match again.take().or_else(|| self.next.take()) {
                Some(marked) => Asked::Chip(marked),
                None => self.marked(same, out)?,
            };
            let then = match asked {
                Asked::Chip(marked) => self.chip(&marked, repeats, out)?,
                Asked::Nothing => self.wait_until_out("nowhere: nothing was checked", out)?,
                Asked::End => Then::End,
            };
            if matches!(then, Then::End) {
                return Ok(());
            }
        }
    }

    fn insert_question(&self, again: Option<&Marked>) -> String {
        let number = self.session.count();
        match (again, &self.next, &self.fixed) {
            (Some(marked), _, _) => format!("insert chip {number}, {}, again", marked.text),
            (None, Some(marked), _) => format!("insert chip {}, {}", number + 1, marked.text),
            (None, None, Some(_)) => {
                format!("insert chip {} (help lists words, Ctrl-D ends)", number + 1)
            }
            (None, None, None) => {
                format!("insert chip {} or type its marking (help, Ctrl-D)", number + 1)
            }
        }
    }

    /// Takes the marking of the chip that comes next.
    pub(super) fn hear_next(&mut self, line: &str, out: &Output) -> Result<Then, Failure> {
        if let Some(fixed) = &self.fixed {
            self.desk.say(&format!(
                "every chip is checked as {}; for a mixed bag end, and say screen without a part",
                fixed.text
            ));
            return Ok(Then::Out);
        }
        match self.read(line.to_string(), false, out)? {
            Asked::Chip(marked) => self.next = Some(marked),
            Asked::Nothing => {}
            Asked::End => return Ok(Then::End),
        }
        Ok(Then::Out)
    }

    /// Checks a chip, with one more try where its seat is doubtful, and has it taken out.
    fn chip(&mut self, marked: &Marked, repeats: bool, out: &Output) -> Result<Then, Failure> {
        let number = self.session.count() + u64::from(!repeats);
        let mut seated = false;
        let mut reseated = false;
        loop {
            self.desk.busy("checking");
            let Some(checked) = self.check(marked, seated) else { return Ok(Then::End) };
            let report = checked.report();
            let then = if report.reason == Reason::EmptySocket {
                self.desk.say("the socket is empty: nothing was checked");
                if seated {
                    self.wait_for_seat(out)?
                } else {
                    self.wait_until_out("nowhere: nothing was checked", out)?
                }
            } else {
                // Undone meanwhile, its result is a first one again.
                let repeats = self.session.count() >= number;
                let reseat = contact_fault(report) && !reseated;
                self.note_down(marked, &checked, repeats, reseat, out)?;
                if lost(report) {
                    return Ok(Then::End);
                }
                // Once: a fault that stays counts.
                let then = if reseat { self.wait_for_seat(out)? } else { Then::Out };
                reseated |= reseat;
                match then {
                    Then::Out => self.wait_until_out(&destination(report), out)?,
                    then => {
                        seated |= reseat;
                        then
                    }
                }
            };
            if !matches!(then, Then::Again) {
                return Ok(then);
            }
        }
    }

    fn check(&mut self, marked: &Marked, seated: bool) -> Option<Checked> {
        let Self { session, desk, .. } = self;
        session.check(marked, seated, &mut |now| {
            let percent = now.done * 100 / now.all.max(1);
            desk.busy(&format!("checking: {}, {percent} %", now.stage));
        })
    }

    /// Records and shows a result.
    fn note_down(
        &mut self,
        marked: &Marked,
        checked: &Checked,
        repeats: bool,
        reseat: bool,
        out: &Output,
    ) -> Result<(), Failure> {
        let report = checked.report();
        let mut page = out.page();
        if self.desk.is_watched() {
            let style = verdict::style(report.outcome);
            writeln!(page)?;
            let word = word(report, reseat);
            let lines = large(word);
            if lines.iter().all(|line| line.len() + 2 < self.desk.columns()) {
                for line in lines {
                    writeln!(page, "  {style}{line}{style:#}")?;
                }
            } else {
                writeln!(page, "  {style}*** {word} ***{style:#}")?;
            }
            writeln!(page)?;
            // With each chip: above a screen of large letters it would have scrolled away.
            summary::heading(&mut page)?;
        }
        self.session.add(&mut page, marked, None, checked, repeats)?;
        self.desk.show(page);
        self.desk.bell(if report.outcome == Outcome::Go { 1 } else { 2 });
        self.last = Some(marked.text.clone());
        self.known.insert(marked.text.clone(), marked.clone());
        Ok(self.desk.check()?)
    }

    /// Does what a word says.
    pub(super) fn obey(&mut self, typed: &Typed) -> Result<(), Failure> {
        let done = match typed {
            Typed::Undo => self.session.undo(),
            Typed::Note(text) => self.session.remark(RemarkKind::Note, text),
            Typed::Photo(path) => {
                picture(path).and_then(|path| self.session.remark(RemarkKind::Photo, &path))
            }
            Typed::Help => {
                self.desk.list(WORDS);
                return Ok(());
            }
            Typed::Skip => Ok("there is no chip to be set aside".into()),
            Typed::Incomplete(what) => Ok((*what).into()),
            _ => return Ok(()),
        };
        match done {
            Ok(words) => self.desk.say(&words),
            // What cannot be done changes nothing, and the evening goes on.
            Err(failure @ Failure::Said { .. }) => self.desk.say(&failure.to_string()),
            Err(failure) => return Err(failure),
        }
        Ok(())
    }

    /// The last chip's marking, for its repetition.
    fn marked_again(&mut self) -> Option<Marked> {
        let Some(text) = self.session.last_marking().map(str::to_string) else {
            self.desk.say("there is no chip yet this evening");
            return None;
        };
        Some(self.understood(&text))
    }

    fn understood(&self, text: &str) -> Marked {
        match (&self.fixed, self.known.get(text)) {
            (Some(fixed), _) if fixed.text == text => fixed.clone(),
            (_, Some(known)) => known.clone(),
            _ => marking::read_unattended(self.session.library, text),
        }
    }
}

/// A picture's path, as it was typed or dropped on the terminal; it must lead to a file.
fn picture(path: &str) -> Result<String, Failure> {
    let bare = |quote| path.strip_prefix(quote)?.strip_suffix(quote);
    let bare = bare('\'').or_else(|| bare('"')).unwrap_or(path);
    if Path::new(bare).is_file() {
        return Ok(bare.to_string());
    }
    Err(Failure::usage(format!("there is no file {bare}: no photo was added")))
}

/// The verdict in a word for large letters.
const fn word(report: &Report, reseat: bool) -> &'static str {
    match report.outcome {
        Outcome::Go => "GO",
        Outcome::NoGo => "NO-GO",
        Outcome::Trouble => "TROUBLE",
        _ if reseat => "RESEAT",
        _ => "ASIDE",
    }
}
