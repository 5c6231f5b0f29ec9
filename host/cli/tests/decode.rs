//! `decode`, whole.

mod common;

use common::{Ran, dipsift};
use serde_json::json;

fn page(args: &[&str]) -> Ran {
    let ran = dipsift(&[&["decode"], args].concat());
    assert_eq!(ran.status, 0, "{}", ran.err);
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    ran
}

#[test]
fn markings_on_screen() {
    for (name, marking) in [
        ("a_gate", "SN74LS00N 7825"),
        ("a_memory", "HM6264LP-15 8412"),
        ("a_number_of_several_chips", "4027"),
        ("a_date_or_a_number", "7432"),
        ("a_worn_family", "SN54?S138J"),
        ("a_slash_sheet", "JM38510/00104BCA 8412"),
        ("a_temperature_behind_the_dash", "HM1-6514-9"),
        ("not_described", "SN74123N / 8205"),
    ] {
        insta::assert_snapshot!(format!("decode_{name}"), page(&[marking]).page());
    }
}

/// Lines of a package may be given as words of their own, a dash in front included.
#[test]
fn lines_as_words() {
    assert_eq!(page(&["SN74LS00N", "7825"]).out, page(&["SN74LS00N 7825"]).out);
    assert_eq!(page(&["D2716", "-1"]).out, page(&["D2716-1"]).out);
}

#[test]
fn the_object_says_the_same() {
    let object = page(&["2114-2", "8125", "--json"]).json();
    assert_eq!(object["command"], json!("decode"));
    assert_eq!(object["ambiguous"], json!(true));
    let reading = &object["readings"][0];
    assert_eq!(reading["number"], json!("2114"));
    let times: Vec<_> = reading["speeds"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|speed| speed["access_ns"].clone())
        .collect();
    assert_eq!(times, [json!(200), json!(250)]);
    assert_eq!(reading["date_codes"][0]["week"], json!(25));
    assert_eq!(reading["part_name"], json!("2114-2"));
    let object = page(&["HM6264LP-15", "--json"]).json();
    let reading = &object["readings"][0];
    assert_eq!(reading["part_name"], json!(null));
    assert_eq!(reading["part_name_if_confirmed"], json!("6264-15"));
    assert_eq!(reading["trust"], json!("from_memory"));
}

#[test]
fn what_is_no_marking_is_one_clear_error() {
    let ran = dipsift(&["decode", "hello"]);
    assert_eq!(ran.status, 2);
    assert_eq!(ran.err, "dipsift: failed to read the marking: not read: HELLO\n");
    let ran = dipsift(&["decode", " "]);
    assert_eq!(ran.err, "dipsift: failed to read the marking: no characters to read\n");
    let ran = dipsift(&["decode", "hello", "--json"]);
    assert_eq!((ran.status, &ran.json()["status"]), (2, &json!(2)));
}
