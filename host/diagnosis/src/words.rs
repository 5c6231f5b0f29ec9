//! Findings in plain words.

use crate::cause::{
    Aggressors, Block, Cause, Cell, CellFault, Condition, Effect, Finding, Joined, LineFault,
    Place, Wins,
};
use crate::shape::{Arrangement, Known, Shape};

/// How many other causes a sentence spells out.
const MOST_SPELT: usize = 2;

impl Finding {
    /// What is wrong, in one sentence, with what it cannot be told from.
    pub fn sentence(&self, shape: &Shape) -> String {
        let mut text = String::new();
        if !self.certain && !matches!(self.cause, Cause::Scattered { .. }) {
            text.push_str("compatible with: ");
        }
        text.push_str(&self.cause.words(shape));
        let others: Vec<String> = self.or.iter().map(|cause| cause.brief(shape)).collect();
        let spelt = others.len().min(MOST_SPELT);
        if spelt > 0 {
            text.push_str(&format!(
                "; this march does not tell it from {}",
                others[..spelt].join(", or ")
            ));
            match others.len() - spelt {
                0 => {}
                1 => text.push_str(", or 1 other"),
                more => text.push_str(&format!(", or {more} others")),
            }
        }
        let reads = if self.reads == 1 { "read" } else { "reads" };
        format!("{text} ({} failing {reads})", self.reads)
    }
}

impl Cause {
    /// What is wrong, with what it means.
    pub fn words(&self, shape: &Shape) -> String {
        match self {
            Self::Dead { word } => {
                let digits = shape.data.len().div_ceil(4);
                format!(
                    "every read gives {word:0digits$X}: the chip is dead, is not selected, or its \
                     outputs have no contact"
                )
            }
            Self::DataStuck { line, high } => {
                format!("{} always reads {}: stuck or open", data(shape, *line), u8::from(*high))
            }
            Self::AddressLine { lines } => {
                format!("{} has no effect: stuck or open", address_lines(shape, lines))
            }
            Self::HalfDead { line, high, reads } => format!(
                "the half with {} {} {}; the other half is good",
                address_line(shape, *line),
                level(*high),
                how(*reads, "does not hold data")
            ),
            Self::Cells { fault, cells, count } => {
                let subject = list_cells(cells, *count);
                let plural = *count > 1;
                format!("{subject} {}", cell_fault(*fault, plural))
            }
            Self::Coupling { victim, effect, aggressors } => format!(
                "{} {}; that cell is {}",
                cell(*victim),
                effect_words(*effect),
                aggressor_words(shape, aggressors)
            ),
            Self::Scattered { cells, zeros_for_ones, ones_for_zeros, bits } => {
                let wher = if bits.count_ones() == 1 && shape.bits() > 1 {
                    format!(", all of {}", data(shape, bits.trailing_zeros() as u8))
                } else {
                    String::new()
                };
                let failures = if *cells == 1 {
                    "1 cell fails".to_owned()
                } else {
                    format!("{cells} cells fail")
                };
                let all = u64::from(shape.words) * u64::from(shape.bits());
                let most = if u64::from(*cells) * 10 > all * 9 {
                    ": the chip may be dead, not selected or of another type"
                } else {
                    ""
                };
                format!(
                    "{failures} in no simple way{wher}, {zeros_for_ones} times 0 for 1, \
                     {ones_for_zeros} times 1 for 0{most}"
                )
            }
            Self::DataShorted { .. } | Self::AddressShorted { .. } => {
                let (one, other, wins) = self.shorted(shape);
                format!("{one} and {other} are shorted ({wins})")
            }
            Self::Rows { rows, bits, fault } => {
                lines(shape, "row", rows, *bits, *fault, |at| &at.row)
            }
            Self::Columns { columns, bits, fault } => {
                lines(shape, "column", columns, *bits, *fault, |at| &at.column)
            }
            Self::Block { block, bits, fault } => format!(
                "every word with {}{} {}",
                block_words(shape, block),
                of_bits(shape, *bits),
                how(*fault, "fails")
            ),
            Self::SharedWord { address, other } => {
                format!("addresses {address:X} and {other:X} reach one word")
            }
            Self::Slow { count: 0, .. } => "the chip is slow: given time it reads right".to_owned(),
            Self::Slow { cells, count } => {
                let verb = if *count > 1 { "are" } else { "is" };
                format!("{} {verb} slow: right when given time", list_cells(cells, *count))
            }
        }
    }

