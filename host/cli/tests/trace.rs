//! `trace`: the CSV both ways.

mod common;

use common::{Folder, dipsift};

fn trace(part: &str, stimulus: &str, more: &[&str]) -> common::Ran {
    let folder = Folder::new();
    let path = folder.file("stimulus.csv", stimulus);
    let ran = dipsift(&[&["trace", part, "--stimulus", &path, "--tester", "sim"], more].concat());
    common::Ran { err: ran.err.replace(&folder.path(), "FOLDER"), ..ran }
}

/// The rows of a CSV as maps from column to value.
fn rows(csv_text: &str) -> Vec<std::collections::HashMap<String, String>> {
    let mut lines = csv_text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    lines
        .map(|line| {
            header.iter().map(ToString::to_string).zip(line.split(',').map(String::from)).collect()
        })
        .collect()
}

#[test]
fn the_columns_are_the_step_and_two_for_every_signal_pin() {
    let ran = trace("7400", "1A,1B\n0,0\n", &[]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    let header = ran.out.lines().next().expect("a header");
    let expected: Vec<String> = std::iter::once("step".to_string())
        .chain(
            [1, 2, 3, 4, 5, 6, 8, 9, 10, 11, 12, 13]
                .into_iter()
                .flat_map(|pin| [format!("seen_{pin}"), format!("expected_{pin}")]),
        )
        .collect();
    assert_eq!(header, expected.join(","));
}

// 7400: TI SDLS025, function table: Y is low only with both inputs high.
#[test]
fn a_nand_gate_by_its_function_table() {
    let ran = trace("7400", "1A,2\n0,0\n0,1\n1,0\n1,1\n", &[]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    let rows = rows(&ran.out);
    assert_eq!(rows.len(), 4);
    for (row, output) in rows.iter().zip(["H", "H", "H", "L"]) {
        assert_eq!(row["seen_3"], output);
        assert_eq!(row["expected_3"], output);
    }
    assert_eq!(rows[3]["step"], "3");
}

// 74LS245: TI SDLS146, function table: with the enable high both sides are isolated.
#[test]
fn high_impedance_is_seen() {
    let ran = trace("74LS245", "/G,DIR\n1,1\n", &[]);
    let columns = rows(&ran.out);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert_eq!(columns[0]["seen_18"], "Z");
    assert_eq!(columns[0]["expected_18"], "Z");
}

#[test]
fn a_row_that_drives_an_enabled_output_is_refused() {
    // Enabled from A to B, with B1 (pin 18) driven too.
    let ran = trace("74LS245", "/G,DIR,A1,18\n0,1,0,1\n", &[]);
    assert_eq!(ran.status, 4, "{}", ran.page());
    assert_eq!(ran.out, "");
}

#[test]
fn a_broken_chip_shows_in_the_seen_column_only() {
    let ran = trace("7400", "1A,1B\n0,0\n", &["--defect", "pin 3 stuck low"]);
    assert_eq!(ran.status, 1, "{}", ran.page());
    let rows = rows(&ran.out);
    assert_eq!(rows[0]["seen_3"], "L");
    assert_eq!(rows[0]["expected_3"], "H");
}

#[test]
fn an_empty_socket_is_not_decided() {
    let ran = trace("7400", "1A,1B\n0,0\n", &["--defect", "empty"]);
    assert_eq!(ran.status, 5, "{}", ran.page());
}

#[test]
fn every_error_of_a_stimulus_is_told_at_once() {
    let ran = trace("7400", "1A,1Q,3\n", &[]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!("bad_header", ran.err);
    let ran = trace("7400", "1A,1B\n0,2\n1\nH,Z\n", &[]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!("bad_rows", ran.err);
}

#[test]
fn an_unreadable_stimulus_is_named() {
    let ran = dipsift(&["trace", "7400", "--stimulus", "/no/such.csv", "--tester", "sim"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("/no/such.csv"), "{}", ran.err);
}
