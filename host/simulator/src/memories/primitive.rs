//! Fault primitives in the notation of the literature: `<S/F/R>` and `<Sa;Sv/F/R>`.
//!
//! A. J. van de Goor and Z. Al-Ars, "Functional memory faults: a formal notation and a taxonomy",
//! IEEE VLSI Test Symposium, 2000: S sensitises, F is what the faulty cell then holds, R is what
//! a read returns, or `-`. With two cells, Sa is what the aggressor does and Sv what the victim
//! does.

use std::{fmt, str::FromStr};

/// What sensitises a fault in a cell: a state, or an operation in a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sensitiser {
    /// The cell holds this value, whatever is done: `0`, `1`.
    State(bool),
    /// A write over a value: `0w1`.
    Write {
        /// What the cell holds before.
        from: bool,
        /// What is written.
        to: bool,
    },
    /// A read of a cell that holds this value: `r0`.
    Read(bool),
}

impl Sensitiser {
    /// What the cell holds before.
    pub const fn before(self) -> bool {
        match self {
            Self::State(value) | Self::Read(value) | Self::Write { from: value, .. } => value,
        }
    }

    /// What a good cell holds after.
    pub const fn after(self) -> bool {
        match self {
            Self::State(value) | Self::Read(value) | Self::Write { to: value, .. } => value,
        }
    }

    /// Whether it is an operation.
    pub const fn is_operation(self) -> bool {
        !matches!(self, Self::State(_))
    }
}

/// One fault primitive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Primitive {
    /// What the aggressor does, where there is one.
    pub aggressor: Option<Sensitiser>,
    /// What the faulty cell does: the only cell, or the victim.
    pub victim: Sensitiser,
    /// What the faulty cell holds after.
    pub faulty: bool,
    /// What the read returns, where the victim is read.
    pub returned: Option<bool>,
}

/// Why a text is not a fault primitive; what would be one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotAPrimitive(pub &'static str);

const FORM: NotAPrimitive = NotAPrimitive("a fault primitive like <0w1/0/-> or <0w1;0/1/->");
const SENSITISER: NotAPrimitive =
    NotAPrimitive("a primitive with 0 1 r0 r1 0w0 0w1 1w0 1w1 before the first /");
const RETURNED: NotAPrimitive =
    NotAPrimitive("a primitive with 0 or 1 after the last / for a read, else -");
const ONE_OPERATION: NotAPrimitive =
    NotAPrimitive("a primitive with an operation in one of its two cells only");
const NO_FAULT: NotAPrimitive = NotAPrimitive("a primitive that differs from a good cell");

fn digit(value: bool) -> char {
    if value { '1' } else { '0' }
}

fn value(text: &str) -> Option<bool> {
    match text {
        "0" => Some(false),
        "1" => Some(true),
        _ => None,
    }
}

impl fmt::Display for Sensitiser {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::State(state) => write!(f, "{}", digit(state)),
            Self::Write { from, to } => write!(f, "{}w{}", digit(from), digit(to)),
            Self::Read(state) => write!(f, "r{}", digit(state)),
        }
    }
}

impl FromStr for Sensitiser {
    type Err = NotAPrimitive;

    fn from_str(text: &str) -> Result<Self, NotAPrimitive> {
        if let Some((from, to)) = text.split_once('w') {
            let (from, to) = (value(from).ok_or(SENSITISER)?, value(to).ok_or(SENSITISER)?);
            return Ok(Self::Write { from, to });
        }
        // Some authors write the state before a read as well.
        let read = text.strip_prefix('r').or_else(|| match text {
            "0r0" | "1r1" => text.get(2..),
            _ => None,
        });
        match read {
            Some(state) => value(state).map(Self::Read),
            None => value(text).map(Self::State),
        }
        .ok_or(SENSITISER)
    }
}

