//! Each kind of defect on each part gets the verdict that a rule derives.

use dipsift_bench::{Outcome, Prepared};
use dipsift_language::{Class, Family, Part, Role};
use dipsift_simulator::Defect;
use dipsift_tests::desk::{Desk, library};
use dipsift_tests::rules::{Verdict, verdict};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The first family of each class that a part was made in.
fn families(part: &Part) -> Vec<Family> {
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
fn one_of(pins: &[u8], turn: usize) -> Option<u8> {
    (!pins.is_empty()).then(|| pins[(turn * 7 + 3) % pins.len()])
}

fn pins(prepared: &Prepared, wanted: &dyn Fn(Role) -> bool) -> Vec<u8> {
    (1..=prepared.package.pins.len() as u8)
        .filter(|&number| {
            let id = prepared.package.at(number);
            id.is_some_and(|id| wanted(prepared.part.pin(id).role))
        })
        .collect()
}

/// The defects to try on a part: every kind at least once, pins by turn.
fn defects(prepared: &Prepared, turn: usize) -> Vec<Defect> {
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

/// One line about a check: part, family, defect, verdicts.
fn line(prepared: &Prepared, defect: &Defect, rule: &Verdict, outcome: Outcome) -> String {
    let right: Vec<_> = rule.right.iter().map(|outcome| outcome.words()).collect();
    format!(
        "{} {defect}: {}, should be {} ({})",
        prepared.name,
        outcome.words(),
        right.join(" or "),
        rule.why
    )
}

/// What a run over the library found.
#[derive(Default)]
struct Found {
    tried: u32,
    wrong: Vec<String>,
    escaped: Vec<String>,
    by_kind: BTreeMap<&'static str, (u32, u32)>,
}

fn kind(defect: &Defect) -> &'static str {
    match defect {
        Defect::Stuck { .. } => "stuck",
        Defect::Open { .. } => "open",
        Defect::Shorted { .. } => "shorted",
        Defect::SupplyShorted => "supply shorted",
        Defect::SupplyOpen => "supply open",
        Defect::Weak { .. } => "weak",
        Defect::Slow { .. } => "slow",
        Defect::Leaky { .. } => "leaky",
        Defect::Intermittent { .. } => "intermittent",
        Defect::Part(_) => "another part",
        Defect::Family(_) => "another family",
        Defect::TurnedRound => "turned round",
        Defect::Shifted { .. } => "shifted",
        Defect::Empty => "empty",
    }
}

impl Found {
    fn note(&mut self, prepared: &Prepared, defect: &Defect, outcome: Outcome) {
        let rule = verdict(prepared, defect);
        self.tried += 1;
        let counts = self.by_kind.entry(kind(defect)).or_default();
        counts.0 += 1;
        if !rule.right.contains(&outcome) {
            self.wrong.push(line(prepared, defect, &rule, outcome));
        } else if outcome == Outcome::Go {
            counts.1 += 1;
            self.escaped.push(format!("{} {defect}: {}", prepared.name, rule.why));
        }
    }

    fn merge(&mut self, other: Self) {
        self.tried += other.tried;
        self.wrong.extend(other.wrong);
        self.escaped.extend(other.escaped);
        for (kind, (tried, escaped)) in other.by_kind {
            let counts = self.by_kind.entry(kind).or_default();
            counts.0 += tried;
            counts.1 += escaped;
        }
    }

    fn print(&self) {
        for escape in &self.escaped {
            println!("escape: {escape}");
        }
        for (kind, (tried, escaped)) in &self.by_kind {
            println!("{kind:>16}: {tried:4} tried, {escaped:4} escaped");
        }
        println!("{} (part, defect) pairs tried, {} escaped", self.tried, self.escaped.len());
    }
}

/// Runs over all (part, family) cases on two threads.
fn over_the_library(each: impl Fn(usize, &Arc<Part>, Family) -> Found + Sync) -> Found {
    let cases: Vec<(usize, Arc<Part>, Family)> = library()
        .iter()
        .filter(|part| part.memory.is_none())
        .flat_map(|part| families(part).into_iter().map(move |family| (part, family)))
        .enumerate()
        .map(|(turn, (part, family))| (turn, Arc::clone(part), family))
        .collect();
    let mut all = Found::default();
    let half = cases.len().div_ceil(2);
    let each = &each;
    std::thread::scope(|scope| {
        let handles: Vec<_> = cases
            .chunks(half)
            .map(|chunk| {
                scope.spawn(move || {
                    let mut found = Found::default();
                    for (turn, part, family) in chunk {
                        found.merge(each(*turn, part, *family));
                    }
                    found
                })
            })
            .collect();
        for handle in handles {
            all.merge(handle.join().expect("a thread of the table"));
        }
    });
    all
}

fn try_defect(
    desk: &mut Desk,
    part: &Arc<Part>,
    family: Family,
    defect: &Defect,
    seed: u64,
) -> Outcome {
    desk.check(part, family, std::slice::from_ref(defect), seed, false)
        .unwrap_or_else(|error| panic!("{} {}: {defect}: {error}", part.number, family.word()))
        .outcome
}

/// How many of the pairs below escape: weak and slow outputs within the limits, leaks that the
/// levels survive, shorts to pins that are connected to nothing. Each is printed with its
/// computed figure.
const ESCAPES: usize = 296;

#[test]
fn each_defect_on_each_part_gets_the_verdict_of_its_rule() {
    let found = over_the_library(|turn, part, family| {
        let mut desk = Desk::new(turn as u64);
        let mut found = Found::default();
        let prepared = desk.bench.prepare(part, family).unwrap_or_else(|refused| {
            panic!("{} {}: {}", part.number, family.word(), refused.sentences.join("; "))
        });
        // Every kind of defect in the first family, a third of them in the others.
        let first = part.made.first() == Some(&family);
        let some = defects(&prepared, turn);
        let some =
            some.iter().enumerate().filter(|(index, _)| first || (index + turn).is_multiple_of(3));
        for (index, defect) in some {
            let outcome = try_defect(&mut desk, part, family, defect, index as u64);
            found.note(&prepared, defect, outcome);
        }
        found
    });
    found.print();
    assert!(found.wrong.is_empty(), "{} wrong:\n{}", found.wrong.len(), found.wrong.join("\n"));
    assert!(found.tried > 1_500, "only {} pairs", found.tried);
    assert_eq!(found.escaped.len(), ESCAPES, "the number of escapes has changed");
}

#[test]
fn what_a_seated_chip_shows_is_its_own() {
    let found = over_the_library(|turn, part, family| {
        let mut desk = Desk::new(turn as u64);
        let mut found = Found::default();
        let prepared = desk.bench.prepare(part, family).expect("prepared");
        if part.made.first() != Some(&family) {
            return found;
        }
        let inputs = pins(&prepared, &|role| role == Role::Input);
        let pin = one_of(&inputs, turn).expect("a part has an input");
        for (defect, right) in [
            (Defect::Open { pin }, Outcome::NoGo),
            (Defect::SupplyOpen, Outcome::NoGo),
            (Defect::SupplyShorted, Outcome::NoGo),
            (Defect::Empty, Outcome::NotDecided),
        ] {
            let report = desk
                .check(part, family, std::slice::from_ref(&defect), turn as u64, true)
                .expect("checked");
            found.tried += 1;
            if report.outcome != right {
                found.wrong.push(format!("{} {defect}: {:?}", prepared.name, report.outcome));
            }
        }
        found
    });
    assert!(found.wrong.is_empty(), "{} wrong:\n{}", found.wrong.len(), found.wrong.join("\n"));
}

/// Parts that pass as another, since they do what the other's data sheet says: the same gate
/// with hysteresis or with an open collector that the tester's keeper pulls up.
const SAME: [(&str, &str); 8] = [
    ("7404", "7414"),
    ("7414", "7404"),
    ("7404", "7406"),
    ("7406", "7404"),
    ("7406", "7414"),
    ("7414", "7406"),
    ("7403", "7400"),
    ("7400", "7403"),
];

#[test]
fn another_part_is_never_go() {
    let found = over_the_library(|turn, part, family| {
        let mut desk = Desk::new(turn as u64);
        let mut found = Found::default();
        let prepared = desk.bench.prepare(part, family).expect("prepared");
        let others: Vec<_> = library()
            .iter()
            .filter(|other| {
                other.number != part.number
                    && other.memory.is_none()
                    && other.made.contains(&family)
                    && !SAME.contains(&(part.number.as_str(), other.number.as_str()))
            })
            .collect();
        for nth in 0..3.min(others.len()) {
            let other = &others[(turn * 11 + nth * 17) % others.len()];
            let defect = Defect::Part(other.number.clone());
            let outcome = try_defect(&mut desk, part, family, &defect, turn as u64);
            found.note(&prepared, &defect, outcome);
        }
        found
    });
    found.print();
    assert!(found.wrong.is_empty(), "{} wrong:\n{}", found.wrong.len(), found.wrong.join("\n"));
}

#[test]
fn another_family_gets_the_verdict_of_its_figures() {
    let found = over_the_library(|turn, part, family| {
        let mut desk = Desk::new(turn as u64);
        let mut found = Found::default();
        let prepared = desk.bench.prepare(part, family).expect("prepared");
        let others = part.made.iter().filter(|real| **real != family);
        for &real in others.skip(turn % 2).step_by(2) {
            let defect = Defect::Family(real);
            if verdict(&prepared, &defect).right.contains(&Outcome::Go)
                && verdict(&prepared, &defect).right.contains(&Outcome::NoGo)
            {
                // Its levels are undefined here: any verdict is right, so none is worth a check.
                continue;
            }
            let outcome = try_defect(&mut desk, part, family, &defect, turn as u64);
            found.note(&prepared, &defect, outcome);
        }
        found
    });
    found.print();
    assert!(found.wrong.is_empty(), "{} wrong:\n{}", found.wrong.len(), found.wrong.join("\n"));
}

#[test]
fn an_intermittent_pin_is_found_by_repeated_checks() {
    let found = over_the_library(|turn, part, family| {
        let mut desk = Desk::new(turn as u64);
        let mut found = Found::default();
        let prepared = desk.bench.prepare(part, family).expect("prepared");
        if part.made.first() != Some(&family) {
            return found;
        }
        let signals = pins(&prepared, &|role| !matches!(role, Role::Supply | Role::Ground));
        let pin = one_of(&signals, turn).expect("a part has a signal");
        let defect = Defect::Intermittent { pin };
        let chip = dipsift_simulator::Chip::new(Arc::clone(part), family, turn as u64)
            .expect("a chip")
            .at_shift(prepared.placement.shift);
        desk.station().insert(chip, std::slice::from_ref(&defect)).expect("inserted");
        let report = desk.bench.check_repeated(&prepared, false, 8, &mut |_| {});
        found.note(&prepared, &defect, report.outcome);
        found
    });
    assert!(found.wrong.is_empty(), "{} wrong:\n{}", found.wrong.len(), found.wrong.join("\n"));
}
