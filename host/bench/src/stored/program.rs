//! A check as phases, each of which says what its passing and its failing mean.
//!
//! The rules are those of `judge`, for a chip whose seat nobody has vouched for, without what
//! only changes the words:
//!
//! 1. The look before power: whatever does not fit is not decided.
//! 2. The vectors: passing is a go. A trip at power-up is not decided, a later one a no-go.
//! 3. Where a heavy input may explain a failure: the vectors with the levels of a chip that takes
//!    that input for always high while the keepers load it most. Passing is not decided.
//! 4. For families below their specified supply, unless an input itself failed: more time and no
//!    load. Passing is not decided.
//!
//! A memory has the first of these and then its march: passing is a go, failing a no-go.

use crate::memory::{MemoryWish, march_program};
use crate::preflight::unpowered;
use crate::{Prepared, SupplyChoice, judge};
use dipsift_link::windows;
use dipsift_stored::Next;
use dipsift_stored::layout::NAME_BYTES;
use dipsift_wire::{Ask, Capabilities, Header, MAX_CODE, Pins, Request, Step, Voltage};

/// A phase: a program, and what comes after it.
#[derive(Clone, Debug, PartialEq)]
pub struct StoredPhase {
    /// The program's header.
    pub header: Header,
    /// The code of its windows; of a march, the message that sets it up.
    pub windows: Vec<Vec<u8>>,
    /// The least and the most millivolts of each voltage that it measures.
    pub voltages: Vec<(u16, u16)>,
    /// The pins whose failing is a no-go at once.
    pub sure: Pins,
    /// After every comparison agreed.
    pub pass: Next,
    /// After one failed.
    pub fail: Next,
    /// After the supply tripped at a step.
    pub trip: Next,
    /// After the supply tripped when it was connected.
    pub trip_at_power_up: Next,
}

/// What a station holds for a part.
#[derive(Clone, Debug, PartialEq)]
pub struct StoredProgram {
    /// The name as people write it, `74LS00`.
    pub name: String,
    /// How many pins the package has.
    pub pins: u8,
    /// How many positions pin 1 lies beyond position 1.
    pub shift: u8,
    /// What it assumes, in a few words.
    pub note: String,
    /// Its phases, in their order.
    pub phases: Vec<StoredPhase>,
}

impl StoredProgram {
    /// The stored form of a check.
    pub(crate) fn of(prepared: &Prepared, capabilities: &Capabilities) -> Result<Self, String> {
        let cut = |header: &Header, steps: &[Step]| {
            let windows = windows(header, steps, capabilities)
                .map_err(|_| "a step needs more memory than the tester has".to_string())?;
            Ok::<_, String>(windows.into_iter().map(|window| window.code.to_vec()).collect())
        };
        let placement = &prepared.placement;
        let (steps, voltages) = prepared.look.expecting();
        let header = unpowered(placement.pins, placement.shift);
        let look = StoredPhase {
            windows: cut(&header, &steps)?,
            header,
            voltages,
            sure: Pins::NONE,
            pass: Next::Phase,
            fail: Next::NotDecided,
            trip: Next::NotDecided,
            trip_at_power_up: Next::NotDecided,
        };
        if prepared.memory.is_some() {
            return Self::marching(prepared, look);
        }
        let weak = judge::weak_programs(prepared);
        let relaxed = SupplyChoice::below_specification(prepared.family)
            .then(|| judge::relaxed_program(prepared));
        let again: Vec<(Header, Vec<Step>)> = weak.into_iter().chain(relaxed).collect();
        let header = prepared.header(false);
        let vectors = StoredPhase {
            windows: cut(&header, &prepared.vectors.steps)?,
            header,
            voltages: Vec::new(),
            sure: if SupplyChoice::below_specification(prepared.family) {
                prepared.inputs()
            } else {
                Pins::NONE
            },
            pass: Next::Go,
            fail: if again.is_empty() { Next::NoGo } else { Next::Phase },
            trip: Next::NoGo,
            trip_at_power_up: Next::NotDecided,
        };
        let mut phases = vec![look, vectors];
        let count = again.len();
        for (nth, (header, steps)) in (1..).zip(again) {
            let fail = if nth == count { Next::NoGo } else { Next::Phase };
            phases.push(StoredPhase {
                windows: cut(&header, &steps)?,
                header,
                voltages: Vec::new(),
                sure: Pins::NONE,
                pass: Next::NotDecided,
                fail,
                trip: fail,
                trip_at_power_up: fail,
            });
        }
        let name = name(prepared)?;
        let note =
            match (prepared.supply.voltage, SupplyChoice::below_specification(prepared.family)) {
                (Voltage::V3_3, true) => "at 3.3 V; weak or slow is not decided",
                (Voltage::V3_3, false) => "at 3.3 V",
                (Voltage::V5, _) if count > 0 => "at 5 V; a weak low is not decided",
                (Voltage::V5, _) => "at 5 V",
            };
        Ok(Self { name, pins: placement.pins, shift: placement.shift, note: note.into(), phases })
    }

    /// The stored form of a memory's check: March C- with all backgrounds, at the times of the
    /// slowest grade.
    fn marching(prepared: &Prepared, look: StoredPhase) -> Result<Self, String> {
        let (header, mut setup) = march_program(prepared, &MemoryWish::default())
            .ok_or("a part that is only read is read by a host only")?;
        // One failing read decides.
        setup.most_failures = 1;
        let request = Request { sequence: 0, ask: Ask::March(setup) };
        let code = postcard::to_allocvec(&request).map_err(|error| error.to_string())?;
        if code.len() > MAX_CODE {
            return Err("its march needs more bytes than a stored one has".into());
        }
        let march = StoredPhase {
            header,
            windows: vec![code],
            voltages: Vec::new(),
            sure: Pins::NONE,
            pass: Next::Go,
            fail: Next::NoGo,
            trip: Next::NoGo,
            trip_at_power_up: Next::NotDecided,
        };
        Ok(Self {
            name: name(prepared)?,
            pins: prepared.placement.pins,
            shift: prepared.placement.shift,
            note: "March C- at 5 V, slowest grade".into(),
            phases: vec![look, march],
        })
    }
}

fn name(prepared: &Prepared) -> Result<String, String> {
    let name = prepared.name.clone();
    if name.len() > NAME_BYTES {
        return Err(format!("its name has more than the {NAME_BYTES} bytes of a stored one"));
    }
    Ok(name)
}