    /// A cause beside another, as a noun.
    fn brief(&self, shape: &Shape) -> String {
        match self {
            Self::Dead { .. } => "a dead chip".to_owned(),
            Self::DataStuck { line, .. } => format!("{} stuck or open", data(shape, *line)),
            Self::DataShorted { .. } | Self::AddressShorted { .. } => {
                let (one, other, wins) = self.shorted(shape);
                format!("a short of {one} and {other} ({wins})")
            }
            Self::AddressLine { lines } => {
                format!("{} stuck or open", address_lines(shape, lines))
            }
            Self::HalfDead { line, high, .. } => {
                format!("a dead half with {} {}", address_line(shape, *line), level(*high))
            }
            Self::Rows { .. } => "rows that fail".to_owned(),
            Self::Columns { .. } => "columns that fail".to_owned(),
            Self::Block { .. } => "a block that fails".to_owned(),
            Self::SharedWord { .. } => "two addresses of one word".to_owned(),
            Self::Slow { .. } => "slow cells".to_owned(),
            Self::Cells { fault, count, .. } => {
                let plural = *count > 1;
                let subject = if plural { "cells that" } else { "a cell that" };
                format!("{subject} {}", cell_fault(*fault, plural))
            }
            Self::Coupling { effect, aggressors, .. } => {
                format!("a cell that {}, {}", effect_words(*effect), place(shape, aggressors))
            }
            Self::Scattered { .. } => "scattered failures".to_owned(),
        }
    }

    /// Two shorted lines, and what wins.
    fn shorted(&self, shape: &Shape) -> (String, String, String) {
        let level = |wins: &Wins| match wins {
            Wins::Low => "low wins".to_owned(),
            Wins::High => "high wins".to_owned(),
            Wins::Line(line) => format!("{} wins", data(shape, *line)),
        };
        match self {
            Self::DataShorted { line, other, wins } => {
                (data(shape, *line), data(shape, *other), level(wins))
            }
            Self::AddressShorted { pairs, wins } => match pairs[..] {
                [(a, b)] => (address_line(shape, a), address_line(shape, b), level(wins)),
                [(a, b), ..] => (address_pin(shape, a), address_pin(shape, b), level(wins)),
                [] => Default::default(),
            },
            _ => Default::default(),
        }
    }
}

fn level(high: bool) -> &'static str {
    if high { "high" } else { "low" }
}

fn data(shape: &Shape, bit: u8) -> String {
    match shape.data.get(usize::from(bit)) {
        Some(line) => format!("data line {}", line.name()),
        None => format!("data bit {bit}"),
    }
}

fn address_line(shape: &Shape, bit: u8) -> String {
    match shape.address.get(usize::from(bit)) {
        Some(line) => format!("{} (pin {})", line.name(), line.pin),
        None => format!("address bit {bit}"),
    }
}

fn address_pin(shape: &Shape, bit: u8) -> String {
    match shape.address.get(usize::from(bit)) {
        Some(line) => format!("{} (pin {})", line.pin_name, line.pin),
        None => format!("address bit {bit}"),
    }
}

fn address_lines(shape: &Shape, lines: &[u8]) -> String {
    match lines {
        [line] => format!("address line {}", address_line(shape, *line)),
        [line, ..] => format!("address line {}", address_pin(shape, *line)),
        [] => "no address line".to_owned(),
    }
}

fn how(fault: LineFault, variously: &str) -> String {
    match fault {
        LineFault::Reads(value) => format!("reads {} always", u8::from(value)),
        LineFault::Loses(Some(value)) => {
            format!("loses its {}s soon after they are written", u8::from(value))
        }
        LineFault::Loses(None) => "loses its data soon after they are written".to_owned(),
        LineFault::ReadsOrLoses(value) => {
            format!("reads {} always or does not keep its {}s", u8::from(!value), u8::from(value))
        }
        LineFault::LosesInPause(Some(value)) => {
            format!("loses its {}s in a pause", u8::from(value))
        }
        LineFault::LosesInPause(None) => "loses its data in a pause".to_owned(),
        LineFault::Variously => variously.to_owned(),
    }
}

/// Bits of a word, where they are not all: ", bits 0 and 3".
fn of_bits(shape: &Shape, bits: u16) -> String {
    if bits == shape.mask() {
        return String::new();
    }
    let names: Vec<String> =
        (0..shape.bits()).filter(|bit| bits >> bit & 1 == 1).map(|bit| bit.to_string()).collect();
    let word = if names.len() == 1 { "bit" } else { "bits" };
    format!(", {word} {},", names.join(", "))
}

fn lines(
    shape: &Shape,
    what: &str,
    numbers: &[u32],
    bits: u16,
    fault: LineFault,
    which: impl Fn(&Arrangement) -> &Vec<u8>,
) -> String {
    let arrangement = shape.arrangement();
    let names: Vec<String> = which(&arrangement)
        .iter()
        .rev()
        .map(|&bit| {
            shape.address.get(usize::from(bit)).map_or(String::new(), |line| line.pin_name.clone())
        })
        .collect();
    let listed: Vec<String> = numbers.iter().take(Cause::MOST_CELLS).map(u32::to_string).collect();
    let (subject, verb) = match numbers {
        [_] => (format!("{what} {}", listed[0]), how(fault, "fails in every cell")),
        _ => {
            let more = numbers.len() - listed.len();
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            let each = format!("{}{more}: each", listed.join(", "));
            (format!("{} {what}s {each}", numbers.len()), how(fault, "fails in every cell"))
        }
    };
    let published = match arrangement.known {
        Known::Physical => "",
        Known::Strobed => " at its strobe",
        Known::Logical => " by address",
    };
    format!("{subject}{} {verb} ({what} by {}{published})", of_bits(shape, bits), names.join(" "))
}

