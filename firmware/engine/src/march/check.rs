//! What makes a set-up impossible.

use super::refresh::{STALL_NS, row_ns};
use crate::{Package, Program};
use dipsift_wire::{Element, MarchFlaw, MarchSetup, Move, Pins, Refresh, Refusal};

/// The longest waiting time of a cycle.
const LONGEST_NS: u32 = 20_000;
/// The same of a memory that is refreshed: no strobe may stay low for more than 10 µs, which most
/// data sheets of such memories give as the longest (JEDEC Standard 21-C names it tRAS; from
/// memory), and the moves take time too.
const LONGEST_STROBED_NS: u32 = 8_000;
/// What the moves of a cycle and what surrounds them take at most beside the waiting.
const MOVES_NS: u32 = 2_000;
/// The longest pause before the first cycle.
const LONGEST_START_US: u32 = 10_000;
/// The most bits of a strobed address.
const MOST_BITS: u8 = 24;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Read,
    Write,
    Refresh,
}

/// A set-up whose pins are known to exist.
struct Check<'a> {
    setup: &'a MarchSetup,
    /// Data pins that are input and output.
    shared: Pins,
}

/// Checks a set-up against its program.
///
/// # Errors
///
/// [`Refusal::Unconnectable`] where nothing would be powered, [`Refusal::Conflict`] where a
/// supplied pin would be driven or compared, and [`Refusal::March`].
pub(crate) fn check(setup: &MarchSetup, program: &Program) -> Result<(), Refusal> {
    if program.connection().is_none() {
        return Err(Refusal::Unconnectable);
    }
    let flaw = |flaw| Err(Refusal::March(flaw));
    let shared = pins(setup, program)?;
    if !words(setup) {
        return flaw(MarchFlaw::Words);
    }
    let word = setup.word();
    if setup.backgrounds.is_empty() || setup.backgrounds.iter().any(|&data| data & !word != 0) {
        return flaw(MarchFlaw::Backgrounds);
    }
    if setup.most_failures == 0 {
        return flaw(MarchFlaw::Failures);
    }
    elements(setup)?;
    let check = Check { setup, shared };
    let read_ns = check.cycle(Kind::Read, &setup.read)?;
    let write_ns = check.cycle(Kind::Write, &setup.write)?;
    if setup.start.pause_us > LONGEST_START_US {
        return flaw(MarchFlaw::Refresh);
    }
    match &setup.refresh {
        Some(refresh) => check.refresh(refresh, read_ns.max(write_ns)),
        None => Ok(()),
    }
}

/// Checks the roles of all pins; yields the data pins that are input and output.
fn pins(setup: &MarchSetup, program: &Program) -> Result<Pins, Refusal> {
    let flaw = Refusal::March(MarchFlaw::Pins);
    let package = program.package();
    let address = distinct(&setup.address, package).ok_or(flaw)?;
    let inputs = distinct(&setup.data_in, package).ok_or(flaw)?;
    let outputs = distinct(&setup.data_out, package).ok_or(flaw)?;
    let (control, data) = (setup.control, Pins(inputs.0 | outputs.0));
    let used = Pins(address.0 | control.0 | data.0);
    if !package.has(used) || setup.idle.0 & !control.0 != 0 || setup.data_out.is_empty() {
        return Err(flaw);
    }
    let all = address.count() + control.count() + data.count();
    let matching = inputs.is_empty() || inputs.count() == outputs.count();
    if all != used.count() || !matching {
        return Err(flaw);
    }
    if used.0 & program.supplied().0 != 0 {
        return Err(Refusal::Conflict);
    }
    Ok(Pins(inputs.0 & outputs.0))
}

/// The set of pins that exist and differ from each other.
fn distinct(numbers: &[u8], package: Package) -> Option<Pins> {
    let set: Pins = numbers.iter().copied().collect();
    let exist = numbers.iter().all(|&pin| package.position(pin).is_some());
    (exist && set.count() as usize == numbers.len()).then_some(set)
}

