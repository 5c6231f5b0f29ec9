//! Checks a memory array.

use super::symbols::{Builder, Layered, Shown};
use crate::diagnostic::Span;
use crate::syntax::tree::{Kind, MemoryText, Word};
use crate::{Array, Half, MakerGrade, Memory, PinId, Startup, Time};

impl<'a> Builder<'a> {
    /// Enters the data pins, before anything is read.
    pub fn enter_memory(&mut self) {
        for (layer, statement) in self.layered() {
            let Kind::Memory(memory) = &statement.kind else { continue };
            for word in &memory.data_out {
                match self.pin_named(&word.text) {
                    Some(pin) => self.show(pin, Shown::Memory, word.span, layer),
                    None => self.no_such_pin(word),
                }
            }
        }
    }

    /// The part's memory.
    pub fn memory(&mut self) -> Option<Memory> {
        let mut found: Option<Memory> = None;
        let mut other = Memory::default();
        let mut places = Vec::new();
        let known = |(_, statement): &Layered<'_>| matches!(statement.kind, Kind::Memory(_));
        let known = self.statements.iter().any(known);
        for (_, statement) in self.layered() {
            let span = statement.span;
            match &statement.kind {
                Kind::Memory(memory) => found = Some(self.one_memory(memory, span)),
                Kind::Grade(list) => other.grades.clone_from(list),
                Kind::MakerGrade(prefix, grades) => {
                    let maker = MakerGrade { prefix: prefix.clone(), grades: grades.clone() };
                    self.maker(&other, &maker, span);
                    other.maker_grades.push(maker);
                }
                Kind::Timing(times) => {
                    other.times.clear();
                    places.clear();
                    for (moment, ns, span) in times {
                        other.times.push(Time { moment: *moment, ns: ns.clone() });
                        places.push(*span);
                    }
                }
                Kind::Refresh(rows, micro) => other.refresh = Some((*rows, *micro)),
                Kind::Startup(pause_us, cycles) => {
                    other.startup = Some(Startup { pause_us: *pause_us, cycles: *cycles });
                }
                _ => continue,
            }
            if !known {
                self.sink.error(
                    span,
                    "the statement belongs to a memory",
                    "expected a `memory` statement above",
                );
            }
        }
        self.spread_times(&mut other, &places);
        let memory = found?;
        Some(Memory {
            grades: other.grades,
            maker_grades: other.maker_grades,
            times: other.times,
            refresh: other.refresh,
            startup: other.startup,
            ..memory
        })
    }

    /// A maker's own marks mean grades that the part has.
    fn maker(&mut self, known: &Memory, maker: &MakerGrade, span: Span) {
        if known.maker_grades.iter().any(|other| other.prefix == maker.prefix) {
            self.sink.error(
                span,
                format!("the grades of `{}` stand twice", maker.prefix),
                "expected one statement for each maker",
            );
        }
        for (mark, ns) in &maker.grades {
            if !known.grades.iter().any(|(_, other)| other == ns) {
                self.sink.error(
                    span,
                    format!("no grade of the part has the {ns} ns of `{}`", dash(mark)),
                    "expected the grades that hold for all makers above, one of them with this \
                     time",
                );
            }
        }
    }

    /// Times that stand once hold for every grade.
    fn spread_times(&mut self, memory: &mut Memory, places: &[Span]) {
        let grades = memory.grades.len().max(1);
        for (time, span) in memory.times.iter_mut().zip(places) {
            if let [all] = time.ns[..] {
                time.ns = vec![all; grades];
            }
            if time.ns.len() != grades {
                self.sink.error(
                    *span,
                    format!("{} times for {grades} grades", time.ns.len()),
                    "expected one time for every grade of the `grade` statement above, or one for \
                     all",
                );
            }
        }
    }

