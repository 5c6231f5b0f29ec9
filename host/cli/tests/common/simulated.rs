//! A simulated tester in another process.

use super::process;
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdout, Stdio};

/// A simulated tester in a process of its own, stopped when the value goes away.
pub struct Simulated {
    child: Child,
    said: BufReader<ChildStdout>,
    /// Its port.
    pub port: String,
}

impl Simulated {
    /// Starts one with these arguments.
    pub fn start(args: &[&str]) -> Self {
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
    pub fn type_line(&mut self, line: &str) -> String {
        let input = self.child.stdin.as_mut().expect("standard input is piped");
        writeln!(input, "{line}").expect("a line typed");
        let mut answer = String::new();
        self.said.read_line(&mut answer).expect("an answer");
        answer.trim_end().to_string()
    }
}

impl Drop for Simulated {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The next line that has these words.
pub fn line_with(lines: &mut impl BufRead, words: &str) -> String {
    let mut line = String::new();
    while !line.contains(words) {
        line.clear();
        assert_ne!(lines.read_line(&mut line).expect("a line"), 0, "ended before {words:?}");
    }
    line
}
