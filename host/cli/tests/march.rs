//! `march list` and `march coverage`, whole.

mod common;

use common::{Ran, dipsift};
use serde_json::json;

fn page(args: &[&str]) -> Ran {
    let ran = dipsift(args);
    assert_eq!(ran.status, 0, "{}", ran.err);
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    ran
}

#[test]
fn the_list_on_screen() {
    insta::assert_snapshot!("march_list", page(&["march", "list"]).page());
}

#[test]
fn the_coverage_of_a_test_in_print() {
    insta::assert_snapshot!("march_coverage_c-", page(&["march", "coverage", "c-"]).page());
}

#[test]
fn the_coverage_of_a_test_of_ones_own() {
    let ran = page(&["march", "coverage", "{⇕(w0); Del; ⇕(r0,w1); pause(2s); ⇕(r1)}"]);
    insta::assert_snapshot!("march_coverage_own", ran.page());
}

#[test]
fn a_name_may_be_written_as_in_print() {
    let ran = page(&["march", "coverage", "March", "C-"]);
    assert_eq!(ran.out, page(&["march", "coverage", "c-"]).out);
}

/// Hamdioui, van de Goor and Rodgers, MTDT 2002: March SS has 22n and finds every WDF; MATS+, of
/// 5n, misses one of two TF (the comparison in `StdMemCheck.h` of PsiControl).
#[test]
fn the_objects_say_the_same() {
    let object = dipsift(&["march", "coverage", "ss", "--json"]).json();
    assert_eq!(object["command"], json!("march"));
    assert_eq!(object["length"]["operations_per_address"], json!(22));
    let class = |object: &serde_json::Value, name: &str| {
        let classes = object["classes"].as_array().expect("a list");
        classes.iter().find(|class| class["class"] == json!(name)).expect("the class").clone()
    };
    let wdf = class(&object, "WDF");
    assert_eq!((&wdf["detected"], &wdf["missed"]), (&json!(2), &json!([])));
    let object = dipsift(&["march", "coverage", "mats+", "--json"]).json();
    assert_eq!(class(&object, "TF")["missed"], json!(["<1w0/1/->"]));
    let list = dipsift(&["march", "list", "--json"]).json();
    let tests = list["marches"].as_array().expect("a list");
    let found = tests.iter().find(|test| test["key"] == json!("mats+")).expect("MATS+");
    assert_eq!(found["notation"], object["notation"]);
}

#[test]
fn a_bad_test_is_one_clear_error() {
    let ran = dipsift(&["march", "coverage", "any(w0); upp(r0,w1); down(r0,r9)"]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!("march_bad_notation", ran.page());
    let ran = dipsift(&["march", "coverage", "any(w1", "--json"]);
    assert_eq!((ran.status, &ran.json()["status"]), (2, &json!(2)));
    assert!(ran.json()["error"].as_str().expect("a text").contains("expected `)`"));
}

#[test]
fn an_unknown_name_is_one_clear_error_with_a_suggestion() {
    let ran = dipsift(&["march", "coverage", "pmovie"]);
    assert_eq!(ran.status, 2);
    assert_eq!(ran.err, "dipsift: no march test is called \"pmovie\": did you mean `pmovi`?\n");
    let ran = dipsift(&["march", "coverage", "galloping"]);
    assert_eq!(
        ran.err,
        "dipsift: no march test is called \"galloping\": `dipsift march list` names them\n"
    );
}
