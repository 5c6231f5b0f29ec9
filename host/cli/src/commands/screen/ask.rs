//! Questions about a chip's marking.

use super::hands::Hands;
use super::typed::{self, Typed};
use super::waits::LOOK_EVERY;
use crate::desk::Heard;
use crate::exit::Failure;
use crate::interrupt;
use crate::marking::{self, Marked, Meaning};
use crate::output::Output;
use std::io::Write;

/// What the questions about a marking end with.
pub enum Asked {
    /// The chip is this.
    Chip(Marked),
    /// The chip is not checked, and does not count.
    Nothing,
    /// The person has finished.
    End,
}

/// What a question ended with.
enum Answer {
    Line(String),
    /// An empty line.
    Enter,
    /// The chip is left.
    Skip,
    End,
}

/// What a person says to several candidates.
enum Choice {
    This(Marked),
    Other(String),
    Aside,
    Nothing,
    End,
}

impl Hands<'_, '_> {
    /// What the chip in the socket is: the one part, or the `same` as the last, or what a question
    /// brings.
    pub(super) fn marked(&mut self, same: bool, out: &Output) -> Result<Asked, Failure> {
        if let Some(fixed) = &self.fixed {
            return Ok(Asked::Chip(fixed.clone()));
        }
        if let (true, Some(last)) = (same, &self.last) {
            return self.read(last.clone(), true, out);
        }
        let question = match &self.last {
            Some(last) => format!("marking (Enter: {last} again)?"),
            None => "marking?".to_string(),
        };
        loop {
            match (self.answer(&question)?, &self.last) {
                (Answer::Line(line), _) => return self.read(line, false, out),
                (Answer::Enter, Some(last)) => return self.read(last.clone(), true, out),
                (Answer::Enter, None) => {}
                (Answer::Skip, _) => return Ok(Asked::Nothing),
                (Answer::End, _) => return Ok(Asked::End),
            }
        }
    }

    /// Reads a marking, and asks where it is not plain. The `same` as before is what it was before.
    pub(super) fn read(
        &mut self,
        mut text: String,
        same: bool,
        out: &Output,
    ) -> Result<Asked, Failure> {
        if let (true, Some(known)) = (same, self.known.get(&text)) {
            return Ok(Asked::Chip(known.clone()));
        }
        let mut refused: Option<String> = None;
        loop {
            match marking::read(self.session.library, &text) {
                Meaning::One(marked) => return Ok(Asked::Chip(marked)),
                Meaning::Ask(question, choices) => match self.choose(&question, choices, out)? {
                    Choice::This(marked) => return Ok(Asked::Chip(Marked { text, ..marked })),
                    Choice::Aside => {
                        let why = "it was not said which part it is".to_string();
                        return Ok(Asked::Chip(Marked::set_aside(&text, why)));
                    }
                    Choice::Other(line) => text = line,
                    Choice::Nothing => return Ok(Asked::Nothing),
                    Choice::End => return Ok(Asked::End),
                },
                // It may be a slip of the hand. One that is typed twice stays.
                Meaning::None(why) if refused.as_deref() == Some(&text) => {
                    return Ok(Asked::Chip(Marked::set_aside(&text, why)));
                }
                Meaning::None(why) => {
                    self.desk.say(&why);
                    let question = format!("marking (Enter: set {text} aside)?");
                    match self.answer(&question)? {
                        Answer::Line(line) => refused = Some(std::mem::replace(&mut text, line)),
                        Answer::Enter => return Ok(Asked::Chip(Marked::set_aside(&text, why))),
                        Answer::Skip => return Ok(Asked::Nothing),
                        Answer::End => return Ok(Asked::End),
                    }
                }
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
            list(&mut page, question, &choices)?;
        }
        self.desk.show(page);
        let which = match choices.len() {
            1 => "1".to_string(),
            several => format!("1 to {several}"),
        };
        match self.answer(&format!("which, {which} (Enter: set it aside)?"))? {
            Answer::End => Ok(Choice::End),
            Answer::Skip => Ok(Choice::Nothing),
            Answer::Enter => Ok(Choice::Aside),
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
                    Typed::Same => return Ok(Answer::Enter),
                    Typed::Marking(line) => return Ok(Answer::Line(line)),
                    Typed::Skip => return Ok(Answer::Skip),
                    Typed::End => return Ok(Answer::End),
                    other => self.obey(&other)?,
                },
            }
        }
    }
}

fn list(page: &mut Output, question: &str, choices: &[(String, Marked)]) -> Result<(), Failure> {
    writeln!(page, "  {question}:")?;
    for (number, (words, _)) in (1..).zip(choices) {
        page.paragraph(&format!("  {number:>3}  "), 7, words)?;
    }
    Ok(())
}
