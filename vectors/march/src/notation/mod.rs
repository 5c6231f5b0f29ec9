//! Reads the notation of march tests.

mod parser;
mod sense;
mod token;

use crate::march::{Element, March, duration};
use crate::mistake::{Mistake, Sink};
use std::ops::Range;
use std::time::Duration;

/// The longest text that is read, in bytes.
pub const MOST_BYTES: usize = 8_192;
/// The most elements of one test, pauses included: as many as a station takes.
pub const MOST_ELEMENTS: usize = 24;
/// The most operations in one element: as many as a station takes.
pub const MOST_OPERATIONS: usize = 16;
/// The longest pause.
pub const PAUSE_MAX: Duration = Duration::from_secs(600);
/// The pause that `Del` stands for where no time is given: the usual one for data retention of
/// static memories (Dekker, Beenker and Thijssen, International Test Conference 1988; from memory).
pub const PAUSE_USUAL: Duration = Duration::from_millis(100);

/// An operation that was read, or `None` where its text was wrong.
type Read<T> = Option<T>;

/// An element as it stands in the text.
#[derive(Debug)]
struct Written {
    /// The element's head: `up`, `⇑`, `pause`.
    head: Range<usize>,
    body: Body,
}

#[derive(Debug)]
enum Body {
    Sweep {
        direction: Read<crate::march::Direction>,
        operations: Vec<(Range<usize>, Read<crate::march::Operation>)>,
    },
    Pause(Read<Duration>),
    /// Could not be read at all.
    Unknown,
}

impl March {
    /// Reads a march test in the ASCII notation or with the arrows of the literature.
    ///
    /// # Errors
    ///
    /// Everything that is wrong with the text, in its order: what cannot be read, what exceeds the
    /// limits, and each read that expects what the test cannot have written.
    pub fn read(text: &str) -> Result<Self, Vec<Mistake>> {
        let mut sink = Sink::new(text);
        if text.len() > MOST_BYTES {
            sink.say(
                0..0,
                format!("a march test of {} bytes is too long", text.len()),
                format!("at most {MOST_BYTES} bytes"),
                None,
            );
            return Err(sink.finish());
        }
        let written = parser::parse(text, &mut sink);
        if let Some(beyond) = written.get(MOST_ELEMENTS) {
            sink.say(
                beyond.head.clone(),
                format!("a march test of {} elements is too long", written.len()),
                format!("at most {MOST_ELEMENTS} elements"),
                None,
            );
        }
        sense::check(text, &written, &mut sink);
        let mistakes = sink.finish();
        if mistakes.is_empty() {
            Ok(Self::checked(written.into_iter().filter_map(Written::element).collect()))
        } else {
            Err(mistakes)
        }
    }
}

impl Written {
    /// The element, where all of it was read.
    fn element(self) -> Option<Element> {
        match self.body {
            Body::Sweep { direction, operations } => Some(Element::Sweep {
                direction: direction?,
                operations: operations.into_iter().map(|(_, read)| read).collect::<Option<_>>()?,
            }),
            Body::Pause(pause) => pause.map(Element::Pause),
            Body::Unknown => None,
        }
    }
}

/// The longest pause in words.
fn pause_max() -> String {
    format!("at most {}", duration(PAUSE_MAX))
}
