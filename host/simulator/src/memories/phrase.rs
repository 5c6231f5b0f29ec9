//! Reads the phrases of memory faults.

use super::fault::{Cell, Fault, Wired};
use super::primitive::{NotAPrimitive, Primitive};
use crate::PhraseError;

/// Reads numbers of a phrase, and says which of them is wrong.
struct Reader<'a>(&'a str);

impl Reader<'_> {
    fn error(&self, word: &str, wanted: &'static str) -> PhraseError {
        PhraseError::Number {
            phrase: self.0.trim().to_owned(),
            word: format!("\"{word}\""),
            wanted,
        }
    }

    fn number(&self, word: &str, most: u32, wanted: &'static str) -> Result<u32, PhraseError> {
        let parsed = match word.strip_prefix("0x").or_else(|| word.strip_prefix("0X")) {
            Some(digits) => u32::from_str_radix(digits, 16).ok(),
            None => word.parse().ok(),
        };
        parsed.filter(|&value| value <= most).ok_or_else(|| self.error(word, wanted))
    }

    fn address(&self, word: &str) -> Result<u32, PhraseError> {
        self.number(word, (1 << 24) - 1, "an address such as 5 or 0x1F")
    }

    fn bit(&self, word: &str) -> Result<u8, PhraseError> {
        self.number(word, 15, "a bit number from 0 to 15").map(|bit| bit as u8)
    }

    fn line(&self, word: &str) -> Result<u8, PhraseError> {
        self.number(word, 23, "a line number from 0 to 23").map(|line| line as u8)
    }

    fn cell(&self, address: &str, bit: &str) -> Result<Cell, PhraseError> {
        Ok(Cell { address: self.address(address)?, bit: self.bit(bit)? })
    }

    fn value(&self, word: &str) -> Result<bool, PhraseError> {
        self.number(word, 1, "0 or 1").map(|value| value == 1)
    }

    fn milliseconds(&self, word: &str) -> Result<u32, PhraseError> {
        match self.number(word, 1_000_000, "1 to 1000000 ms")? {
            0 => Err(self.error(word, "1 to 1000000 ms")),
            value => Ok(value),
        }
    }

    fn other(&self, first: u32, word: &str, second: u32) -> Result<(), PhraseError> {
        if first == second { Err(self.error(word, "another than the first")) } else { Ok(()) }
    }

    fn primitive(&self, word: &str, cells: bool) -> Result<Primitive, PhraseError> {
        let primitive: Primitive =
            word.parse().map_err(|NotAPrimitive(wanted)| self.error(word, wanted))?;
        match (primitive.aggressor.is_some(), cells) {
            (true, false) => Err(self.error(word, "a primitive of one cell, <S/F/R>")),
            (false, true) => Err(self.error(word, "a primitive of two cells, <Sa;Sv/F/R>")),
            _ => Ok(primitive),
        }
    }
}

/// Reads a phrase; `None` where none of a memory begins like this.
pub(crate) fn parse(text: &str) -> Option<Result<Fault, PhraseError>> {
    let mut words: Vec<&str> = text.split_whitespace().collect();
    let wired = if words.ends_with(&["wired", "or"]) {
        words.truncate(words.len() - 2);
        Some(Wired::Or)
    } else {
        None
    };
    let fault = phrase(text, &words, wired.unwrap_or_default())?;
    let takes_wired = matches!(
        fault,
        Ok(Fault::NoCell { .. }
            | Fault::TakenOver { .. }
            | Fault::ExtraCell { .. }
            | Fault::CoupledColumns { .. }
            | Fault::AddressShorted { .. }
            | Fault::DataShorted { .. })
    );
    (wired.is_none() || takes_wired || fault.is_err()).then_some(fault)
}

