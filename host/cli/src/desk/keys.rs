//! Keys, one by one: the line that is being typed, with completion, while chips come and go.

use super::bottom::Bottom;
use super::{Display, Heard};
use crate::interrupt;
use crate::output::{WIDTH, fold};
use crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use crossterm::terminal;
use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread;
use std::time::{Duration, Instant};
use tui_input::Input;
use tui_input::backend::crossterm::EventHandler;

/// More candidates than these are not listed.
const MOST_LISTED: usize = 9;

/// A keyboard that gives each key as it is pressed.
pub struct Keys<'a> {
    events: Receiver<Event>,
    input: Input,
    /// Lines that were typed while nobody listened.
    ahead: VecDeque<String>,
    question: String,
    /// The last line, for the arrow up.
    before: String,
    complete: &'a dyn Fn(&str) -> Vec<String>,
    _raw: Raw,
}

/// The terminal in its raw mode, as long as this lives.
struct Raw;

impl Drop for Raw {
    fn drop(&mut self) {
        let _ = terminal::disable_raw_mode();
    }
}

impl<'a> Keys<'a> {
    /// Takes the keyboard; `None` where the terminal does not give it.
    pub fn take(complete: &'a dyn Fn(&str) -> Vec<String>) -> Option<Self> {
        terminal::enable_raw_mode().ok()?;
        Some(Self {
            events: keyboard(),
            input: Input::default(),
            ahead: VecDeque::new(),
            question: String::new(),
            before: String::new(),
            complete,
            _raw: Raw,
        })
    }

    /// Asks for something.
    pub fn ask(&mut self, question: &str, display: &Display) {
        if self.question != question {
            self.question = question.into();
            self.draw(display);
        }
    }

    /// Takes what has been typed while something else goes on. Its lines wait for their question.
    pub fn glance(&mut self, display: &Display) {
        while let Ok(event) = self.events.try_recv() {
            match self.take_event(&event, display) {
                // An impatient Enter answers no question that is yet to come.
                Heard::Line(line) if !line.is_empty() => self.ahead.push_back(line),
                _ => {}
            }
        }
    }

    /// Waits a while for a line.
    pub fn listen(&mut self, time: Duration, display: &Display) -> Heard {
        if let Some(line) = self.ahead.pop_front() {
            return Heard::Line(line);
        }
        let until = Instant::now() + time;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            let event = match self.events.recv_timeout(left) {
                Ok(event) => event,
                Err(RecvTimeoutError::Timeout) => return Heard::Nothing,
                Err(RecvTimeoutError::Disconnected) => return Heard::End,
            };
            match self.take_event(&event, display) {
                Heard::Nothing => {}
                heard => return heard,
            }
        }
    }

    fn take_event(&mut self, event: &Event, display: &Display) -> Heard {
        match event {
            Event::Key(key) if key.kind != KeyEventKind::Release => self.key(*key, display),
            Event::Resize(..) => {
                self.draw(display);
                Heard::Nothing
            }
            _ => Heard::Nothing,
        }
    }

    fn key(&mut self, key: KeyEvent, display: &Display) -> Heard {
        match key.code {
            // The loop knows already.
            KeyCode::Char('c') if is_control(&key) => return Heard::End,
            KeyCode::Char('d') if is_control(&key) => {
                if self.input.value().is_empty() {
                    return Heard::End;
                }
            }
            KeyCode::Enter => {
                let line = self.input.value_and_reset().trim().to_string();
                if !line.is_empty() {
                    display.text(fold("> ", 2, &line, WIDTH).join("\n") + "\n");
                    self.before.clone_from(&line);
                }
                self.draw(display);
                return Heard::Line(line);
            }
            KeyCode::Tab => self.complete(display),
            KeyCode::Up => self.input = Input::new(self.before.clone()),
            KeyCode::Down | KeyCode::Esc => self.input.reset(),
            _ => drop(self.input.handle_event(&Event::Key(key))),
        }
        self.draw(display);
        Heard::Nothing
    }

    /// Completes what is typed as far as all candidates agree, and lists them where they differ.
    fn complete(&mut self, display: &Display) {
        let typed = self.input.value().to_string();
        let found = (self.complete)(&typed);
        match found.as_slice() {
            [] => display.text(format!("  nothing begins with {typed}\n")),
            [only] => self.input = Input::new(only.clone()),
            several => {
                let common = common_beginning(several);
                let begun = common.get(..typed.len());
                // Also as far as typed already: in the shelf's own capitals.
                if begun.is_some_and(|begun| begun.eq_ignore_ascii_case(&typed)) {
                    self.input = Input::new(common.to_string());
                }
                let mut listed: Vec<&str> =
                    several.iter().take(MOST_LISTED).map(String::as_str).collect();
                if several.len() > MOST_LISTED {
                    listed.push("...");
                }
                display.text(fold("  ", 2, &listed.join(" "), WIDTH).join("\n") + "\n");
            }
        }
    }

    fn draw(&self, display: &Display) {
        display.line(Bottom {
            question: self.question.clone(),
            typed: self.input.value().to_string(),
            cursor: self.input.cursor(),
        });
    }
}

/// Reads the keyboard beside everything else, so that Ctrl-C is heard whatever goes on.
fn keyboard() -> Receiver<Event> {
    let (send, events) = mpsc::channel();
    thread::spawn(move || {
        while let Ok(event) = event::read() {
            if matches!(&event, Event::Key(key) if is_interrupt(key)) && interrupt::ask() {
                // The second one does not wait for the check to end.
                interrupt::end_now();
            }
            if send.send(event).is_err() {
                break;
            }
        }
    });
    events
}

fn is_control(key: &KeyEvent) -> bool {
    key.modifiers.contains(KeyModifiers::CONTROL)
}

fn is_interrupt(key: &KeyEvent) -> bool {
    key.code == KeyCode::Char('c') && is_control(key) && key.kind == KeyEventKind::Press
}

/// What all texts begin with.
fn common_beginning(texts: &[String]) -> &str {
    let Some((first, others)) = texts.split_first() else { return "" };
    let mut end = first.len();
    for other in others {
        let same = first.bytes().zip(other.bytes()).take_while(|(a, b)| a == b).count();
        end = end.min(same);
    }
    while !first.is_char_boundary(end) {
        end -= 1;
    }
    &first[..end]
}

#[cfg(test)]
mod tests {
    use super::common_beginning;

    #[test]
    fn candidates_agree_on_their_beginning() {
        let texts = |list: &[&str]| list.iter().map(|text| (*text).into()).collect::<Vec<String>>();
        assert_eq!(common_beginning(&texts(&["74LS138", "74LS139"])), "74LS13");
        assert_eq!(common_beginning(&texts(&["74LS00", "6264"])), "");
        assert_eq!(common_beginning(&[]), "");
    }
}
