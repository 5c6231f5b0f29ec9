//! The hands-free loop: insert, read the verdict, take out, insert the next. The tester sees a
//! chip come and go; between chips of one type nothing need be pressed. A mixed batch asks for
//! each chip's marking.

use super::session::{Checked, Session, contact_fault, lost};
use super::typed::{self, Typed, WORDS};
use crate::args::Screen;
use crate::desk::letters::large;
use crate::desk::{Desk, Heard};
use crate::exit::{Failure, Status};
use crate::interrupt;
use crate::marking::{self, Marked, Meaning};
use crate::output::Output;
use crate::testers::{Opened, link_failure};
use crate::verdict;
use dipsift_bench::{Outcome, Reason, Report};
use dipsift_language::Library;
use dipsift_ledger::RemarkKind;
use dipsift_marking::complete;
use serde_json::json;
use std::collections::HashMap;
use std::io::Write;
use std::time::Duration;

/// How often the socket is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(150);
/// A chip is there, or gone, once so many looks say so: it goes in pin by pin.
const LOOKS: u32 = 2;
/// Candidates for a marking that is being typed.
const MOST_CANDIDATES: usize = 24;

/// What a wait ended with.
enum Waited {
    /// The socket is as wanted.
    Socket,
    /// A line was typed.
    Typed(Typed),
    /// The person has finished.
    End,
}

/// What a question ended with.
enum Answer {
    Line(String),
    /// An empty line.
    Nothing,
    End,
}

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
        crate::summary::heading(out)?;
        out.flush()?;
    }
    let candidates = |typed: &str| candidates(typed, library);
    let desk = Desk::open(out, bell, &candidates);
    let last = match &session.record {
        Some(record) if fixed.is_none() => record.last_marking()?,
        _ => None,
    };
    let mut hands = Hands { session, desk, known: HashMap::new(), last, fixed, ended: false };
    let result = hands.screen(out);
    let Hands { session, desk, .. } = hands;
    // The keyboard goes back before anything else is printed, also after a failure.
    let shown = desk.close();
    result?;
    shown?;
    session.end(out, json!({ "batch": null }), true)
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

struct Hands<'a, 'd> {
    session: Session<'a>,
    desk: Desk<'d>,
    /// What was answered for a marking that can mean several chips.
    known: HashMap<String, Marked>,
    /// The marking that Enter stands for.
    last: Option<String>,
    fixed: Option<Marked>,
    /// Whether standard input has ended: the chip at hand is the last.
    ended: bool,
}

impl Hands<'_, '_> {
    fn screen(&mut self, out: &Output) -> Result<(), Failure> {
        let mut again = None;
        loop {
            let next = match &again {
                None => {
                    format!(
                        "insert chip {} (help lists words, Ctrl-D ends)",
                        self.session.count() + 1
                    )
                }
                Some(_) => "insert the last chip again".into(),
            };
            let mut typed = None;
            match self.wait(true, &next)? {
                Waited::End => return Ok(()),
                Waited::Socket => {}
                // Enter, or a marking, checks without waiting for the tester to see a chip.
                Waited::Typed(Typed::Same) => typed = self.last.clone(),
                Waited::Typed(Typed::Marking(line)) => typed = Some(line),
                Waited::Typed(Typed::Again) => {
                    again = self.marked_again();
                    continue;
                }
                Waited::Typed(Typed::End) => return Ok(()),
                Waited::Typed(other) => {
                    self.obey(&other)?;
                    continue;
                }
            }
            let repeats = again.is_some();
            let marked = match again.take() {
                Some(marked) => marked,
                None => match self.marked(typed, out)? {
                    Some(marked) => marked,
                    None => return Ok(()),
                },
            };
            if !self.chip(&marked, repeats, out)? {
                return Ok(());
            }
        }
    }

    /// Checks a chip, with one more try where its seat is doubtful, and has it taken out. Says
    /// whether the evening goes on.
    fn chip(&mut self, marked: &Marked, repeats: bool, out: &Output) -> Result<bool, Failure> {
        let (mut repeats, mut seated) = (repeats, false);
        loop {
            self.desk.busy("checking");
            let Some(checked) = self.check(marked, seated) else { return Ok(false) };
            let report = checked.report();
            if report.reason == Reason::EmptySocket {
                self.desk.say("the socket is empty: nothing was checked");
                return Ok(true);
            }
            let reseat = contact_fault(report) && !seated;
            self.note_down(marked, &checked, repeats, reseat, out)?;
            if lost(report) {
                return Ok(false);
            }
            // Once: a fault that stays counts.
            if reseat {
                match self.wait_for_seat()? {
                    Some(true) => {
                        (repeats, seated) = (true, true);
                        continue;
                    }
                    Some(false) => {}
                    None => return Ok(false),
                }
            }
            match self.wait_until_out()? {
                Some(true) => (repeats, seated) = (true, seated),
                Some(false) => return Ok(true),
                None => return Ok(false),
            }
        }
    }

