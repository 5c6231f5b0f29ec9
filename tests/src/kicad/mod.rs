//! Pinouts against the symbol library that Debian ships as `kicad-symbols`.
//!
//! What is compared for each pin number: what the pin is for and how it drives, its name, whether
//! it is active low, and which pins form a section. Names are brought together like this:
//!
//! 1. The marks of an active-low pin (`/X` here; `~{X}` or an inverting pin shape there) are taken
//!    off and compared on their own. They are not compared at clocks, where the mark tells the
//!    edge and not a level, nor at pins that have no name there.
//! 2. Letters become capitals; everything but letters, digits and `< > = + '` is dropped.
//! 3. In a symbol of several units our leading section number is dropped: the library numbers
//!    units and names pins alike in each. That the same pins form a section is compared instead.
//! 4. `reference/pin-names.txt` lists for each part which of our names, those of TI's data sheets,
//!    answers to which name there; the library mostly uses the Philips and Fairchild names.

mod compare;
mod sexpr;
mod symbols;

pub use compare::{
    Aspect, Difference, Pinout, Terminal, differences, typed_memory_pinouts, typed_pinouts,
};
pub use symbols::{Symbols, VERSION_COMMAND};

use std::collections::HashMap;

/// Which of our names answers to which name there, for a part.
pub fn names(number: &str) -> Result<HashMap<String, String>, String> {
    let mut names = HashMap::new();
    for line in include_str!("../../reference/pin-names.txt").lines() {
        let content = line.split('#').next().unwrap_or_default();
        let Some((part, pairs)) = content.split_once('|') else { continue };
        if part.trim() != number {
            continue;
        }
        for pair in pairs.split_whitespace() {
            // A name may hold an equals sign itself, so the arrow is two characters.
            let (there, here) = pair.split_once("->").ok_or(format!("pin-names.txt: {pair}"))?;
            names.insert(there.to_owned(), here.to_owned());
        }
    }
    Ok(names)
}

/// Accepted differences: each with the data sheet that decides it and the reason.
pub fn accepted() -> Result<Vec<Accepted>, String> {
    let text = include_str!("../../reference/pinout-differences.txt");
    let mut accepted = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let content = line.split('#').next().unwrap_or_default();
        if content.trim().is_empty() {
            continue;
        }
        let fields: Vec<&str> = content.split('|').map(str::trim).collect();
        let [part, pins, aspect, ours, theirs, source, reason] = fields[..] else {
            return Err(format!("pinout-differences.txt:{}: expected seven fields", index + 1));
        };
        if source.is_empty() || reason.is_empty() {
            return Err(format!("pinout-differences.txt:{}: no source or reason", index + 1));
        }
        for pin in pins.split_whitespace() {
            let pin = pin
                .parse()
                .map_err(|_| format!("pinout-differences.txt:{}: {pin} is no pin", index + 1))?;
            accepted.push(Accepted {
                difference: Difference {
                    part: part.to_owned(),
                    pin,
                    aspect: Aspect::from_word(aspect)
                        .ok_or_else(|| format!("pinout-differences.txt:{}: {aspect}", index + 1))?,
                    ours: ours.to_owned(),
                    theirs: theirs.to_owned(),
                },
                source: source.to_owned(),
                reason: reason.to_owned(),
            });
        }
    }
    Ok(accepted)
}

/// A difference that a data sheet decides for us.
#[derive(Clone, Debug)]
pub struct Accepted {
    /// The difference.
    pub difference: Difference,
    /// The document that decides.
    pub source: String,
    /// Why the two differ.
    pub reason: String,
}
