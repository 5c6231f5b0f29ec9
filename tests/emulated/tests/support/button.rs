//! The button and the lamps.

use super::talk::Talk;
use dipsift_wire::{Answer, Ask};

/// Go, no-go, not decided.
pub const GO: [bool; 3] = [true, false, false];
pub const NO_GO: [bool; 3] = [false, true, false];
pub const NOT_DECIDED: [bool; 3] = [false, false, true];
pub const ALL: [bool; 3] = [true; 3];
pub const NONE: [bool; 3] = [false; 3];

/// Arms a stored program.
pub fn arm(talk: &mut Talk, name: &str) {
    let name = name.try_into().expect("a short name");
    let answer = talk.ask(Ask::Arm(Some(name)));
    assert!(matches!(answer, Some(Answer::Armed(Some(_)))), "{answer:?}");
}

/// Presses the button like a finger, and returns the lamps once they are steady.
pub fn press(talk: &mut Talk) -> [bool; 3] {
    press_for(talk, 60)
}

pub fn press_for(talk: &mut Talk, milliseconds: u64) -> [bool; 3] {
    talk.machine().press(true);
    talk.run_ms(milliseconds);
    talk.machine().press(false);
    let lamps = |talk: &Talk| talk.line.machine().board().lamps();
    let mut steady = 0;
    let mut before = lamps(talk);
    for _ in 0..300 {
        talk.run_ms(10);
        // Longer than half of a blink.
        steady = if lamps(talk) == before && talk.is_safe() { steady + 1 } else { 0 };
        before = lamps(talk);
        if steady == 20 {
            return before;
        }
    }
    panic!("the lamps do not come to rest");
}
