//! `simulate`: a simulated tester that another process uses as a port.

mod common;

use common::{dipsift, process};
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, Stdio};

/// A simulated tester in a process of its own, stopped when the value goes away.
struct Simulated {
    child: Child,
    said: BufReader<std::process::ChildStdout>,
    port: String,
}

impl Simulated {
    fn start(args: &[&str]) -> Self {
        let mut child = process()
            .arg("simulate")
            .args(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut said = BufReader::new(child.stdout.take().expect("standard output is piped"));
        let port = line_with(&mut said, "/dev/")
            .split_whitespace()
            .find(|word| word.starts_with("/dev/"))
            .map(String::from);
        // The last line of the introduction; what follows answers typed lines.
        line_with(&mut said, "stop");
        Self { child, said, port: port.expect("a port") }
    }

    /// Types a line and gives what is said to it.
    fn type_line(&mut self, line: &str) -> String {
        let input = self.child.stdin.as_mut().expect("standard input is piped");
        writeln!(input, "{line}").expect("a line typed");
        let mut answer = String::new();
        self.said.read_line(&mut answer).expect("an answer");
        answer
    }

    fn check(&self, part: &str) -> i32 {
        dipsift(&["check", part, "--tester", &self.port]).status
    }
}

impl Drop for Simulated {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The next line that has these words.
fn line_with(lines: &mut impl BufRead, words: &str) -> String {
    let mut line = String::new();
    while !line.contains(words) {
        line.clear();
        assert_ne!(lines.read_line(&mut line).expect("a line"), 0, "ended before {words:?}");
    }
    line
}

#[test]
fn another_process_checks_the_chip_in_it() {
    let simulated = Simulated::start(&["--sim-part", "74LS00", "--defect", "pin 3 stuck low"]);
    assert_eq!(simulated.check("74LS00"), 1);
    let ran = dipsift(&["check", "74LS00", "--tester", &simulated.port]);
    assert!(ran.out.contains("SIMULATED"), "{}", ran.out);
}

#[test]
fn chips_come_and_go_by_typed_lines() {
    let mut simulated = Simulated::start(&[]);
    assert_eq!(simulated.check("7404"), 5, "empty at the start");
    simulated.type_line("insert 7404");
    assert_eq!(simulated.check("7404"), 0);
    simulated.type_line("insert 7404, pin 2 stuck high");
    assert_eq!(simulated.check("7404"), 1);
    simulated.type_line("remove");
    assert_eq!(simulated.check("7404"), 5);
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
