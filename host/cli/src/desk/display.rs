//! What a person sees, written by a thread of its own: a terminal that stands still, stopped or
//! far away, holds up nothing else.

use anstream::{AutoStream, ColorChoice};
use crossterm::terminal;
use indicatif::ProgressBar;
use std::io::{self, IsTerminal, Stdout, Write, stdout};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// How long the end waits for a terminal that stands still.
const PATIENCE: Duration = Duration::from_secs(5);

/// What is to be shown.
enum Item {
    /// Text above the line at the bottom.
    Text(String),
    /// The line at the bottom, and how many columns before its end the cursor stands.
    Line(String, u16),
    /// How far something long is, as the line at the bottom.
    Progress { done: u64, words: String },
    /// The bell, so often.
    Bell(u8),
}

/// A terminal, a pipe or a file, written to without waiting for it.
pub struct Display {
    send: Option<Sender<Item>>,
    ended: Receiver<()>,
    broken: Arc<Mutex<Option<io::Error>>>,
    terminal: bool,
}

impl Display {
    /// Standard output, with a bar below it where something long goes on.
    pub fn start(bar: Option<ProgressBar>) -> Self {
        let (send, receive) = mpsc::channel();
        let (end, ended) = mpsc::channel();
        let broken = Arc::new(Mutex::new(None));
        let shared = Arc::clone(&broken);
        let mut painter =
            Painter { out: AutoStream::new(stdout(), ColorChoice::AlwaysAnsi), line: None, bar };
        thread::spawn(move || {
            for item in receive {
                if let Err(error) = painter.show(item) {
                    *shared.lock().unwrap_or_else(|poisoned| poisoned.into_inner()) = Some(error);
                    break;
                }
            }
            let _ = painter.end();
            let _ = end.send(());
        });
        Self { send: Some(send), ended, broken, terminal: stdout().is_terminal() }
    }

    /// Shows text.
    pub fn text(&self, text: String) {
        self.send(Item::Text(text));
    }

    /// Shows the line at the bottom, its cursor so many columns before the end.
    pub fn line(&self, text: String, back: u16) {
        self.send(Item::Line(text, back));
    }

    /// Shows how far something is.
    pub fn progress(&self, done: u64, words: String) {
        self.send(Item::Progress { done, words });
    }

    /// Rings, so often.
    pub fn bell(&self, times: u8) {
        self.send(Item::Bell(times));
    }

    fn send(&self, item: Item) {
        // Nobody to show it to: `check` tells why.
        let _ = self.send.as_ref().map(|send| send.send(item));
    }

    /// An error where nobody reads any more.
    pub fn check(&self) -> io::Result<()> {
        let mut broken = self.broken.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        broken.take().map_or(Ok(()), Err)
    }

    /// Waits until everything has been shown; for a terminal that stands still not for ever.
    pub fn end(mut self) -> io::Result<()> {
        self.send = None;
        if self.terminal {
            match self.ended.recv_timeout(PATIENCE) {
                Ok(()) | Err(RecvTimeoutError::Disconnected) => {}
                Err(RecvTimeoutError::Timeout) => return Ok(()),
            }
        } else {
            let _ = self.ended.recv();
        }
        self.check()
    }
}

/// The thread's own.
struct Painter {
    out: AutoStream<Stdout>,
    /// The line at the bottom, with its cursor.
    line: Option<(String, u16)>,
    bar: Option<ProgressBar>,
}

/// Between two bells, so that they are told apart.
const BETWEEN_BELLS: Duration = Duration::from_millis(250);

impl Painter {
    fn show(&mut self, item: Item) -> io::Result<()> {
        match item {
            Item::Text(text) => match self.bar.clone() {
                Some(bar) => bar.suspend(|| self.above(&text)),
                None => self.above(&text),
            },
            Item::Line(text, back) => {
                self.line = Some((text, back));
                self.bottom()
            }
            Item::Progress { done, words } => {
                if let Some(bar) = &self.bar {
                    bar.set_position(done);
                    bar.set_message(words);
                }
                Ok(())
            }
            Item::Bell(times) => {
                for bell in 0..times {
                    if bell > 0 {
                        thread::sleep(BETWEEN_BELLS);
                    }
                    self.out.write_all(b"\x07")?;
                    self.out.flush()?;
                }
                Ok(())
            }
        }
    }

    /// Text, above the line at the bottom where there is one.
    fn above(&mut self, text: &str) -> io::Result<()> {
        if self.line.is_none() {
            self.out.write_all(text.as_bytes())?;
            return self.out.flush();
        }
        // Keys come one by one then, and a line end does not go back to the first column.
        let text = text.replace('\n', "\r\n");
        write!(self.out, "\r\x1b[K{text}")?;
        self.bottom()
    }

    fn bottom(&mut self) -> io::Result<()> {
        let Some((text, back)) = &self.line else { return Ok(()) };
        let columns = terminal::size().map_or(80, |(columns, _)| usize::from(columns)).max(2);
        let shown: String = text.chars().take(columns - 1).collect();
        write!(self.out, "\r\x1b[K{shown}")?;
        if *back > 0 {
            write!(self.out, "\x1b[{back}D")?;
        }
        self.out.flush()
    }

    fn end(&mut self) -> io::Result<()> {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
        if self.line.take().is_some() {
            write!(self.out, "\r\x1b[K")?;
        }
        self.out.flush()
    }
}
