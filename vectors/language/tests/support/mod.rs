//! Plays levels on a description.

#![allow(dead_code, reason = "each test binary uses some of it")]

use dipsift_language::{Library, Machine, Part, Settled, Severity, Word, read};
use std::sync::Arc;

/// Reads the last part of a text; any message is a failure.
pub fn part(text: &str) -> Part {
    let mut reading = read("test.part", text);
    let said: Vec<_> = reading.diagnostics.iter().map(|said| said.render(false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n"));
    reading.parts.pop().unwrap()
}

/// A description of an invented part with 40 pins of which the listed ones have names.
pub fn invented(pins: &str, rest: &str) -> String {
    let number = |name: &str| {
        name.trim_start_matches(|c: char| !c.is_ascii_digit()).parse::<usize>().unwrap()
    };
    let count = |word: &str| match word.split_once("..") {
        Some((first, last)) => number(first).abs_diff(number(last)) + 1,
        None => 1,
    };
    let named: usize = pins.split_whitespace().map(count).sum();
    let free = " -".repeat(38 - named);
    let head = "part 7499\ntitle invented\nsource none, invented\nmade LS\n";
    format!("{head}dip {pins}{free} GND VCC\n{rest}")
}

/// A part on the bench.
pub struct Bench {
    pub part: Part,
    pub machine: Machine,
    pub settled: Settled,
}

impl Bench {
    pub fn new(text: &str) -> Self {
        let part = part(text);
        let machine = Machine::new(Arc::new(part.network.clone()), part.pins.len());
        Self { part, machine, settled: Settled::Stable }
    }

    /// `A=1 B=0 C=X`, all at once.
    pub fn set(&mut self, levels: &str) -> &mut Self {
        for pair in levels.split_whitespace() {
            let (name, level) = pair.split_once('=').unwrap();
            let pin = self.part.pin_named(name).unwrap_or_else(|| panic!("no pin {name}"));
            let word = match level {
                "0" => Word::LOW,
                "1" => Word::HIGH,
                "X" => Word::UNKNOWN,
                other => panic!("no level {other}"),
            };
            self.machine.apply(pin, word);
        }
        self.settled = self.machine.settle();
        self
    }

    /// A pulse up, or down where the pin is high.
    pub fn pulse(&mut self, name: &str) -> &mut Self {
        let pin = self.part.pin_named(name).unwrap();
        let high = self.machine.applied(pin).known().unwrap();
        let (first, second) = if high { ("0", "1") } else { ("1", "0") };
        self.set(&format!("{name}={first}")).set(&format!("{name}={second}"))
    }

    /// What the chip drives: H, L, X for unknown, Z where it does not drive, ? where it may.
    pub fn seen(&self, names: &str) -> String {
        names.split_whitespace().map(|name| self.one(name)).collect()
    }

    fn one(&self, name: &str) -> char {
        let pin = self.part.pin_named(name).unwrap_or_else(|| panic!("no pin {name}"));
        let (level, enable) = self.machine.driven(pin);
        match (enable.known(), level.known()) {
            (Some(false), _) => 'Z',
            (None, _) => '?',
            (_, Some(true)) => 'H',
            (_, Some(false)) => 'L',
            (_, None) => 'X',
        }
    }
}

/// Messages of a kind, as `line: message`.
pub fn messages(text: &str, severity: Severity) -> Vec<String> {
    read("test.part", text)
        .diagnostics
        .into_iter()
        .filter(|said| said.severity == severity)
        .map(|said| format!("{}: {}", said.line, said.message))
        .collect()
}

/// A library of one text; errors are a failure.
pub fn library(text: &str) -> Library {
    let (library, said) = Library::of_texts([("test.part", text)]);
    assert!(said.is_empty(), "{said:?}");
    library
}
