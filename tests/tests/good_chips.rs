//! Every good chip of every part and family is go, and nothing is driven against it.

use dipsift_bench::{Outcome, Reason};
use dipsift_language::Family;
use dipsift_tests::desk::{Desk, library};

/// The carry input of the 74S181 is five loads of 2 mA (TI SDLS136, from memory). Behind 270 Ω
/// and beside the firm keeper that its open-collector output needs, its low comes to 1.4 V, above
/// the threshold of 1.35 V: a good chip cannot be told from one that takes no low.
const WEAK_LOW: (&str, Family) = ("74181", Family::S);

#[test]
fn every_good_chip_is_go_without_contention() {
    let library = library();
    let mut wrong = Vec::new();
    let mut checked = 0;
    for part in library.iter().filter(|part| part.memory.is_none()) {
        for &family in &part.made {
            for seed in 0..3 {
                let mut desk = Desk::new(seed);
                let before = desk.counters();
                let report = match desk.check(part, family, &[], 100 + seed, false) {
                    Ok(report) => report,
                    Err(refusal) => {
                        wrong.push(format!("{} {}: {refusal}", part.number, family.word()));
                        break;
                    }
                };
                let after = desk.counters();
                checked += 1;
                let fights = after.contention_events - before.contention_events;
                let doubtful = after.doubtful_samples - before.doubtful_samples;
                let expected = if (part.number.as_str(), family) == WEAK_LOW {
                    (Outcome::NotDecided, Reason::WeakLow)
                } else {
                    (Outcome::Go, Reason::Functional)
                };
                if (report.outcome, report.reason) != expected || fights > 0 || doubtful > 0 {
                    wrong.push(format!(
                        "{} {} seed {seed}: {} {:?}, {fights} fights up to {} µA, {doubtful} doubtful: {} {}",
                        part.number,
                        family.word(),
                        report.outcome.words(),
                        report.reason,
                        after.contention_peak_ua,
                        report.sentences.join("; "),
                        report.pins.iter().map(|pin| pin.sentence.as_str()).collect::<Vec<_>>().join("; "),
                    ));
                }
            }
        }
    }
    println!("{checked} good chips checked");
    assert!(wrong.is_empty(), "{} of {checked}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(checked > 500, "only {checked} chips");
}