    fn check(&mut self, marked: &Marked, seated: bool) -> Option<Checked> {
        let Self { session, desk, .. } = self;
        session.check(marked, seated, &mut |now| {
            let percent = now.done * 100 / now.all.max(1);
            desk.busy(&format!("{}: {percent} %", now.stage));
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
            for line in large(word(report, reseat)) {
                writeln!(page, "  {style}{line}{style:#}")?;
            }
            writeln!(page)?;
        }
        self.session.add(&mut page, marked, None, checked, repeats)?;
        self.desk.show(page);
        self.desk.bell(if report.outcome == Outcome::Go { 1 } else { 2 });
        self.last = Some(marked.text.clone());
        Ok(self.desk.check()?)
    }

    /// After a doubtful contact: waits until the chip is out and in again, or Enter says that it
    /// sits well. `Some(false)` sets it aside as it is; `None` ends.
    fn wait_for_seat(&mut self) -> Result<Option<bool>, Failure> {
        let out = "reseat: take it out, look at pins and notch, clean them (skip: set it aside)";
        for (occupied, question) in [(false, out), (true, "seat it again (skip: set it aside)")] {
            loop {
                match self.wait(occupied, question)? {
                    Waited::Socket => break,
                    Waited::End | Waited::Typed(Typed::End) => return Ok(None),
                    Waited::Typed(Typed::Same | Typed::Again) => return Ok(Some(true)),
                    Waited::Typed(Typed::Skip) => return Ok(Some(false)),
                    Waited::Typed(other) => self.obey(&other)?,
                }
            }
        }
        Ok(Some(true))
    }

    /// Waits until the chip is out. `Some(true)` checks it again as it sits; `None` ends.
    fn wait_until_out(&mut self) -> Result<Option<bool>, Failure> {
        loop {
            match self.wait(false, "take it out")? {
                Waited::Socket => return Ok(Some(false)),
                Waited::End | Waited::Typed(Typed::End) => return Ok(None),
                Waited::Typed(Typed::Again) => return Ok(Some(true)),
                Waited::Typed(Typed::Same | Typed::Skip) => {}
                Waited::Typed(Typed::Marking(_)) => {
                    self.desk.say("take this chip out first: a marking is for the next one");
                }
                Waited::Typed(other) => self.obey(&other)?,
            }
        }
    }

    /// Waits until a chip is in the socket, or none; or until a line is typed.
    fn wait(&mut self, occupied: bool, question: &str) -> Result<Waited, Failure> {
        self.desk.ask(question);
        let mut looks = 0;
        loop {
            let seen = self.session.opened.bench.occupied();
            if interrupt::asked() {
                return Ok(Waited::End);
            }
            let seen = seen.map_err(|error| link_failure(&error))?;
            looks = if seen == occupied { looks + 1 } else { 0 };
            if looks >= LOOKS {
                return Ok(Waited::Socket);
            }
            if self.ended && seen != occupied {
                return Ok(Waited::End);
            }
            match self.desk.listen(LOOK_EVERY) {
                Heard::Line(line) => return Ok(Waited::Typed(typed::read(&line))),
                Heard::Nothing => {}
                Heard::End => self.ended = true,
            }
        }
    }

    /// Does what a word says.
    fn obey(&mut self, typed: &Typed) -> Result<(), Failure> {
        let done = match typed {
            Typed::Undo => self.session.undo(),
            Typed::Note(text) => self.session.remark(RemarkKind::Note, text),
            Typed::Photo(path) => self.session.remark(RemarkKind::Photo, path),
            Typed::Help => {
                for (word, what) in WORDS {
                    self.desk.say(&format!("{word:<8}{what}"));
                }
                Ok("Enter alone: the same again; any other line is a marking, Tab completes it"
                    .into())
            }
            Typed::Skip => Ok("there is no chip to be seated again".into()),
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

    /// What the chip in the socket is: the one part, or what was typed, or what a question brings.
    /// `None` ends.
    fn marked(&mut self, typed: Option<String>, out: &Output) -> Result<Option<Marked>, Failure> {
        if let Some(fixed) = &self.fixed {
            return Ok(Some(fixed.clone()));
        }
        let mut text = match typed {
            Some(text) => text,
            None => match self.ask_marking()? {
                Some(text) => text,
                None => return Ok(None),
            },
        };
        let mut refused: Option<String> = None;
        loop {
            if let Some(known) = self.known.get(&text) {
                return Ok(Some(known.clone()));
            }
            match marking::read(self.session.library, &text) {
                Meaning::One(marked) => return Ok(Some(marked)),
                Meaning::Ask(question, choices) => match self.choose(&question, choices, out)? {
                    Choice::This(marked) => {
                        let marked = Marked { text: text.clone(), ..marked };
                        self.known.insert(text, marked.clone());
                        return Ok(Some(marked));
                    }
                    Choice::Aside => {
                        let why = "it was not said which part it is".to_string();
                        return Ok(Some(Marked::set_aside(&text, why)));
                    }
                    Choice::Other(line) => text = line,
                    Choice::End => return Ok(None),
                },
                // It may be a slip of the hand. One that is typed twice stays.
                Meaning::None(why) if refused.as_deref() == Some(&text) => {
                    return Ok(Some(Marked::set_aside(&text, why)));
                }
                Meaning::None(why) => {
                    self.desk.say(&why);
                    let question = format!("marking (Enter: set {text} aside)?");
                    match self.answer(&question)? {
                        Answer::Line(line) => {
                            refused = Some(std::mem::replace(&mut text, line));
                        }
                        Answer::Nothing => return Ok(Some(Marked::set_aside(&text, why))),
                        Answer::End => return Ok(None),
                    }
                }
            }
        }
    }

    /// Asks for a marking; Enter means the same again.
    fn ask_marking(&mut self) -> Result<Option<String>, Failure> {
        let question = match &self.last {
            Some(last) => format!("marking (Enter: {last} again)?"),
            None => "marking?".to_string(),
        };
        loop {
            match (self.answer(&question)?, &self.last) {
                (Answer::Line(line), _) => return Ok(Some(line)),
                (Answer::Nothing, Some(last)) => return Ok(Some(last.clone())),
                (Answer::Nothing, None) => {}
                (Answer::End, _) => return Ok(None),
            }
        }
    }

    /// Asks which of several parts it is.
    fn choose(
        &mut self,
        question: &str,
        mut choices: Vec<(String, Marked)>,
        out: &Output,
    ) -> Result<Choice, Failure> {
        let mut page = out.page();
        if !out.json {
            out_choices(&mut page, question, &choices)?;
        }
        self.desk.show(page);
        let which = match choices.len() {
            1 => "1".to_string(),
            several => format!("1 to {several}"),
        };
        match self.answer(&format!("which, {which} (Enter: set it aside)?"))? {
            Answer::End => Ok(Choice::End),
            Answer::Nothing => Ok(Choice::Aside),
            Answer::Line(line) => match line.parse::<usize>() {
                Ok(number) if (1..=choices.len()).contains(&number) => {
                    Ok(Choice::This(choices.swap_remove(number - 1).1))
                }
                _ => Ok(Choice::Other(line)),
            },
        }
    }

    /// Asks, and waits for a line that is no word.
    fn answer(&mut self, question: &str) -> Result<Answer, Failure> {
        loop {
            self.desk.ask(question);
            if interrupt::asked() {
                return Ok(Answer::End);
            }
            match self.desk.listen(LOOK_EVERY) {
                Heard::Nothing => {}
                Heard::End => return Ok(Answer::End),
                Heard::Line(line) => match typed::read(&line) {
                    Typed::Same => return Ok(Answer::Nothing),
                    Typed::Marking(line) => return Ok(Answer::Line(line)),
                    Typed::End => return Ok(Answer::End),
                    other => self.obey(&other)?,
                },
            }
        }
    }
}

/// What a person says to several candidates.
enum Choice {
    This(Marked),
    Other(String),
    Aside,
    End,
}

fn out_choices(
    page: &mut Output,
    question: &str,
    choices: &[(String, Marked)],
) -> Result<(), Failure> {
    writeln!(page, "  {question}:")?;
    for (number, (words, _)) in (1..).zip(choices) {
        page.paragraph(&format!("  {number:>3}  "), 7, words)?;
    }
    Ok(())
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
