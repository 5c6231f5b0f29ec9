//! A march test as a value, and how it is written.

use std::fmt;
use std::time::Duration;

/// One access to the cell at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Operation {
    /// Read, and expect this value.
    Read(bool),
    /// Write this value.
    Write(bool),
}

impl fmt::Display for Operation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (letter, value) = match *self {
            Self::Read(value) => ('r', value),
            Self::Write(value) => ('w', value),
        };
        write!(f, "{letter}{}", u8::from(value))
    }
}

/// The order in which an element visits the addresses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Direction {
    /// Ascending.
    Up,
    /// Descending: the exact reverse of ascending.
    Down,
    /// Either: whoever runs the test chooses, for each element anew.
    Any,
}

impl Direction {
    /// The word of the ASCII notation.
    pub fn word(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Down => "down",
            Self::Any => "any",
        }
    }

    /// The arrow of the literature.
    pub fn arrow(self) -> char {
        match self {
            Self::Up => '⇑',
            Self::Down => '⇓',
            Self::Any => '⇕',
        }
    }
}

/// One element of a march test.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Element {
    /// All operations at one address, then all at the next, until every address was visited.
    Sweep {
        /// The order of the addresses.
        direction: Direction,
        /// What is done at each address; at least one operation.
        operations: Vec<Operation>,
    },
    /// Nothing is accessed for this long; whole microseconds.
    Pause(Duration),
}

/// What a march test costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Length {
    /// Accesses for each address: the k of "kn".
    pub operations_per_address: usize,
    /// How many pauses come on top.
    pub pauses: usize,
    /// How long they are together.
    pub paused: Duration,
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}n", self.operations_per_address)?;
        match self.pauses {
            0 => Ok(()),
            1 => f.write_str(" + 1 pause"),
            more => write!(f, " + {more} pauses"),
        }
    }
}

/// A march test that makes sense: within the limits, and every read expects what the test itself
/// left in the cell. `Display` writes the ASCII notation.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct March {
    elements: Vec<Element>,
}

impl March {
    /// Wraps elements that were checked.
    pub(crate) fn checked(elements: Vec<Element>) -> Self {
        Self { elements }
    }

    /// The elements in the order in which they run.
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// What it costs.
    pub fn length(&self) -> Length {
        let mut length =
            Length { operations_per_address: 0, pauses: 0, paused: Duration::default() };
        for element in &self.elements {
            match element {
                Element::Sweep { operations, .. } => {
                    length.operations_per_address += operations.len();
                }
                Element::Pause(pause) => {
                    length.pauses += 1;
                    length.paused += *pause;
                }
            }
        }
        length
    }

    /// The test as the literature writes it, `{⇕(w0); ⇑(r0,w1); Del(100ms)}`, which can be read
    /// back too.
    pub fn arrows(&self) -> String {
        let elements: Vec<String> = self
            .elements
            .iter()
            .map(|element| match element {
                Element::Sweep { direction, operations } => {
                    format!("{}({})", direction.arrow(), list(operations))
                }
                Element::Pause(pause) => format!("Del({})", duration(*pause)),
            })
            .collect();
        format!("{{{}}}", elements.join("; "))
    }
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sweep { direction, operations } => {
                write!(f, "{}({})", direction.word(), list(operations))
            }
            Self::Pause(pause) => write!(f, "pause({})", duration(*pause)),
        }
    }
}

impl fmt::Display for March {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, element) in self.elements.iter().enumerate() {
            if index > 0 {
                f.write_str("; ")?;
            }
            write!(f, "{element}")?;
        }
        Ok(())
    }
}

fn list(operations: &[Operation]) -> String {
    operations.iter().map(Operation::to_string).collect::<Vec<_>>().join(",")
}

/// A duration in the largest unit that gives a whole number.
pub(crate) fn duration(duration: Duration) -> String {
    let microseconds = duration.as_micros();
    for (unit, size) in [("s", 1_000_000), ("ms", 1_000)] {
        if microseconds > 0 && microseconds.is_multiple_of(size) {
            return format!("{}{unit}", microseconds / size);
        }
    }
    format!("{microseconds}us")
}
