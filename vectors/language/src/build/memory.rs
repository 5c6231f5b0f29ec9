//! Checks a memory array.

use super::symbols::{Builder, Shown};
use crate::Memory;
use crate::diagnostic::Span;
use crate::syntax::tree::{Kind, MemoryText, Word};

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
        let mut found = None;
        let mut grades = Vec::new();
        let mut refresh = None;
        for (_, statement) in self.layered() {
            let span = statement.span;
            match &statement.kind {
                Kind::Memory(memory) => found = Some(self.one_memory(memory, span)),
                Kind::Grade(list) => grades = list.clone(),
                Kind::Refresh(rows, micro) => refresh = Some((*rows, *micro)),
                _ => continue,
            }
            if found.is_none() {
                self.sink.error(
                    span,
                    "the statement belongs to a memory",
                    "expected a `memory` statement above",
                );
            }
        }
        let mut memory = found?;
        memory.grades = grades;
        memory.refresh = refresh;
        Some(memory)
    }

    fn one_memory(&mut self, text: &'a MemoryText, span: Span) -> Memory {
        self.check_counts(text, span);
        let address = self.inputs(&text.address);
        let strobes = self.inputs(&text.strobes);
        let write = text.write.as_ref().map(|condition| self.condition(condition));
        let data_in = match (text.shared, write) {
            // What is never written has no data inputs.
            (true, None) => Vec::new(),
            _ => self.inputs(&text.data_in),
        };
        let data_out = self.look_up_pins(&text.data_out);
        let read = text.read.as_ref().map(|condition| self.condition(condition));
        Memory {
            words: text.words,
            bits: text.bits,
            address,
            data_in,
            data_out,
            strobes,
            read,
            write,
            ..Memory::default()
        }
    }

    fn inputs(&mut self, words: &'a [Word]) -> Vec<crate::PinId> {
        let pins = self.look_up_pins(words);
        for (&pin, word) in pins.iter().zip(words) {
            if !self.is_special(pin, word.span) {
                self.pin_mut(pin).read = true;
            }
        }
        pins
    }

    fn check_counts(&mut self, text: &MemoryText, span: Span) {
        let count = text.address.len() as u32;
        let place = |words: &[Word]| match (words.first(), words.last()) {
            (Some(first), Some(last)) => first.span.to(last.span),
            _ => span,
        };
        let bits = count.saturating_mul((text.strobes.len() as u32).max(1));
        let reach = 1_u64.checked_shl(bits).unwrap_or(u64::MAX);
        let words = u64::from(text.words);
        if reach < words || (text.strobes.is_empty() && reach != words) {
            self.sink.error(
                place(&text.address),
                format!("{count} address pins reach {reach} words, not {words}"),
                "expected the pins that count up to the last word",
            );
        }
        for data in [&text.data_in, &text.data_out] {
            if data.len() != text.bits as usize {
                self.sink.error(
                    place(data),
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
