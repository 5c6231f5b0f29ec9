//! Each kind of defect on each part gets the verdict that a rule derives.

use dipsift_bench::memory::MemoryWish;
use dipsift_bench::{Outcome, Prepared};
use dipsift_language::{Family, Part, Role};
use dipsift_simulator::Defect;
use dipsift_tests::cases::{defects, families, one_of, pins};
use dipsift_tests::desk::{Desk, library};
use dipsift_tests::rules::{Verdict, verdict};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

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
        Defect::Memory(_) => "memory",
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

    /// Prints what was tried and fails where a verdict was wrong.
    fn assert_right(&self) {
        for escape in &self.escaped {
            println!("escape: {escape}");
        }
        for (kind, (tried, escaped)) in &self.by_kind {
            println!("{kind:>16}: {tried:4} tried, {escaped:4} escaped");
        }
        println!("{} (part, defect) pairs tried, {} escaped", self.tried, self.escaped.len());
        assert!(self.wrong.is_empty(), "{} wrong:\n{}", self.wrong.len(), self.wrong.join("\n"));
    }
}

/// A part in one of its families, and a desk of its own to check it at.
struct Case {
    turn: usize,
    part: Arc<Part>,
    family: Family,
    prepared: Arc<Prepared>,
    desk: Desk,
}

impl Case {
    fn new(turn: usize, part: &Arc<Part>, family: Family) -> Self {
        let mut desk = Desk::new(turn as u64);
        let prepared = desk.bench.prepare(part, family).unwrap_or_else(|refused| {
            panic!("{} {}: {}", part.number, family.word(), refused.sentences.join("; "))
        });
        Self { turn, part: Arc::clone(part), family, prepared, desk }
    }

    /// Whether this is the family that stands first in the part's description.
    fn first(&self) -> bool {
        self.part.made.first() == Some(&self.family)
    }

    fn outcome(&mut self, defect: &Defect, seed: u64, seated: bool) -> Outcome {
        self.desk
            .play(&self.prepared, std::slice::from_ref(defect), seed, seated)
            .unwrap_or_else(|error| panic!("{}: {defect}: {error}", self.prepared.name))
            .outcome
    }

    /// Judges a chip with the defect and notes the verdict.
    fn try_defect(&mut self, found: &mut Found, defect: &Defect, seed: u64) {
        let outcome = self.outcome(defect, seed, false);
        found.note(&self.prepared, defect, outcome);
    }
}

/// Runs over all (part, family) cases on two threads.
fn over_the_library(each: impl Fn(&mut Case, &mut Found) + Sync) -> Found {
    let cases: Vec<(usize, &Arc<Part>, Family)> = library()
        .iter()
        .filter(|part| part.memory.is_none())
        .flat_map(|part| families(part).into_iter().map(move |family| (part, family)))
        .enumerate()
        .map(|(turn, (part, family))| (turn, part, family))
        .collect();
    let next = AtomicUsize::new(0);
    let work = || {
        let mut found = Found::default();
        while let Some(&(turn, part, family)) = cases.get(next.fetch_add(1, Ordering::Relaxed)) {
            each(&mut Case::new(turn, part, family), &mut found);
        }
        found
    };
    std::thread::scope(|scope| {
        let other = scope.spawn(work);
        let mut all = work();
        all.merge(other.join().expect("the other half"));
        all
    })
}

/// How many of the pairs below escape: weak and slow outputs within the limits, leaks that the
/// levels survive, shorts to pins that are connected to nothing. Each is printed with its
/// computed figure.
const ESCAPES: usize = 293;

#[test]
fn each_defect_on_each_part_gets_the_verdict_of_its_rule() {
    let found = over_the_library(|case, found| {
        // Every kind of defect in the first family, a third of them in the others.
        for (index, defect) in defects(&case.prepared, case.turn).iter().enumerate() {
            if case.first() || (index + case.turn).is_multiple_of(3) {
                case.try_defect(found, defect, index as u64);
            }
        }
    });
    found.assert_right();
    assert!(found.tried > 1_500, "only {} pairs", found.tried);
    assert_eq!(found.escaped.len(), ESCAPES, "the number of escapes has changed");
}

#[test]
fn what_a_seated_chip_shows_is_its_own() {
    let found = over_the_library(|case, found| {
        if !case.first() {
            return;
        }
        let inputs = pins(&case.prepared, &|role| role == Role::Input);
        let pin = one_of(&inputs, case.turn).expect("a part has an input");
        for (defect, right) in [
            (Defect::Open { pin }, Outcome::NoGo),
            (Defect::SupplyOpen, Outcome::NoGo),
            (Defect::SupplyShorted, Outcome::NoGo),
            (Defect::Empty, Outcome::NotDecided),
        ] {
            let outcome = case.outcome(&defect, case.turn as u64, true);
            found.tried += 1;
            if outcome != right {
                found.wrong.push(format!("{} {defect}: {outcome:?}", case.prepared.name));
            }
        }
    });
    found.assert_right();
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
    let found = over_the_library(|case, found| {
        let others: Vec<_> = library()
            .iter()
            .filter(|other| {
                other.number != case.part.number
                    && other.memory.is_none()
                    && other.made.contains(&case.family)
                    && !SAME.contains(&(case.part.number.as_str(), other.number.as_str()))
            })
            .collect();
        for nth in 0..3.min(others.len()) {
            let other = &others[(case.turn * 11 + nth * 17) % others.len()];
            case.try_defect(found, &Defect::Part(other.number.clone()), case.turn as u64);
        }
    });
    found.assert_right();
}

#[test]
fn an_intermittent_pin_is_found_by_repeated_checks() {
    let found = over_the_library(|case, found| {
        if !case.first() {
            return;
        }
        let signals = pins(&case.prepared, &|role| !matches!(role, Role::Supply | Role::Ground));
        let pin = one_of(&signals, case.turn).expect("a part has a signal");
        let defect = Defect::Intermittent { pin };
        let chip =
            dipsift_simulator::Chip::new(Arc::clone(&case.part), case.family, case.turn as u64)
                .expect("a chip")
                .at_shift(case.prepared.placement.shift);
        case.desk.station().insert(chip, std::slice::from_ref(&defect)).expect("inserted");
        let run = case.desk.bench.check_repeated(
            &case.prepared,
            &MemoryWish::bulk(),
            false,
            8,
            &mut |_| ControlFlow::Continue(()),
        );
        found.note(&case.prepared, &defect, run.report.outcome);
    });
    found.assert_right();
}
