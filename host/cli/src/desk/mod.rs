//! Where a person sits: what is shown, and what is typed meanwhile. At a terminal keys are taken
//! one by one and the question stands on the last line; elsewhere questions go to standard error
//! and lines come from standard input.

mod bottom;
mod display;
mod keys;
pub mod letters;
pub mod lines;

pub use display::Display;

use crate::output::{Output, WIDTH, fold};
use crossterm::terminal;
use keys::Keys;
use lines::{Lines, Typed};
use std::io::{self, IsTerminal};
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
}

enum Input<'a> {
    Keys(Keys<'a>),
    Lines { lines: Lines, asked: String, beside: Display },
}

impl<'a> Desk<'a> {
    /// Sits down. `complete` gives candidates for what has been typed so far.
    pub fn open(out: &Output, bell: bool, complete: &'a dyn Fn(&str) -> Vec<String>) -> Self {
        let plain = std::env::var_os("TERM").is_some_and(|terminal| terminal == "dumb");
        let both = io::stdin().is_terminal() && io::stdout().is_terminal();
        let seen = both && !plain && !out.json;
        let keys = if seen { Keys::take(complete) } else { None };
        let bell = bell && keys.is_some();
        let input = match keys {
            Some(keys) => Input::Keys(keys),
            None => Input::Lines {
                lines: Lines::start(),
                asked: String::new(),
                beside: Display::beside(),
            },
        };
        Self { display: Display::start(None), input, bell }
    }

    /// Whether there is a screen that a person watches.
    pub fn is_watched(&self) -> bool {
        matches!(self.input, Input::Keys(_))
    }

    /// Asks for something. The same question twice is asked once.
    pub fn ask(&mut self, question: &str) {
        match &mut self.input {
            Input::Keys(keys) => keys.ask(question, &self.display),
            Input::Lines { asked, beside, .. } => {
                if asked != question {
                    beside.text(format!("> {question}\n"));
                    *asked = question.into();
                }
            }
        }
    }

    /// Says what goes on, where somebody watches, and takes what is typed meanwhile.
    pub fn busy(&mut self, words: &str) {
        if let Input::Keys(keys) = &mut self.input {
            keys.ask(words, &self.display);
            keys.glance(&self.display);
        }
    }

    /// Waits a while for a line.
    pub fn listen(&mut self, time: Duration) -> Heard {
        match &mut self.input {
            Input::Keys(keys) => keys.listen(time, &self.display),
            Input::Lines { lines, asked, .. } => match lines.wait(time) {
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
        match &self.input {
            Input::Keys(_) => self.display.text(fold("  ", 2, text, WIDTH).join("\n") + "\n"),
            // Beside an object too: it says why nothing comes of a line.
            Input::Lines { beside, .. } => beside.text(format!("> {text}\n")),
        }
    }

    /// Says what each of several words means.
    pub fn list(&self, words: &[(&str, &str)]) {
        let lines =
            words.iter().flat_map(|(word, what)| fold(&format!("  {word:<7}"), 9, what, WIDTH));
        let text: String = lines.map(|line| line + "\n").collect();
        match &self.input {
            Input::Keys(_) => self.display.text(text),
            Input::Lines { beside, .. } => beside.text(text),
        }
    }

    /// How many columns there are; as many as text is set in where nobody knows.
    pub fn columns(&self) -> usize {
        match terminal::size() {
            Ok((columns, _)) if self.is_watched() => columns.into(),
            _ => WIDTH,
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
        // Questions that cannot be shown hinder nothing.
        if let Input::Lines { beside, .. } = self.input {
            let _ = beside.end();
        }
        ended
    }
}
