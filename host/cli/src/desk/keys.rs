//! Keys, one by one: the line that is being typed, with completion, while chips come and go.

use super::{Display, Heard};
use crate::interrupt;
use crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use crossterm::terminal;
use std::time::{Duration, Instant};
use tui_input::Input;
use tui_input::backend::crossterm::EventHandler;

/// More candidates than these are not listed.
const MOST_LISTED: usize = 9;

/// A keyboard that gives each key as it is pressed.
pub struct Keys<'a> {
    input: Input,
    prompt: String,
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
            input: Input::default(),
            prompt: String::new(),
            before: String::new(),
            complete,
            _raw: Raw,
        })
    }

    /// Asks for something.
    pub fn ask(&mut self, prompt: &str, display: &Display) {
        if self.prompt != prompt {
            self.prompt = prompt.into();
            self.draw(display);
        }
    }

    /// Waits a while for a line.
    pub fn listen(&mut self, time: Duration, display: &Display) -> Heard {
        let until = Instant::now() + time;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match event::poll(left) {
                Ok(true) => {}
                Ok(false) => return Heard::Nothing,
                Err(_) => return Heard::End,
            }
            let heard = match event::read() {
                Ok(Event::Key(key)) if key.kind != KeyEventKind::Release => self.key(key, display),
                Ok(Event::Resize(..)) => {
                    self.draw(display);
                    Heard::Nothing
                }
                Ok(_) => Heard::Nothing,
                Err(_) => Heard::End,
            };
            if heard != Heard::Nothing {
                return heard;
            }
        }
    }

    fn key(&mut self, key: KeyEvent, display: &Display) -> Heard {
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        match key.code {
            KeyCode::Char('c') if control => {
                // The second one does not wait for the check to end.
                if interrupt::ask() {
                    interrupt::end_now();
                }
                return Heard::End;
            }
            KeyCode::Char('d') if control && self.input.value().is_empty() => return Heard::End,
            KeyCode::Enter => {
                let line = self.input.value_and_reset().trim().to_string();
                if !line.is_empty() {
                    display.text(format!("> {} {line}\n", self.prompt));
                    self.before.clone_from(&line);
                }
                self.draw(display);
                return Heard::Line(line);
            }
            KeyCode::Tab => self.complete(display),
            KeyCode::Up => self.input = Input::new(self.before.clone()),
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
            [] => display.bell(1),
            [only] => self.input = Input::new(only.clone()),
            several => {
                let common = common_beginning(several);
                if common.len() > typed.len() {
                    self.input = Input::new(common.to_string());
                }
                let listed: Vec<&str> =
                    several.iter().take(MOST_LISTED).map(String::as_str).collect();
                let more = if several.len() > MOST_LISTED { " ..." } else { "" };
                display.text(format!("  {}{more}\n", listed.join("  ")));
            }
        }
    }

    fn draw(&self, display: &Display) {
        let text = format!("> {} {}", self.prompt, self.input.value());
        let behind = self.input.value().chars().count()
            - self.input.visual_cursor().min(self.input.value().chars().count());
        display.line(text, behind as u16);
    }
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