fn block_words(shape: &Shape, block: &Block) -> String {
    let fixed: Vec<String> = (0..shape.address_bits())
        .rev()
        .filter(|bit| block.fixed >> bit & 1 == 1)
        .map(|bit| {
            let name =
                shape.address.get(usize::from(bit)).map_or(String::new(), |line| line.name());
            format!("{name} {}", level(block.levels >> bit & 1 == 1))
        })
        .collect();
    fixed.join(", ")
}

fn cell(cell: Cell) -> String {
    format!("cell {:X} bit {}", cell.address, cell.bit)
}

fn list_cells(cells: &[Cell], count: u32) -> String {
    let names: Vec<String> =
        cells.iter().map(|cell| format!("{:X} bit {}", cell.address, cell.bit)).collect();
    match count {
        0 | 1 => format!("cell {}", names.join(", ")),
        _ if count as usize > names.len() => {
            format!("{count} cells ({} and more)", names.join(", "))
        }
        _ => format!("{count} cells ({})", names.join(", ")),
    }
}

fn cell_fault(fault: CellFault, plural: bool) -> String {
    let s = if plural { "" } else { "s" };
    let own = if plural { "their" } else { "its" };
    let digit = u8::from;
    match fault {
        CellFault::StuckAt(value) => {
            let verb = if plural { "are" } else { "is" };
            format!("{verb} stuck at {}", digit(value))
        }
        CellFault::CannotRise => "cannot change from 0 to 1".to_owned(),
        CellFault::CannotFall => "cannot change from 1 to 0".to_owned(),
        CellFault::Loses { value, within_ms } => {
            format!("lose{s} a {} within {within_ms} ms", digit(value))
        }
        CellFault::Leaks { value } => {
            format!("lose{s} a {} sooner than {own} row is refreshed", digit(value))
        }
        CellFault::Open => format!("give{s} what was read before: cut off"),
        CellFault::ReadFlips(value) => {
            format!("read{s} {} when holding {}, and change{s} to it", digit(!value), digit(value))
        }
        CellFault::ReadUpsets(value) => {
            format!("change{s} to {} when read as {}", digit(!value), digit(value))
        }
        CellFault::ReadsWrong(value) => {
            format!("read{s} {} when holding {}, and keep{s} it", digit(!value), digit(value))
        }
        CellFault::WriteFlips(value) => {
            format!("change{s} to {} when {} is written again", digit(!value), digit(value))
        }
    }
}

fn effect_words(effect: Effect) -> String {
    let when = |condition| match condition {
        Condition::Rises => "another cell changes to 1".to_owned(),
        Condition::Falls => "another cell changes to 0".to_owned(),
        Condition::Rewritten(value) => {
            format!("{} is written again to another cell", u8::from(value))
        }
        Condition::Read(value) => format!("another cell is read as {}", u8::from(value)),
    };
    match effect {
        Effect::Sets(condition, value) => {
            format!("becomes {} when {}", u8::from(value), when(condition))
        }
        Effect::Inverts(condition) => format!("inverts when {}", when(condition)),
        Effect::TakesWrites => "takes what is written to another cell".to_owned(),
        Effect::ReachesToo(joined) => {
            let wins = if joined == Joined::HighWins { "high wins" } else { "low wins" };
            format!("is joined to another cell when it is addressed ({wins})")
        }
        Effect::While(held, fault) => {
            format!("{} while another cell holds {}", cell_fault(fault, false), u8::from(held))
        }
    }
}

fn place(shape: &Shape, aggressors: &Aggressors) -> String {
    let place = match aggressors.place {
        Place::Below => "at a lower address",
        Place::Above => "at a higher address",
        Place::SameWord => "in the same word",
    };
    format!("{place}{}", of_bits(shape, aggressors.bits).trim_end_matches(','))
}

fn aggressor_words(shape: &Shape, aggressors: &Aggressors) -> String {
    match (&aggressors.nearest[..], aggressors.count) {
        ([only], 1) => cell(*only),
        (nearest, count) => {
            let names: Vec<String> =
                nearest.iter().map(|cell| format!("{:X} bit {}", cell.address, cell.bit)).collect();
            let which = if count as usize > names.len() { "the nearest are" } else { "they are" };
            format!("one of {count} {}, {which} {}", place(shape, aggressors), names.join(", "))
        }
    }
}