fn phrase(text: &str, words: &[&str], wired: Wired) -> Option<Result<Fault, PhraseError>> {
    let read = Reader(text);
    Some(match *words {
        ["cell", address, "bit", bit, ref what @ ..] => of_cell(&read, address, bit, what)?,
        ["address", address, "reaches", "no", "cell"] => {
            read.address(address).map(|address| Fault::NoCell { address, wired })
        }
        ["address", by, "takes", "over", "cell", address] => {
            two(&read, by, address).map(|(by, address)| Fault::TakenOver { by, address, wired })
        }
        ["address", address, "reaches", "cell", other, "instead"] => {
            two(&read, address, other).map(|(address, other)| Fault::OtherCell { address, other })
        }
        ["address", address, "reaches", "cell", other, "too"] => two(&read, address, other)
            .map(|(address, other)| Fault::ExtraCell { address, other, wired }),
        ["access", nanoseconds, "ns"] => read
            .number(nanoseconds, 1_000_000, "1 to 1000000 ns")
            .map(|nanoseconds| Fault::Access { nanoseconds: nanoseconds.max(1) }),
        ["column", column, "bit", bit, "reads", value] => (|| {
            let (column, bit) = (read.address(column)?, read.bit(bit)?);
            Ok(Fault::Column { column, bit, high: read.value(value)? })
        })(),
        ["columns", column, "and", other, "bit", bit, "coupled"] => two(&read, column, other)
            .and_then(|(column, other)| {
                Ok(Fault::CoupledColumns { column, other, bit: read.bit(bit)?, wired })
            }),
        ["row", row, "reads", value] => {
            read.address(row).and_then(|row| Ok(Fault::Row { row, high: read.value(value)? }))
        }
        ["address", "line", line, "stuck", "at", value] => read
            .line(line)
            .and_then(|line| Ok(Fault::AddressStuck { line, high: read.value(value)? })),
        ["address", "lines", line, "and", other, "shorted"] => two_lines(&read, line, other)
            .map(|(line, other)| Fault::AddressShorted { line, other, wired }),
        ["data", "line", line, "stuck", "at", value] => {
            read.bit(line).and_then(|line| Ok(Fault::DataStuck { line, high: read.value(value)? }))
        }
        ["data", "lines", line, "and", other, "shorted"] => two_lines(&read, line, other)
            .map(|(line, other)| Fault::DataShorted { line, other, wired }),
        ["half", "with", "address", "bit", line, "at", value, "dead"] => {
            read.line(line).and_then(|line| Ok(Fault::HalfDead { line, high: read.value(value)? }))
        }
        _ => return None,
    })
}

fn two(read: &Reader<'_>, first: &str, second: &str) -> Result<(u32, u32), PhraseError> {
    let (a, b) = (read.address(first)?, read.address(second)?);
    read.other(a, second, b).map(|()| (a, b))
}

fn two_lines(read: &Reader<'_>, first: &str, second: &str) -> Result<(u8, u8), PhraseError> {
    let (a, b) = (read.line(first)?, read.line(second)?);
    read.other(a.into(), second, b.into()).map(|()| (a, b))
}

fn of_cell(
    read: &Reader<'_>,
    address: &str,
    bit: &str,
    what: &[&str],
) -> Option<Result<Fault, PhraseError>> {
    let known = matches!(
        *what,
        ["stuck", "at", _]
            | ["stuck", "open"]
            | ["cannot", "rise" | "fall"]
            | ["rising" | "falling", "inverts", "cell", _, "bit", _]
            | ["rising" | "falling", "sets", "cell", _, "bit", _, "to", _]
            | ["at", _, "forces", "cell", _, "bit", _, "to", _]
            | ["to", "cell", _, "bit", _, _]
            | ["loses", _, "after", _, "ms"]
            | ["leaks", "in", _, "ms"]
            | ["slow", _]
    );
    if !known && !matches!(*what, [primitive] if primitive.starts_with(['<', '\u{27e8}'])) {
        return None;
    }
    Some((|| {
        let cell = read.cell(address, bit)?;
        let victim = |address, bit| {
            let victim = read.cell(address, bit)?;
            if victim == cell {
                return Err(read.error(address, "another cell than the first"));
            }
            Ok(victim)
        };
        Ok(match *what {
            ["stuck", "at", value] => Fault::StuckAt { cell, high: read.value(value)? },
            ["stuck", "open"] => Fault::StuckOpen { cell },
            ["cannot", edge] => Fault::Transition { cell, rise: edge == "rise" },
            [edge, "inverts", "cell", address, "bit", bit] => Fault::Inversion {
                aggressor: cell,
                rise: edge == "rising",
                victim: victim(address, bit)?,
            },
            [edge, "sets", "cell", address, "bit", bit, "to", value] => Fault::Idempotent {
                aggressor: cell,
                rise: edge == "rising",
                victim: victim(address, bit)?,
                high: read.value(value)?,
            },
            ["at", at, "forces", "cell", address, "bit", bit, "to", value] => Fault::State {
                aggressor: cell,
                at: read.value(at)?,
                victim: victim(address, bit)?,
                high: read.value(value)?,
            },
            ["to", "cell", address, "bit", bit, primitive] => Fault::Primitive {
                primitive: read.primitive(primitive, true)?,
                aggressor: Some(cell),
                victim: victim(address, bit)?,
            },
            ["loses", value, "after", time, "ms"] => Fault::Retention {
                cell,
                high: read.value(value)?,
                milliseconds: read.milliseconds(time)?,
            },
            ["leaks", "in", time, "ms"] => {
                Fault::Leaky { cell, milliseconds: read.milliseconds(time)? }
            }
            ["slow", factor] => match read.number(factor, 1_000, "a factor from 2 to 1000")? {
                0 | 1 => return Err(read.error(factor, "a factor from 2 to 1000")),
                factor => Fault::SlowCell { cell, factor },
            },
            // Nothing else passes the look above.
            _ => Fault::Primitive {
                primitive: read.primitive(what[0], false)?,
                aggressor: None,
                victim: cell,
            },
        })
    })())
}