impl fmt::Display for Primitive {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("<")?;
        if let Some(aggressor) = self.aggressor {
            write!(f, "{aggressor};")?;
        }
        let returned = self.returned.map_or('-', digit);
        write!(f, "{}/{}/{returned}>", self.victim, digit(self.faulty))
    }
}

impl FromStr for Primitive {
    type Err = NotAPrimitive;

    fn from_str(text: &str) -> Result<Self, NotAPrimitive> {
        let inner = text
            .strip_prefix(['<', '\u{27e8}'])
            .and_then(|text| text.strip_suffix(['>', '\u{27e9}']))
            .ok_or(FORM)?;
        let mut parts = inner.split('/');
        let (Some(cells), Some(faulty), Some(returned), None) =
            (parts.next(), parts.next(), parts.next(), parts.next())
        else {
            return Err(FORM);
        };
        let (aggressor, victim) = match cells.split_once(';') {
            Some((aggressor, victim)) => (Some(aggressor.parse()?), victim.parse()?),
            None => (None, cells.parse()?),
        };
        let primitive = Self {
            aggressor,
            victim,
            faulty: value(faulty).ok_or(FORM)?,
            returned: match returned {
                "-" => None,
                digit => Some(value(digit).ok_or(RETURNED)?),
            },
        };
        primitive.check().map(|()| primitive)
    }
}

impl Primitive {
    fn check(&self) -> Result<(), NotAPrimitive> {
        let reads = matches!(self.victim, Sensitiser::Read(_));
        if reads != self.returned.is_some() {
            return Err(RETURNED);
        }
        if self.aggressor.is_some_and(Sensitiser::is_operation) && self.victim.is_operation() {
            return Err(ONE_OPERATION);
        }
        let good = self.victim.after();
        if self.faulty == good && self.returned.is_none_or(|returned| returned == good) {
            return Err(NO_FAULT);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All twelve of a single cell and all 36 of two cells, written out from S. Hamdioui, A. J.
    /// van de Goor and M. Rodgers, "March SS: a test for all static simple RAM faults", MTDT
    /// 2002; from memory.
    #[test]
    fn every_static_simple_primitive_is_read_and_written_back() {
        let single = "<0/1/-> <1/0/-> <0w1/0/-> <1w0/1/-> <0w0/1/-> <1w1/0/-> <r0/1/1> <r1/0/0> \
                      <r0/1/0> <r1/0/1> <r0/0/1> <r1/1/0>";
        assert_eq!(single.split_whitespace().count(), 12);
        let mut all: Vec<String> = single.split_whitespace().map(String::from).collect();
        for state in ["0", "1"] {
            for of_one in single.split_whitespace() {
                all.push(format!("<{state};{}", &of_one[1..]));
            }
        }
        for operation in ["r0", "r1", "0w1", "1w0", "0w0", "1w1"] {
            all.push(format!("<{operation};0/1/->"));
            all.push(format!("<{operation};1/0/->"));
        }
        assert_eq!(all.len(), 12 + 36);
        for text in all {
            assert_eq!(text.parse::<Primitive>().unwrap().to_string(), text);
        }
        let spaced: Primitive = "\u{27e8}1r1/0/0\u{27e9}".parse().unwrap();
        assert_eq!(spaced.to_string(), "<r1/0/0>");
    }

    #[test]
    fn what_no_fault_primitive_is_is_refused() {
        for (text, why) in [
            ("0w1/0/-", FORM),
            ("<0w1/0>", FORM),
            ("<0w1/2/->", FORM),
            ("<0x1/0/->", SENSITISER),
            ("<0w1/0/1>", RETURNED),
            ("<r0/1/->", RETURNED),
            ("<0w1;0w1/0/->", ONE_OPERATION),
            ("<0w1/1/->", NO_FAULT),
            ("<r0/0/0>", NO_FAULT),
        ] {
            assert_eq!(text.parse::<Primitive>(), Err(why), "{text}");
        }
    }
}
