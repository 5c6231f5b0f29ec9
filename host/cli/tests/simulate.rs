//! `simulate`: a simulated tester that another process uses as a port.

mod common;

use common::simulated::{Simulated, line_with};
use common::{dipsift, process};
use std::io::BufReader;
use std::process::Stdio;

fn check(simulated: &Simulated, part: &str) -> i32 {
    dipsift(&["check", part, "--tester", &simulated.port]).status
}

#[test]
fn another_process_checks_the_chip_in_it() {
    let simulated = Simulated::start(&["--sim-part", "74LS00", "--defect", "pin 3 stuck low"]);
    assert_eq!(check(&simulated, "74LS00"), 1);
    let ran = dipsift(&["check", "74LS00", "--tester", &simulated.port]);
    assert!(ran.out.contains("SIMULATED"), "{}", ran.out);
}

#[test]
fn chips_come_and_go_by_typed_lines() {
    let mut simulated = Simulated::start(&[]);
    assert_eq!(check(&simulated, "7404"), 5, "empty at the start");
    simulated.type_line("insert 7404");
    assert_eq!(check(&simulated, "7404"), 0);
    simulated.type_line("insert 7404, pin 2 stuck high");
    assert_eq!(check(&simulated, "7404"), 1);
    simulated.type_line("remove");
    assert_eq!(check(&simulated, "7404"), 5);
    let answer = simulated.type_line("frobnicate");
    assert!(answer.contains("insert PART"), "{answer}");
}

#[test]
fn the_socket_can_be_tested_when_empty_and_not_when_full() {
    assert_eq!(dipsift(&["selftest", "--tester", "sim"]).status, 0);
    let full = dipsift(&["selftest", "--tester", "sim", "--sim-part", "7400"]);
    assert_eq!(full.status, 3, "{}", full.page());
}

#[test]
fn the_hands_free_loop_sees_chips_come_and_go() {
    let mut simulated = Simulated::start(&[]);
    let mut screen = process()
        .args(["screen", "7404", "--tester", &simulated.port])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut said = BufReader::new(screen.stdout.take().expect("standard output is piped"));
    let mut asked = BufReader::new(screen.stderr.take().expect("standard error is piped"));
    line_with(&mut asked, "insert chip 1");
    simulated.type_line("insert 7404");
    assert!(line_with(&mut said, "   1 7404").contains(" go "));
    line_with(&mut asked, "take it out");
    simulated.type_line("remove");
    line_with(&mut asked, "insert chip 2");
    simulated.type_line("insert 7404, pin 2 stuck high");
    assert!(line_with(&mut said, "   2 7404").contains(" no-go "));
    // The input ends, so this was the last chip.
    drop(screen.stdin.take());
    line_with(&mut said, "2 chips");
    assert_eq!(screen.wait().expect("it ends").code(), Some(0));
}
