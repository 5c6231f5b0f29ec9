//! `check`: verdicts, statuses, and what is said about them.

mod common;

use common::{Folder, dipsift};
use serde_json::json;

fn check(part: &str, more: &[&str]) -> common::Ran {
    dipsift(&[&["check", part, "--tester", "sim"], more].concat())
}

#[test]
fn a_good_chip_on_screen() {
    let ran = check("7400", &[]);
    assert_eq!(ran.status, 0);
    insta::assert_snapshot!(ran.page());
}

#[test]
fn a_bad_chip_on_screen() {
    let ran = check("74LS00", &["--defect", "pin 6 stuck high"]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("2Y (pin 6) stays high"), "{}", ran.out);
    insta::assert_snapshot!(ran.page());
}

#[test]
fn nobody_can_take_a_simulated_verdict_for_a_real_one() {
    for more in [&[][..], &["--defect", "pin 3 stuck low"], &["--defect", "empty"]] {
        assert!(check("7400", more).out.contains("SIMULATED"), "{more:?}");
        let object = check("7400", &[more, &["--json"]].concat()).json();
        assert_eq!(object["simulated"], json!(true), "{more:?}");
        assert_eq!(object["report"]["tester"], json!("simulated"), "{more:?}");
    }
}

#[test]
fn each_outcome_has_its_status() {
    let cases: [(&str, &[&str], i32); 9] = [
        ("7400", &[], 0),
        ("7400", &["--defect", "pin 3 stuck low"], 1),
        ("7400", &["--sim-part", "7402"], 1),
        ("7400", &["--defect", "empty"], 5),
        ("7400", &["--defect", "pin 3 open"], 5),
        ("7400", &["--defect", "pin 3 open", "--seated"], 1),
        ("7400", &["--defect", "supply shorted"], 5),
        ("7400", &["--defect", "supply shorted", "--seated"], 1),
        ("7400", &["--defect", "turned round"], 5),
    ];
    for (part, more, status) in cases {
        let ran = check(part, more);
        assert_eq!(ran.status, status, "{part} {more:?}\n{}", ran.page());
    }
}

