//! The hands-free loop: insert, read the verdict, take out, insert the next. The tester sees a
//! chip come and go; nothing need be pressed. A mixed batch asks for each chip's marking.

use super::session::{Session, lost};
use crate::args::Screen;
use crate::commands::lines::{Lines, Typed};
use crate::exit::{Failure, Status};
use crate::interrupt;
use crate::library;
use crate::output::Output;
use crate::testers::{Opened, link_failure};
use dipsift_language::Library;
use serde_json::json;
use std::io::{self, Write};
use std::time::Duration;

/// How often the socket is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(150);

/// What a wait ended with.
enum Waited {
    /// The socket is as wanted.
    Socket,
    /// A line was typed.
    Line(String),
    /// The person has finished.
    End,
}

/// Screens chips until standard input ends or Ctrl-C is pressed.
pub fn run(args: &Screen, library: &Library, out: &mut Output) -> Result<Status, Failure> {
    let fixed = args.part.as_deref();
    if let Some(part) = fixed {
        let named = library::find(library, part)?;
        if let (Some(assumption), false) = (&named.assumption, out.json) {
            out.paragraph("", 0, assumption)?;
        }
    }
    let opened = Opened::open(&args.tester, library, fixed)?;
    if !out.json {
        out.labelled("tester", &opened.words())?;
        crate::summary::heading(out)?;
    }
    let mut hands = Hands {
        session: Session::new(library, opened, args.repeat),
        lines: Lines::start(),
        ended: false,
    };
    let mut last = fixed.map(str::to_string);
    hands.screen(fixed.is_some(), &mut last, out)?;
    hands.session.end(out, json!({ "batch": null }), true)
}

struct Hands<'a> {
    session: Session<'a>,
    lines: Lines,
    /// Whether standard input has ended: the chip at hand is the last.
    ended: bool,
}

impl Hands<'_> {
    fn screen(
        &mut self,
        fixed: bool,
        last: &mut Option<String>,
        out: &mut Output,
    ) -> Result<(), Failure> {
        loop {
            prompt(&format!("insert chip {} (Ctrl-D ends)", self.session.count() + 1));
            let marking = match self.wait(true)? {
                Waited::End => return Ok(()),
                // Enter, or a marking, checks without waiting for the tester to see a chip.
                Waited::Line(line) if fixed || line.is_empty() => last.clone(),
                Waited::Line(line) => Some(line),
                Waited::Socket if fixed => last.clone(),
                Waited::Socket => None,
            };
            let marking = match marking {
                Some(marking) => marking,
                None => match self.ask(last.as_deref()) {
                    Some(marking) => marking,
                    None => return Ok(()),
                },
            };
            let Some(marking) = self.known(marking, last.as_deref()) else { return Ok(()) };
            let report = self.session.check(&marking);
            self.session.add(out, &marking, None, &report)?;
            out.flush()?;
            *last = Some(marking);
            if lost(&report) {
                return Ok(());
            }
            prompt("take it out");
            match self.wait(false)? {
                Waited::End => return Ok(()),
                // A line typed too early is the next chip's marking in a mixed batch; the chip
                // must still be taken out first.
                Waited::Socket | Waited::Line(_) => {}
            }
        }
    }

    /// Waits until a chip is in the socket, or none.
    fn wait(&mut self, occupied: bool) -> Result<Waited, Failure> {
        loop {
            let seen =
                self.session.opened.bench.occupied().map_err(|error| link_failure(&error))?;
            if interrupt::asked() {
                return Ok(Waited::End);
            }
            if seen == occupied {
                return Ok(Waited::Socket);
            }
            if self.ended {
                return Ok(Waited::End);
            }
            match self.lines.wait(LOOK_EVERY) {
                Typed::Line(line) if occupied => return Ok(Waited::Line(line)),
                Typed::Line(_) | Typed::Nothing => {}
                Typed::End => self.ended = true,
            }
        }
    }

    /// Asks again for a marking that the library does not have: it may be a slip of the hand. One
    /// that is typed twice stays, and its chip is refused and set aside.
    fn known(&mut self, mut marking: String, last: Option<&str>) -> Option<String> {
        while let Err(error) = library::look_up(self.session.library, &marking) {
            prompt(&format!("{error}; type it again to set the chip aside"));
            let again = self.ask(last)?;
            if again == marking {
                break;
            }
            marking = again;
        }
        Some(marking)
    }

    /// Asks for a marking; Enter means the same again.
    fn ask(&mut self, last: Option<&str>) -> Option<String> {
        loop {
            match last {
                Some(last) => prompt(&format!("marking (Enter: {last} again)?")),
                None => prompt("marking?"),
            }
            loop {
                if interrupt::asked() {
                    return None;
                }
                match self.lines.wait(LOOK_EVERY) {
                    Typed::Line(line) if line.is_empty() => match last {
                        Some(last) => return Some(last.to_string()),
                        None => break,
                    },
                    Typed::Line(line) => return Some(line),
                    Typed::Nothing => {}
                    Typed::End => return None,
                }
            }
        }
    }
}

/// Asks the person for something, beside the output proper.
fn prompt(text: &str) {
    // A prompt that cannot be shown hinders nothing.
    let _ = writeln!(io::stderr(), "> {text}");
}