    fn one_memory(&mut self, text: &'a MemoryText, span: Span) -> Memory {
        self.check_counts(text, span);
        let address = self.inputs(&text.address);
        let strobes = self.inputs(&text.strobes);
        let column = match (text.strobes.is_empty(), text.column.is_empty()) {
            (true, _) => Vec::new(),
            (false, true) => address.clone(),
            (false, false) => self.address_pins(&text.column, &text.address),
        };
        let write = text.write.as_ref().map(|condition| self.condition(condition));
        let data_in = match (text.shared, write) {
            // What is never written has no data inputs.
            (true, None) => Vec::new(),
            _ => self.inputs(&text.data_in),
        };
        let data_out = self.look_up_pins(&text.data_out);
        let read = text.read.as_ref().map(|condition| self.condition(condition));
        let latch = text.latch.as_ref().map(|condition| self.condition(condition));
        let half = text.half.as_ref().and_then(|(word, column)| {
            let pins = self.address_pins(std::slice::from_ref(word), &text.address);
            pins.first().map(|&pin| Half { pin, column: *column })
        });
        let array = text.array.as_ref().map(|(row, column)| self.array(text, row, column));
        Memory {
            words: text.words,
            bits: text.bits,
            address,
            column,
            data_in,
            data_out,
            strobes,
            read,
            write,
            latch,
            half,
            array,
            ..Memory::default()
        }
    }

    fn inputs(&mut self, words: &'a [Word]) -> Vec<PinId> {
        let pins = self.look_up_pins(words);
        for (&pin, word) in pins.iter().zip(words) {
            if !self.is_special(pin, word.span) {
                self.pin_mut(pin).read = true;
            }
        }
        pins
    }

    /// Pins that must be among the address pins.
    fn address_pins(&mut self, words: &'a [Word], address: &[Word]) -> Vec<PinId> {
        for word in words {
            if !address.iter().any(|other| other.text == word.text) {
                self.sink.error(
                    word.span,
                    format!("`{}` is not an address pin", word.text),
                    "expected a name from the line `address`",
                );
            }
        }
        self.look_up_pins(words)
    }

    /// The physical order: each address pin once.
    fn array(&mut self, text: &'a MemoryText, row: &'a [Word], column: &'a [Word]) -> Array {
        let mut named: Vec<&str> =
            row.iter().chain(column).map(|word| word.text.as_str()).collect();
        let mut address: Vec<&str> = text.address.iter().map(|word| word.text.as_str()).collect();
        named.sort_unstable();
        address.sort_unstable();
        if named != address || !text.strobes.is_empty() {
            self.sink.error(
                place(row, column),
                "rows and columns are not the address pins",
                "expected each pin of the line `address` once, of a memory without strobes",
            );
        }
        Array { row: self.look_up_pins(row), column: self.look_up_pins(column) }
    }

    fn check_counts(&mut self, text: &MemoryText, span: Span) {
        let count = text.address.len() as u32;
        let column = if text.column.is_empty() { count } else { text.column.len() as u32 };
        let bits = match text.strobes.len() as u32 {
            0 => count,
            strobes => count.saturating_add(column.saturating_mul(strobes - 1)),
        };
        let reach = 1_u64.checked_shl(bits).unwrap_or(u64::MAX);
        let reach = if text.half.is_some() { reach / 2 } else { reach };
        let words = u64::from(text.words);
        if reach != words {
            self.sink.error(
                text.address.first().map_or(span, |_| place(&text.address, &[])),
                format!("{count} address pins reach {reach} words, not {words}"),
                "expected the pins that count up to the last word",
            );
        }
        for data in [&text.data_in, &text.data_out] {
            if data.len() != text.bits as usize {
                self.sink.error(
                    data.first().map_or(span, |_| place(data, &[])),
                    format!("{} data pins carry words of {} bits", data.len(), text.bits),
                    "expected as many data pins as a word has bits",
                );
            }
        }
        if !text.shared && text.write.is_none() {
            self.sink.error(
                span,
                "the memory has data inputs but is never written",
                "expected a line `write while CONDITION`",
            );
        }
    }
}

fn dash(mark: &str) -> String {
    if mark.is_empty() { "none".to_owned() } else { format!("-{mark}") }
}

/// From the first to the last word of two lists, the first of which is not empty.
fn place(first: &[Word], second: &[Word]) -> Span {
    let last = second.last().or(first.last());
    let nowhere = Span { source: 0, start: 0, end: 0 };
    first.first().map_or(nowhere, |from| last.map_or(from.span, |last| from.span.to(last.span)))
}