#[test]
fn a_part_that_the_library_does_not_have_is_wrong_usage() {
    let ran = check("4999", &[]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    assert!(ran.err.contains("4999"), "{}", ran.err);
    let ran = check("74F90", &[]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    assert!(ran.err.contains("74LS90"), "a family that exists is offered: {}", ran.err);
}

// 2114: Intel 2114A data sheet, pin configuration, from memory.
const MEMORY: &str = "\
part    2114
title   1024 x 4 static RAM
source  Intel 2114A data sheet, from memory
made    NMOS
dip     A6 A5 A4 A3 A0 A1 A2 /CS GND /WE D4 D3 D2 D1 A9 A8 A7 VCC
memory  1024 x 4
  address A9..A0
  data    D4..D1
  read    while CS & ~WE
  write   while CS & WE
";

#[test]
fn a_memory_of_ones_own_is_marched_at_the_slowest_times() {
    let folder = Folder::new();
    folder.file("memory.part", MEMORY);
    let ran = check("2114", &["--parts", &folder.path()]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("times of 1000 ns"), "{}", ran.out);
}

// 4116, 2708 and TMS2716: three supplies, from memory of their makers' data sheets; 1702A has -9 V.
#[test]
fn a_missing_supply_is_named_and_the_chip_is_not_blamed() {
    for (part, missing) in [
        ("4116", "4116 needs VBB -5 V and VDD +12 V, which this socket does not have"),
        ("4027RAM", "4027RAM needs VBB -5 V and VDD +12 V"),
        ("2708", "2708 needs VDD +12 V and VBB -5 V"),
        ("TMS2716", "TMS2716 needs VDD +12 V and VBB -5 V"),
        ("1702A", "1702A needs VGG -9 V and VDD -9 V"),
        ("MK4116N-3", "4116 needs VBB -5 V and VDD +12 V"),
    ] {
        let ran = check(part, &[]);
        assert_eq!(ran.status, 4, "{}", ran.page());
        let words = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("REFUSED"), "{}", ran.out);
        assert!(words.contains(missing), "{}", ran.out);
        assert!(words.contains("this says nothing about the chip"), "{}", ran.out);
    }
}

#[test]
fn a_number_that_chips_share_is_asked_about() {
    for (part, choices) in [
        ("4027", ["4027B", "4027RAM"]),
        ("4016", ["4016B", "4016RAM"]),
        ("4532-15", ["4532B", "4532RAM"]),
    ] {
        for command in ["check", "show"] {
            let more: &[&str] = if command == "check" { &["--tester", "sim"] } else { &[] };
            let ran = dipsift(&[&[command, part], more].concat());
            assert_eq!(ran.status, 4, "{}", ran.page());
            for choice in choices {
                assert!(ran.err.contains(&format!("say {choice} for")), "{}", ran.err);
            }
        }
    }
    assert_eq!(check("4027B", &[]).status, 0);
    let said = check("4016RAM", &[]);
    assert_eq!(said.status, 0, "{}", said.page());
    assert!(said.out.contains("2048 x 8 static RAM"), "{}", said.out);
}

#[test]
fn a_marking_with_one_witness_is_shown_and_not_powered() {
    let ran = check("KM4164", &[]);
    assert_eq!(ran.status, 4, "{}", ran.page());
    assert!(ran.err.contains("two independent sources"), "{}", ran.err);
    assert!(ran.err.contains("say 4164"), "{}", ran.err);
    let ran = dipsift(&["show", "KM4164"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("65536 words of 1 bits"), "{}", ran.out);
    assert!(ran.out.contains("two independent"), "{}", ran.out);
    // Two independent lists have this one.
    let ran = check("HM4864-3", &[]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("-3 is 200 ns"), "{}", ran.out);
    // Without the maker's letters the mark has several meanings.
    let ran = check("4164-3", &[]);
    assert!(ran.out.contains("depends on the maker"), "{}", ran.out);
}

#[test]
fn a_port_that_cannot_be_opened_is_tester_trouble() {
    let ran = dipsift(&["check", "7400", "--tester", "/dev/no-such-port"]);
    assert_eq!(ran.status, 3, "{}", ran.page());
    assert!(ran.err.contains("/dev/no-such-port"), "{}", ran.err);
}

#[test]
fn without_a_single_tester_both_ways_are_told() {
    let listed = dipsift(&["testers", "--json"]).json();
    let answering = listed["ports"]
        .as_array()
        .expect("a list of ports")
        .iter()
        .filter(|port| port["tester"].is_object())
        .count();
    assert_ne!(answering, 1, "this test needs a computer without exactly one tester on it");
    let ran = dipsift(&["check", "7400"]);
    assert_eq!(ran.status, 3, "{}", ran.page());
    assert!(ran.err.contains("--tester PORT"), "{}", ran.err);
    assert!(ran.err.contains("--tester sim"), "{}", ran.err);
}

#[test]
fn the_json_object_has_its_version_and_the_report() {
    let ran = check("7400", &["--defect", "pin 3 stuck low", "--json"]);
    assert_eq!(ran.status, 1);
    let object = ran.json();
    assert_eq!(object["schema"], json!("dipsift/1"));
    assert_eq!(object["command"], json!("check"));
    assert_eq!(object["status"], json!(1));
    assert_eq!(object["report"]["outcome"], json!("no-go"));
    assert_eq!(object["report"]["pins"][0]["pin"], json!(3));
    assert!(object["tester"]["feed_positions"].is_array());
}

#[test]
fn a_bare_number_is_taken_as_said() {
    for (part, words) in [("7400", "standard TTL"), ("4017", "4000")] {
        let ran = check(part, &[]);
        assert!(ran.out.contains(words), "{part}: {}", ran.out);
    }
    assert!(!check("74LS00", &[]).out.contains("standard TTL"));
}

#[test]
fn a_defect_needs_a_simulated_chip() {
    let ran = dipsift(&["check", "7400", "--defect", "empty"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    assert!(ran.err.contains("--tester sim"), "{}", ran.err);
}

#[test]
fn a_phrase_that_is_no_defect_is_one_clear_error() {
    let ran = check("7400", &["--defect", "pin 3 sulks"]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!(ran.page());
    let ran = check("7400", &["--defect", "pin 15 open"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
}

#[test]
fn repeated_checks_find_an_intermittent_contact() {
    let ran = check("74LS00", &["--defect", "pin 3 intermittent", "--repeat", "50"]);
    assert!(ran.status == 1 || ran.status == 5, "{}", ran.page());
    assert!(ran.out.contains("intermittent"), "{}", ran.out);
}
