//! How a tester itself is, in words and for programs.

use dipsift_wire::{Clock, Health};
use serde_json::{Value, json};

/// The level of the brown-out reset that a board should have.
const BROWN_OUT_LEVEL: u8 = 3;

/// In words.
pub fn words(health: &Health) -> String {
    let mut words = vec![
        match health.clock {
            Clock::Regular => "clock as it should be",
            Clock::Internal => {
                "clock: the internal oscillator, since the board's own has not come; times are \
                 less exact"
            }
            Clock::Slow => {
                "clock: slow, since no fast one has come; checks take longer: reset the board"
            }
            Clock::Virtual => "clock: virtual",
        }
        .to_string(),
    ];
    match health.brown_out {
        Some(BROWN_OUT_LEVEL) => words.push("brown-out reset at its highest level".into()),
        Some(level) => words.push(format!(
            "brown-out reset at level {level} of {BROWN_OUT_LEVEL}: set level {BROWN_OUT_LEVEL} \
             in the option bytes"
        )),
        None => {}
    }
    if let Some(bytes) = health.stack_free {
        words.push(format!("{bytes} bytes of stack never used"));
    }
    words.join("; ")
}

/// For programs; null where the tester does not say.
pub fn json(health: Option<&Health>) -> Value {
    health.map_or(Value::Null, |health| {
        json!({
            "clock": match health.clock {
                Clock::Regular => "regular",
                Clock::Internal => "internal",
                Clock::Slow => "slow",
                Clock::Virtual => "virtual",
            },
            "brown_out_level": health.brown_out,
            "stack_free_bytes": health.stack_free,
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_is_said_with_what_to_do() {
        let health = Health { clock: Clock::Slow, brown_out: Some(0), stack_free: Some(9_000) };
        let words = words(&health);
        for part in ["slow", "reset the board", "level 0 of 3", "9000 bytes"] {
            assert!(words.contains(part), "{words}");
        }
    }
}
