//! A person's own stimulus, played on a part.

use crate::chip::Chip;
use crate::{Conditions, Expected, Player, Refuse, Vectors};
use dipsift_language::{Package, Part, Role};
use dipsift_wire::{Pins, Rail, Step};
use std::sync::Arc;

/// What a row does to a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stimulus {
    /// Drive it low.
    Low,
    /// Drive it high.
    High,
    /// Do not drive it.
    Float,
}

/// A stimulus as a program, with what the model expects.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trace {
    /// The program. Every row has exactly two [`Step::Sample`]s, the first with the keeper high
    /// and the second with it low: a pin that follows the keeper is released.
    pub steps: Vec<Step>,
    /// The signal pins, ascending.
    pub pins: Vec<u8>,
    /// For each row, what each of [`pins`](Self::pins) should show.
    pub expected: Vec<Vec<Expected>>,
    /// The settling time to put into the program's header, in nanoseconds.
    pub settle_ns: u32,
    /// The keepers' settling time to put into the program's header, in nanoseconds.
    pub keeper_ns: u32,
}

/// A row that must not be played.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("row {} cannot be played: {reason}", row + 1)]
pub struct TraceRefused {
    /// The row, counted from 0.
    pub row: usize,
    /// Why.
    pub reason: Refuse,
}

/// Turns rows of (pin number, what to do with it) into a program. Pins that no row names float;
/// a pin keeps what the last row that names it did.
///
/// Where a row changes several pins and the result depends on their order, what depends on it is
/// expected as unknown from then on.
///
/// # Errors
///
/// The first row that would drive a pin that is no input or that the chip drives, or that the
/// description forbids.
pub fn trace(
    part: &Arc<Part>,
    package: &Package,
    conditions: &Conditions,
    rows: &[Vec<(u8, Stimulus)>],
) -> Result<Trace, TraceRefused> {
    // The keepers go both ways in every row, so to the model an open input is unknown throughout.
    let mut player = Player::new(part, package, conditions);
    let signals = Pins(player.drivable().0 | player.outputs().0);
    let (settle_ns, keeper_ns) = Vectors::times(part, conditions);
    let mut trace = Trace {
        steps: Vec::new(),
        pins: signals.iter().collect(),
        expected: Vec::with_capacity(rows.len()),
        settle_ns,
        keeper_ns,
    };
    for (index, row) in rows.iter().enumerate() {
        let refused = |reason| TraceRefused { row: index, reason };
        play(&mut player, row, &mut trace.steps).map_err(refused)?;
        for rail in [Rail::High, Rail::Low] {
            trace.steps.extend([conditions.keep(rail), Step::Sample]);
        }
        trace.expected.push(trace.pins.iter().map(|&pin| shows(&player, pin)).collect());
    }
    Ok(trace)
}

fn play(player: &mut Player, row: &[(u8, Stimulus)], steps: &mut Vec<Step>) -> Result<(), Refuse> {
    let (driven, now) = player.driven();
    let (mut released, mut wanted, mut high) = (Pins::NONE, Pins::NONE, Pins::NONE);
    for &(pin, stimulus) in row {
        if !player.drivable().contains(pin) {
            return Err(Refuse::NotAnInput(pin));
        }
        released = released.with(pin, stimulus == Stimulus::Float && driven.contains(pin));
        wanted = wanted.with(pin, stimulus != Stimulus::Float);
        high = high.with(pin, stimulus == Stimulus::High);
    }
    if !released.is_empty() {
        player.release_in_any_order(released)?;
        steps.push(Step::Release { pins: released });
    }
    let changed = Pins(wanted.0 & (!driven.0 | (now.0 ^ high.0)));
    if changed.is_empty() {
        return Ok(());
    }
    let mut drive = |player: &mut Player, pins: Pins| {
        let high = Pins(high.0 & pins.0);
        player.drive_in_any_order(pins, high)?;
        steps.push(Step::Drive { pins, high });
        Ok(())
    };
    let Err(reason) = drive(player, changed) else { return Ok(()) };
    // Plain inputs first may be what turns the chip's outputs off.
    let is_input =
        |chip: &Chip, pin: u8| chip.id(pin).is_some_and(|id| chip.part.pin(id).role == Role::Input);
    let inputs: Pins = changed.iter().filter(|&pin| is_input(&player.chip, pin)).collect();
    let others = Pins(changed.0 & !inputs.0);
    if inputs.is_empty() || others.is_empty() {
        return Err(reason);
    }
    drive(player, inputs)?;
    drive(player, others)
}

/// An open bipolar input holds itself somewhere near its threshold, so nothing is expected there.
fn shows(player: &Player, pin: u8) -> Expected {
    let chip = &player.chip;
    let expected = player.expected(pin);
    let reads_pin = chip.id(pin).map(|id| chip.part.pin(id)).is_some_and(|pin| {
        matches!(pin.role, Role::Input | Role::Bidirectional) && !chip.conditions.keeps_low(pin)
    });
    if expected == Expected::Released && reads_pin { Expected::Unknown } else { expected }
}
