//! Where a person sits: what is shown, and what is typed meanwhile. At a terminal keys are taken
//! one by one and the question stands on the last line; elsewhere questions go to standard error
//! and lines come from standard input.

mod display;
mod keys;
pub mod letters;
pub mod lines;

pub use display::Display;

use crate::output::Output;
use keys::Keys;
use lines::{Lines, Typed};
use std::io::{self, IsTerminal, Write};
use std::time::Duration;

/// What came from the keyboard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Heard {
    /// A line, without white space around it.
    Line(String),
    /// Nothing yet.
    Nothing,
    /// No more will come.
    End,
}

/// A person's desk.
pub struct Desk<'a> {
    display: Display,
    input: Input<'a>,
    bell: bool,
    json: bool,
}

enum Input<'a> {
    Keys(Keys<'a>),
    Lines { lines: Lines, asked: String },
}

impl<'a> Desk<'a> {
    /// Sits down. `complete` gives candidates for what has been typed so far.
    pub fn open(out: &Output, bell: bool, complete: &'a dyn Fn(&str) -> Vec<String>) -> Self {
        let seen = !out.json && io::stdin().is_terminal() && io::stdout().is_terminal();
        let keys = if seen { Keys::take(complete) } else { None };
        let bell = bell && keys.is_some();
        let input = match keys {
            Some(keys) => Input::Keys(keys),
            None => Input::Lines { lines: Lines::start(), asked: String::new() },
        };
        Self { display: Display::start(None), input, bell, json: out.json }
    }

    /// Whether there is a screen that a person watches.
    pub fn is_watched(&self) -> bool {
        matches!(self.input, Input::Keys(_))
    }

    /// Asks for something. The same question twice is asked once.
    pub fn ask(&mut self, question: &str) {
        match &mut self.input {
            Input::Keys(keys) => keys.ask(question, &self.display),
            Input::Lines { asked, .. } => {
                if asked != question {
                    // A question that cannot be shown hinders nothing.
                    let _ = writeln!(io::stderr(), "> {question}");
                    *asked = question.into();
                }
            }
        }
    }

    /// Says what goes on, where somebody watches.
    pub fn busy(&mut self, words: &str) {
        if self.is_watched() {
            self.ask(words);
        }
    }

    /// Waits a while for a line.
    pub fn listen(&mut self, time: Duration) -> Heard {
        match &mut self.input {
            Input::Keys(keys) => keys.listen(time, &self.display),
            Input::Lines { lines, asked } => match lines.wait(time) {
                Typed::Line(line) => {
                    asked.clear();
                    Heard::Line(line)
                }
                Typed::Nothing => Heard::Nothing,
                Typed::End => Heard::End,
            },
        }
    }

    /// Shows a page.
    pub fn show(&self, page: Output) {
        self.display.text(page.take());
    }

    /// Says something beside the results.
    pub fn say(&self, text: &str) {
        if self.is_watched() {
            self.display.text(format!("  {text}\n"));
        } else if !self.json {
            let _ = writeln!(io::stderr(), "> {text}");
        }
    }

    /// Rings, so often.
    pub fn bell(&self, times: u8) {
        if self.bell {
            self.display.bell(times);
        }
    }

    /// An error where nobody reads any more.
    pub fn check(&self) -> io::Result<()> {
        self.display.check()
    }

    /// Gives the keyboard back, and waits until everything has been shown.
    pub fn close(self) -> io::Result<()> {
        let ended = self.display.end();
        drop(self.input);
        ended
    }
}