#[cfg(test)]
mod tests {
    use crate::Defect;

    #[test]
    fn phrases_with_their_variants_are_read_and_written_back() {
        for phrase in [
            "cell 0 bit 0 stuck at 1",
            "cell 1023 bit 3 cannot fall",
            "address 5 reaches no cell wired or",
            "address 6 takes over cell 5 wired or",
            "address 5 reaches cell 6 too wired or",
            "cell 5 bit 2 falling inverts cell 5 bit 3",
            "cell 5 bit 2 falling sets cell 7 bit 2 to 1",
            "cell 5 bit 2 at 0 forces cell 7 bit 2 to 1",
            "cell 5 bit 2 <r0/1/0>",
            "cell 5 bit 2 to cell 7 bit 2 <1;0w1/0/->",
            "cell 5 bit 2 loses 0 after 1000 ms",
            "columns 3 and 4 bit 2 coupled wired or",
            "address lines 3 and 5 shorted wired or",
            "data lines 2 and 3 shorted wired or",
        ] {
            assert_eq!(phrase.parse::<Defect>().unwrap().to_string(), phrase);
        }
        let hexadecimal: Defect = "cell 0x1F bit 2 stuck open".parse().unwrap();
        assert_eq!(hexadecimal.to_string(), "cell 31 bit 2 stuck open");
    }

    #[test]
    fn what_is_wrong_with_a_phrase_is_said() {
        let message = |text: &str| text.parse::<Defect>().unwrap_err().to_string();
        for (phrase, why) in [
            ("cell X bit 2 stuck open", "\"X\" should be an address such as 5 or 0x1F"),
            ("cell 5 bit 16 stuck open", "\"16\" should be a bit number from 0 to 15"),
            ("cell 5 bit 2 stuck at 2", "\"2\" should be 0 or 1"),
            ("cell 5 bit 2 loses 1 after 0 ms", "\"0\" should be 1 to 1000000 ms"),
            ("cell 5 bit 2 slow 1", "\"1\" should be a factor from 2 to 1000"),
            ("address 5 reaches cell 5 too", "\"5\" should be another than the first"),
            ("address lines 3 and 3 shorted", "\"3\" should be another than the first"),
            (
                "cell 5 bit 2 rising inverts cell 5 bit 2",
                "\"5\" should be another cell than the first",
            ),
            (
                "cell 5 bit 2 <0w1/1/->",
                "\"<0w1/1/->\" should be a primitive that differs from a good cell",
            ),
            (
                "cell 5 bit 2 <0w1;0/1/->",
                "\"<0w1;0/1/->\" should be a primitive of one cell, <S/F/R>",
            ),
        ] {
            assert_eq!(message(phrase), format!("\"{phrase}\": {why}"));
        }
        for phrase in ["cell 5 bit 2", "cell 5 bit 2 stuck at 1 wired or", "row 3 reads"] {
            assert!(message(phrase).starts_with(&format!("no such defect: \"{phrase}\"")));
        }
    }
}
