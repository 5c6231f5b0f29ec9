//! Lines that a person types while the loop goes on.

use std::io::{self, BufRead};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread;
use std::time::Duration;

/// What came from standard input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// A line, without white space around it.
    Line(String),
    /// Nothing yet.
    Nothing,
    /// Standard input has ended.
    End,
}

/// Standard input, read beside the loop.
pub struct Lines(Receiver<String>);

impl Lines {
    /// Starts reading standard input.
    pub fn start() -> Self {
        let (send, receive) = mpsc::channel();
        thread::spawn(move || {
            for line in io::stdin().lock().lines() {
                let Ok(line) = line else { break };
                if send.send(line.trim().to_string()).is_err() {
                    break;
                }
            }
        });
        Self(receive)
    }

    /// Waits a while for a line.
    pub fn wait(&self, time: Duration) -> Typed {
        match self.0.recv_timeout(time) {
            Ok(line) => Typed::Line(line),
            Err(RecvTimeoutError::Timeout) => Typed::Nothing,
            Err(RecvTimeoutError::Disconnected) => {
                // An ended channel returns at once; keep the loop's pace.
                thread::sleep(time);
                Typed::End
            }
        }
    }
}
