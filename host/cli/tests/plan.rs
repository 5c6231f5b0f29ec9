//! `plan`. The arithmetic is checked in `host/plan`; here, that the right figures are asked for.

mod common;

use common::dipsift;
use serde_json::json;

#[test]
fn a_plan_on_screen() {
    for (name, args) in [
        ("plan_100", &["plan", "--size", "100"][..]),
        (
            "plan_after",
            &["plan", "--size", "500", "--bad", "10", "--tested", "50", "--found-bad", "7"],
        ),
        // Nothing smaller than the bag says so.
        ("plan_few", &["plan", "--size", "4"]),
        ("plan_help", &["plan", "--help"]),
    ] {
        let ran = dipsift(args);
        assert_eq!(ran.status, 0, "{}", ran.page());
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        insta::assert_snapshot!(name, ran.page());
    }
}

/// No bad one of 5 among n of 100: C(95, n) / C(100, n) is 0.0507 for 44 and 0.0462 for 45, and
/// ln 0.05 / ln 0.95 is 58.4. MIL-STD-105E, tables I and II-A, which ISO 2859-1 has taken over: a
/// lot of 100 at level II is letter F, and from there at 1.0 the arrow leads up to 13 on no bad
/// one.
#[test]
fn the_figures_are_those_of_the_tables() {
    let object = dipsift(&["plan", "--size", "100", "--json"]).json();
    assert_eq!(
        object["zero_acceptance"],
        json!({ "bad_percent": 5.0, "bad_chips": 5, "test": 45 })
    );
    assert_eq!(object["zero_acceptance_endless_supply"], json!(59));
    let standard = &object["iso_2859_1"];
    assert_eq!(
        (&standard["letter"], &standard["sample"], &standard["accept"], &standard["reject"]),
        (&json!("F"), &json!(13), &json!(0), &json!(1))
    );
    // SciPy, documentation of `BinomTestResult.proportion_ci`: 7 of 50 at 95 %.
    let after = ["plan", "--size", "500", "--tested", "50", "--found-bad", "7", "--json"];
    let shown = &dipsift(&after).json()["shown"];
    let close = |got: &serde_json::Value, expected: f64| {
        assert!((got.as_f64().expect("a number") - expected).abs() < 1e-6, "{got}");
    };
    close(&shown["yield"]["lower"], 1.0 - 0.267_396_0);
    close(&shown["yield"]["upper"], 1.0 - 0.058_191_7);
}

#[test]
fn questions_without_an_answer_are_said_to_be() {
    for (args, words) in [
        (&["plan", "--size", "10", "--tested", "20", "--found-bad", "1"][..], "bag of 10"),
        (&["plan", "--size", "10", "--tested", "5", "--found-bad", "6"], "6 of 5"),
        (&["plan", "--size", "10", "--bad", "0"], "more than 0"),
        (&["plan", "--size", "10", "--confidence", "100"], "--confidence 100"),
        (&["plan", "--size", "10", "--aql", "3"], "acceptance quality limit"),
        (&["plan", "--size", "10", "--tested", "5"], "--found-bad"),
        (&["plan", "--size", "0"], "--size"),
    ] {
        let ran = dipsift(args);
        assert_eq!((ran.status, ran.err.contains(words)), (2, true), "{args:?}: {}", ran.page());
    }
}