/// Whether the address reaches all words.
fn words(setup: &MarchSetup) -> bool {
    let pins = setup.address.len() as u8;
    let bits = match setup.strobed {
        None => pins,
        Some(parts) => {
            if parts.row_bits > pins || parts.column_bits > pins {
                return false;
            }
            parts.row_bits + parts.column_bits
        }
    };
    bits <= MOST_BITS && setup.words >= 1 && setup.words <= 1 << bits
}

fn elements(setup: &MarchSetup) -> Result<(), Refusal> {
    let read_only = setup.data_in.is_empty();
    let possible = |element: &Element| match element {
        Element::Pause { .. } => true,
        Element::Each { operations, .. } => {
            let writes = operations.iter().any(|operation| operation.writes());
            !(operations.is_empty() || read_only && writes)
        }
    };
    if setup.elements.iter().all(possible) {
        Ok(())
    } else {
        Err(Refusal::March(MarchFlaw::Elements))
    }
}

impl Check<'_> {
    /// Checks a cycle; yields how long it waits.
    fn cycle(&self, kind: Kind, moves: &[Move]) -> Result<u32, Refusal> {
        let flaw = |index: usize| {
            Refusal::March(MarchFlaw::Cycle { cycle: kind as u8, index: index as u8 })
        };
        if kind == Kind::Write && self.setup.data_in.is_empty() {
            return if moves.is_empty() { Ok(0) } else { Err(flaw(0)) };
        }
        let setup = self.setup;
        let mut high = setup.idle.0;
        let mut driven = false;
        let (mut samples, mut words, mut wait_ns) = (0, 0, 0_u32);
        for (index, step) in moves.iter().enumerate() {
            let possible = match *step {
                Move::Set { pins, high: levels } => {
                    high = high & !pins.0 | levels.0;
                    pins.0 & !setup.control.0 == 0 && levels.0 & !pins.0 == 0
                }
                Move::Address => setup.strobed.is_none() && kind != Kind::Refresh,
                Move::Row => setup.strobed.is_some(),
                Move::Column => setup.strobed.is_some() && kind != Kind::Refresh,
                Move::Data => {
                    driven = true;
                    words += 1;
                    kind == Kind::Write
                }
                Move::Release => {
                    driven = false;
                    kind == Kind::Write
                }
                Move::Wait { ns } => {
                    wait_ns = wait_ns.saturating_add(ns);
                    true
                }
                Move::Sample => {
                    samples += 1;
                    kind == Kind::Read && samples == 1 && !driven
                }
            };
            if !possible {
                return Err(flaw(index));
            }
        }
        let longest = if setup.refresh.is_some() { LONGEST_STROBED_NS } else { LONGEST_NS };
        let whole = match kind {
            Kind::Read => samples == 1,
            Kind::Write => words > 0,
            Kind::Refresh => true,
        };
        let at_rest = high == setup.idle.0 && (!driven || self.shared.is_empty());
        if at_rest && whole && wait_ns <= longest { Ok(wait_ns) } else { Err(flaw(moves.len())) }
    }

    /// Checks that every row can be refreshed in time beside the longest other cycle.
    fn refresh(&self, refresh: &Refresh, other_ns: u32) -> Result<(), Refusal> {
        let cycle_ns = self.cycle(Kind::Refresh, &refresh.cycle)?;
        let rows = self.setup.strobed.map_or(0, |parts| 1_u32 << parts.row_bits);
        let needed = cycle_ns + other_ns + 2 * MOVES_NS;
        let possible = refresh.rows >= 1
            && u32::from(refresh.rows) <= rows
            && refresh.interval_ns > STALL_NS
            && row_ns(refresh.interval_ns, refresh.rows) >= needed;
        if possible { Ok(()) } else { Err(Refusal::March(MarchFlaw::Refresh)) }
    }
}
