//! Intervals and zero-acceptance plans against published figures and another implementation.
//!
//! Sources:
//! - NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1 (confidence intervals for a
//!   proportion): 4 defectives of 20, 90 %: 0.071354 to 0.401029, the last digit there rounded up.
//! - SciPy 1.x, documentation of `BinomTestResult.proportion_ci`: 7 of 50, 95 %.
//! - R package GenBinomApps, documentation of `clopper.pearson.ci`: 5 of 100 000, one-sided 95 %.
//! - A. Birolini, Reliability Engineering, 2007, figure 7.4: producer's risks of three plans.
//! - Everything marked "SciPy": computed once with `scipy.stats.beta.ppf`, `hypergeom.cdf` and
//!   `binom.cdf`, which share no code with this crate.

use dipsift_plan::{
    Bag, PlanError, Share, Tally, acceptance, bad_at_most_after_none, yield_at_least,
    yield_interval, zero_acceptance,
};

fn percent(percent: f64) -> Share {
    Share::percent(percent).unwrap()
}

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!((got - expected).abs() <= tolerance, "{got} instead of {expected}");
}

#[test]
fn clopper_pearson_intervals() {
    // found, tested, confidence in per cent, lower, upper, tolerance
    let table = [
        (4, 20, 90.0, 0.071_354, 0.401_029, 1.5e-6),   // NIST
        (7, 50, 95.0, 0.058_191_7, 0.267_396_0, 6e-8), // SciPy's documentation
        (4, 20, 95.0, 0.057_333_997_05, 0.436_614_002_997, 1e-11), // SciPy, as are the next
        (1, 3, 95.0, 0.008_403_758_659_61, 0.905_700_675_95, 1e-11),
        (499, 500, 99.0, 0.985_234_928_61, 0.999_989_974_967, 1e-11),
        (250_000, 1_000_000, 95.0, 0.249_151_535_686, 0.250_849_912_597, 1e-9),
        (999_999, 1_000_000, 95.0, 0.999_994_428_369, 0.999_999_974_682, 1e-11),
        (0, 10, 95.0, 0.0, 0.308_497_107_819, 1e-11),
        (0, 100, 95.0, 0.0, 0.036_216_692_645_2, 1e-11),
        (100, 100, 95.0, 1.0 - 0.036_216_692_645_2, 1.0, 1e-11), // the same seen from the other end
    ];
    for (found, tested, confidence, lower, upper, tolerance) in table {
        let interval = yield_interval(Tally::new(found, tested).unwrap(), percent(confidence));
        close(interval.lower, lower, tolerance);
        close(interval.upper, upper, tolerance);
    }
}

#[test]
fn one_sided_bounds() {
    // GenBinomApps: 5 of 100 000 bad, so 99 995 good.
    let good = Tally::new(99_995, 100_000).unwrap();
    close(yield_at_least(good, percent(95.0)), 1.0 - 0.000_105_127_5, 1e-10);
    assert_eq!(yield_at_least(Tally::new(0, 7).unwrap(), percent(95.0)), 0.0);
}

#[test]
fn the_interval_covers_what_it_says() {
    // By its definition (Clopper and Pearson, 1934): whatever the true share, the counts whose
    // interval contains it have together at least the stated probability. Binomial weights by
    // Pascal's rule, without the functions under test.
    let tested = 25_u64;
    for thousandths in (10..1000).step_by(35) {
        let share = f64::from(thousandths) / 1000.0;
        let mut weights = vec![1.0_f64];
        for _ in 0..tested {
            let mut next = vec![0.0; weights.len() + 1];
            for (found, weight) in weights.iter().enumerate() {
                next[found] += weight * (1.0 - share);
                next[found + 1] += weight * share;
            }
            weights = next;
        }
        let covered: f64 = (0..=tested)
            .filter(|&found| {
                let interval = yield_interval(Tally::new(found, tested).unwrap(), percent(90.0));
                (interval.lower..=interval.upper).contains(&share)
            })
            .map(|found| weights[found as usize])
            .sum();
        assert!(covered >= 0.9, "{share} is covered with {covered} only");
    }
}

#[test]
fn zero_acceptance_from_an_endless_supply() {
    // Success-run formula n = ln(1-C)/ln(1-p), rounded up (common practice).
    let table = [
        (1.0, 95.0, 299),
        (5.0, 95.0, 59),
        (10.0, 95.0, 29),
        (10.0, 90.0, 22),
        (5.0, 90.0, 45),
        (20.0, 90.0, 11),
        // Exactly two: 0.5 squared is 0.25. A rounding error must not make it three.
        (50.0, 75.0, 2),
    ];
    for (bad, confidence, sample) in table {
        assert_eq!(
            zero_acceptance(percent(bad), percent(confidence)),
            sample,
            "{bad} {confidence}"
        );
    }
}

