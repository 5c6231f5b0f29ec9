//! What is tried on a part: families, and defects at seeded pins.

use dipsift_bench::Prepared;
use dipsift_language::{Class, Family, Part, Role};
use dipsift_simulator::Defect;

/// The first family of each class that a part was made in.
pub fn families(part: &Part) -> Vec<Family> {
    let mut seen: Vec<Class> = Vec::new();
    part.made
        .iter()
        .copied()
        .filter(|family| {
            let new = !seen.contains(&family.class());
            seen.push(family.class());
            new
        })
        .collect()
}

/// A seeded choice of one of several pins.
pub fn one_of(pins: &[u8], turn: usize) -> Option<u8> {
    (!pins.is_empty()).then(|| pins[(turn * 7 + 3) % pins.len()])
}

/// The pin numbers whose pin has a role that is wanted.
pub fn pins(prepared: &Prepared, wanted: &dyn Fn(Role) -> bool) -> Vec<u8> {
    (1..=prepared.package.pins.len() as u8)
        .filter(|&number| {
            let id = prepared.package.at(number);
            id.is_some_and(|id| wanted(prepared.part.pin(id).role))
        })
        .collect()
}

/// The defects to try on a part: every kind at least once, pins by turn.
pub fn defects(prepared: &Prepared, turn: usize) -> Vec<Defect> {
    let inputs = pins(prepared, &|role| role == Role::Input);
    let outputs = pins(prepared, &|role| matches!(role, Role::Output | Role::Bidirectional));
    let mut all = vec![
        Defect::SupplyShorted,
        Defect::SupplyOpen,
        Defect::TurnedRound,
        Defect::Shifted { by: 1 },
        Defect::Empty,
    ];
    let input = one_of(&inputs, turn);
    let output = one_of(&outputs, turn);
    for pin in input.into_iter().chain(output) {
        all.push(Defect::Stuck { pin, high: turn.is_multiple_of(2) });
        all.push(Defect::Stuck { pin, high: !turn.is_multiple_of(2) });
        all.push(Defect::Open { pin });
        all.push(Defect::Leaky { pin, ohms: 1_000 });
    }
    if let Some(pin) = output {
        all.push(Defect::Weak { pin, ohms: 20_000 });
        all.push(Defect::Weak { pin, ohms: 100 });
        all.push(Defect::Slow { pin, factor: 1_000 });
        all.push(Defect::Slow { pin, factor: 3 });
    }
    let last = prepared.package.pins.len() as u8;
    for nth in 0..2 {
        let pin = 1 + ((turn * 5 + nth * 3) as u8) % (last - 1);
        all.push(Defect::Shorted { pin, other: pin + 1 });
    }
    all
}
