//! Every part in every family that it was made in, with each of its other families in the socket
//! instead: the verdict is the one that the figures of both families give.

use dipsift_bench::Outcome;
use dipsift_language::{Class, Family, Part};
use dipsift_simulator::Defect;
use dipsift_tests::desk::{Desk, library};
use dipsift_tests::families::other_family;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// One pair's result.
struct Tried {
    kind: &'static str,
    line: String,
    outcome: Outcome,
    right: Vec<Outcome>,
}

const fn kind(marked: Class, real: Class) -> &'static str {
    match (marked, real) {
        (Class::Ttl, Class::Ttl) => "TTL as TTL",
        (Class::Ttl, Class::TtlLevelMos) => "TTL-level MOS as TTL",
        (Class::Ttl, Class::Cmos) => "CMOS as TTL",
        (Class::TtlLevelMos, Class::Ttl) => "TTL as TTL-level MOS",
        (Class::TtlLevelMos, Class::TtlLevelMos) => "TTL-level MOS as itself",
        (Class::TtlLevelMos, Class::Cmos) => "CMOS as TTL-level MOS",
        (Class::Cmos, Class::Ttl) => "TTL as CMOS",
        (Class::Cmos, Class::TtlLevelMos) => "TTL-level MOS as CMOS",
        (Class::Cmos, Class::Cmos) => "CMOS as CMOS",
    }
}

fn pairs_of(part: &Arc<Part>, marked: Family, seed: u64) -> Vec<Tried> {
    let mut desk = Desk::new(seed);
    let prepared = desk.bench.prepare(part, marked).unwrap_or_else(|refused| {
        panic!("{} {}: {}", part.number, marked.word(), refused.sentences.join("; "))
    });
    let others = part.made.iter().copied().filter(|real| *real != marked);
    others
        .map(|real| {
            let defects = [Defect::Family(real)];
            let report = desk.play(&prepared, &defects, seed, false).expect("checked");
            let rule = other_family(&prepared, real);
            Tried {
                kind: kind(marked.class(), real.class()),
                line: format!(
                    "{} family {}: {} ({})",
                    prepared.name,
                    real.word(),
                    report.outcome.words(),
                    rule.why
                ),
                outcome: report.outcome,
                right: rule.right,
            }
        })
        .collect()
}

fn all_pairs() -> Vec<Tried> {
    let cases: Vec<(&Arc<Part>, Family)> = library()
        .iter()
        .filter(|part| part.memory.is_none())
        .flat_map(|part| part.made.iter().map(move |&family| (part, family)))
        .collect();
    let next = AtomicUsize::new(0);
    let work = || {
        let mut tried = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(&(part, marked)) = cases.get(at) else { return tried };
            tried.extend(pairs_of(part, marked, at as u64));
        }
    };
    std::thread::scope(|scope| {
        let other = scope.spawn(work);
        let mut tried = work();
        tried.extend(other.join().expect("the other half"));
        tried
    })
}

/// How many pairs are go although the family is another: it does the same within the levels and
/// the time of this tester.
const ESCAPES: usize = 1_888;

#[test]
fn another_family_gets_the_verdict_of_its_figures() {
    let tried = all_pairs();
    let mut counts: BTreeMap<&str, [usize; 4]> = BTreeMap::new();
    for pair in &tried {
        let [all, escaped, open, luck] = counts.entry(pair.kind).or_default();
        *all += 1;
        *escaped += usize::from(pair.outcome == Outcome::Go);
        *open += usize::from(pair.right.len() > 1);
        *luck += usize::from(pair.right.len() > 1 && pair.outcome == Outcome::Go);
        if pair.outcome == Outcome::Go {
            println!("escape: {}", pair.line);
        }
    }
    for (kind, [all, escaped, open, luck]) in &counts {
        println!(
            "{kind:>24}: {all:4} tried, {escaped:4} escaped; {open:4} with a level between \
             thresholds, {luck} of them escaped"
        );
    }
    let escaped = tried.iter().filter(|pair| pair.outcome == Outcome::Go).count();
    println!("{} (part, family) pairs tried, {escaped} escaped", tried.len());
    let wrong: Vec<_> = tried
        .iter()
        .filter(|pair| !pair.right.contains(&pair.outcome))
        .map(|pair| &*pair.line)
        .collect();
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert!(tried.len() > 3_000, "only {} pairs", tried.len());
    assert_eq!(escaped, ESCAPES, "the number of escapes has changed");
}