#[test]
fn rule_of_three() {
    // J. A. Hanley and A. Lippman-Hand, "If nothing goes wrong, is everything all right?",
    // JAMA 249, 1983: 3/n is close to the 95 % bound from n = 30 on.
    for tested in [30, 100, 1000, 100_000] {
        let bound = bad_at_most_after_none(tested, percent(95.0));
        let three = 3.0 / tested as f64;
        assert!(bound < three && bound > 0.94 * three, "{tested}: {bound}");
    }
    assert_eq!(bad_at_most_after_none(0, percent(95.0)), 1.0);
}

#[test]
fn zero_acceptance_from_a_bag() {
    // The smallest n with C(N-D, n) / C(N, n) <= 5 %; SciPy. In the first line the probability
    // equals the risk exactly: 1 of 20.
    let table = [
        (20, [(2.5, 1, 19), (5.0, 1, 19), (10.0, 2, 16), (20.0, 4, 10)]),
        (50, [(2.5, 2, 39), (5.0, 3, 31), (10.0, 5, 22), (20.0, 10, 12)]),
        (100, [(2.5, 3, 63), (5.0, 5, 45), (10.0, 10, 25), (20.0, 20, 13)]),
        (500, [(2.5, 13, 102), (5.0, 25, 56), (10.0, 50, 28), (20.0, 100, 14)]),
        (1200, [(2.5, 30, 113), (5.0, 60, 57), (10.0, 120, 29), (20.0, 240, 14)]),
    ];
    for (chips, cells) in table {
        let bag = Bag::new(chips).unwrap();
        for (share, bad, sample) in cells {
            assert_eq!(bag.bad_chips(percent(share)), bad, "{chips} {share} %");
            assert_eq!(bag.zero_acceptance(bad, percent(5.0)), Ok(sample), "{chips} {share} %");
        }
    }
}

#[test]
fn operating_characteristics() {
    // SciPy; Birolini's producer's risks of the same plans at the limit: 0.11, 0.09, 0.03, of
    // which the last is read off a chart.
    for (sample, accept, expected) in
        [(20, 0, 0.877_722_899_1), (80, 1, 0.904_157_875_5), (500, 7, 0.982_097_787_5)]
    {
        close(acceptance(sample, accept, percent(0.65)).unwrap(), expected, 1e-10);
    }
    assert_eq!(acceptance(5, 5, percent(1.0)), Ok(1.0));
    // chips, bad, sample, accept; SciPy.
    for (chips, bad, sample, accept, expected) in [
        (100, 10, 20, 0, 0.095_116_272_430_8),
        (100, 10, 20, 2, 0.681_220_063_818),
        (1200, 60, 57, 0, 0.049_983_723_527_4),
        (5000, 100, 200, 7, 0.954_232_051_788),
        (50, 50, 3, 3, 1.0),
        (20, 15, 10, 5, 0.016_253_869_969),
        (20, 15, 10, 4, 0.0),
    ] {
        let got = Bag::new(chips).unwrap().acceptance(bad, sample, accept).unwrap();
        close(got, expected, 1e-9);
    }
}

#[test]
fn how_many_of_a_bag_are_bad() {
    // chips, sample, found, confidence, least, most, most one-sided; SciPy by exhaustion.
    for (chips, sample, found, confidence, least, most, one_sided) in [
        (100, 20, 0, 95.0, 0, 15, 12),
        (100, 20, 2, 95.0, 2, 29, 26),
        (50, 10, 1, 90.0, 1, 18, 15),
        (1000, 100, 5, 95.0, 18, 109, 99),
        // Everything tested: nothing is left to guess.
        (20, 20, 3, 95.0, 3, 3, 3),
        (500, 499, 0, 95.0, 0, 0, 0),
    ] {
        let bag = Bag::new(chips).unwrap();
        let count = bag.bad_count(found, sample, percent(confidence)).unwrap();
        assert_eq!((count.least, count.most), (least, most), "{chips} {sample} {found}");
        assert_eq!(bag.bad_at_most(found, sample, percent(confidence)), Ok(one_sided));
    }
}

#[test]
fn impossible_questions_are_refused() {
    for fraction in [0.0, 1.0, -0.1, f64::INFINITY] {
        assert_eq!(Share::new(fraction), Err(PlanError::Share(fraction)));
    }
    assert!(Share::new(f64::NAN).is_err());
    assert_eq!(Tally::new(0, 0), Err(PlanError::Tally { found: 0, tested: 0 }));
    assert_eq!(Tally::new(3, 2), Err(PlanError::Tally { found: 3, tested: 2 }));
    assert!(Bag::new(0).is_err());
    let bag = Bag::new(10).unwrap();
    assert_eq!(bag.zero_acceptance(11, percent(5.0)), Err(PlanError::Bag { part: 11, bag: 10 }));
    assert_eq!(bag.bad_at_most(0, 11, percent(5.0)), Err(PlanError::Bag { part: 11, bag: 10 }));
    assert!(acceptance(0, 0, percent(5.0)).is_err());
}
