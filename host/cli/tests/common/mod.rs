//! Runs the program and keeps what it said.

// Each test file uses its own share of this.
#![allow(dead_code)]

use serde_json::Value;
use std::path::PathBuf;

/// What a run left behind.
pub struct Ran {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// The JSON object on standard output.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|error| panic!("{error} in:\n{}\n{}", self.out, self.err))
    }

    /// Standard output and the status, for snapshots.
    pub fn page(&self) -> String {
        format!("{}[status {}]\n{}", self.out, self.status, self.err)
    }
}

/// Runs `dipsift` with these arguments, standard input empty.
pub fn dipsift(args: &[&str]) -> Ran {
    with_input(args, "")
}

/// Runs `dipsift` with these arguments and lines typed.
pub fn with_input(args: &[&str], input: &str) -> Ran {
    let output = command().args(args).write_stdin(input).output().expect("the program runs");
    Ran {
        status: output.status.code().expect("the program ends by itself"),
        out: String::from_utf8(output.stdout).expect("standard output is UTF-8"),
        err: String::from_utf8(output.stderr).expect("standard error is UTF-8"),
    }
}

/// `dipsift`, ready for arguments.
pub fn command() -> assert_cmd::Command {
    assert_cmd::Command::from_std(process())
}

/// `dipsift`, ready for arguments and pipes. Nothing of whoever runs the tests has a say in it.
pub fn process() -> std::process::Command {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_dipsift"));
    command.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
    command.env("XDG_CONFIG_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/no-settings"));
    command
}

/// A folder of files that lives as long as the value.
pub struct Folder(tempfile::TempDir);

impl Folder {
    pub fn new() -> Self {
        Self(tempfile::tempdir().expect("a temporary folder"))
    }

    /// Writes a file and gives its path.
    pub fn file(&self, name: &str, text: &str) -> String {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).expect("a file in the temporary folder");
        text_of(path)
    }

    pub fn path(&self) -> String {
        text_of(self.0.path().to_path_buf())
    }
}

fn text_of(path: PathBuf) -> String {
    path.to_str().expect("the temporary folder's path is UTF-8").to_string()
}
