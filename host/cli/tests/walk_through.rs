//! The commands of README.md, as they stand there: each block marked `console` has commands behind
//! `$ `, and what they print with `...` for what is left out.

mod common;

use common::{Folder, process};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

const README: &str = include_str!("../../../README.md");

/// A command, and the lines that it is said to print.
struct Step<'a> {
    command: &'a str,
    shown: Vec<&'a str>,
}

fn steps() -> Vec<Step<'static>> {
    let mut steps: Vec<Step<'static>> = Vec::new();
    let mut inside = false;
    for line in README.lines() {
        match (inside, line.strip_prefix("$ ")) {
            (_, _) if line.starts_with("```") => inside = line == "```console",
            (true, Some(command)) => steps.push(Step { command, shown: Vec::new() }),
            (true, None) => steps.last_mut().expect("a command first").shown.push(line),
            (false, _) => {}
        }
    }
    steps
}

/// The words of a command line, quoted ones whole.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (index, piece) in line.split('"').enumerate() {
        if index % 2 == 1 {
            words.push(piece.to_string());
        } else {
            words.extend(piece.split_whitespace().map(str::to_string));
        }
    }
    words
}

/// Demands that the printed lines are the shown ones, in order, with anything where `...` stands.
fn compare(step: &Step<'_>, printed: &str) {
    let mut lines = printed.lines().peekable();
    let mut gap = false;
    for shown in &step.shown {
        if *shown == "..." {
            gap = true;
            continue;
        }
        let found = if gap {
            lines.by_ref().any(|line| line == *shown)
        } else {
            lines.next() == Some(shown)
        };
        assert!(found, "{}: no line {shown:?} there in:\n{printed}", step.command);
        gap = false;
    }
    assert!(gap || lines.peek().is_none(), "{}: more is printed:\n{printed}", step.command);
}

#[test]
fn every_command_of_the_readme_does_what_stands_there() {
    let folder = Folder::new();
    let here = folder.path();
    let repository =
        fs::canonicalize(Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")).expect("");
    // The commands name a file as it is called from the repository's folder.
    symlink(repository.join("host"), Path::new(&here).join("host")).expect("a link");
    let steps = steps();
    assert!(steps.len() >= 14, "{} commands", steps.len());
    for step in &steps {
        let words = words(step.command);
        assert_eq!(words[0], "dipsift", "{}", step.command);
        let output = process()
            .current_dir(&here)
            .env("HOME", &here)
            .env("XDG_DATA_HOME", &here)
            .args(&words[1..])
            .output()
            .expect("the program runs");
        let errors = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{}: {errors}", step.command);
        compare(step, &String::from_utf8(output.stdout).expect("UTF-8"));
    }
    // What came of it.
    let file = |name: &str| fs::read_to_string(Path::new(&here).join(name)).expect(name);
    assert!(file("bag-7.html").contains("bag 7"));
    assert!(file("labels.svg").contains("74LS00"));
    assert_eq!(file("evening.csv").lines().filter(|line| line.contains("MM2114N")).count(), 5);
    let at = |name: &str| dipsift_ledger::Ledger::open(&Path::new(&here).join(name)).expect(name);
    let selection = dipsift_ledger::Selection::lot("bag 7");
    let first = at("evening.sqlite").report(&selection).expect("a report");
    assert_eq!(first.chips().total(), 37, "38, one of them undone");
    assert_eq!(
        at("second-bench.sqlite").report(&selection).expect("a report").chips(),
        first.chips()
    );
    assert_eq!(
        at("evening-copy.sqlite").report(&selection).expect("a report").chips(),
        first.chips()
    );
}

/// The picture at the top is what the demonstration prints.
#[test]
fn the_picture_of_the_demonstration_is_what_it_prints() {
    let picture = include_str!("../demo/screen.svg");
    let picture = roxmltree::Document::parse(picture).expect("SVG");
    let printed = common::dipsift(&["screen", "--demo"]).out;
    let mut lines = printed.lines();
    let mut shown = 0;
    let texts = picture.descendants().filter(|node| node.has_tag_name("text"));
    for text in texts {
        let text: String =
            text.descendants().filter_map(|node| node.text().filter(|_| node.is_text())).collect();
        let text = text.trim_end();
        if text.is_empty() || text.starts_with("$ ") || text.trim() == "…" {
            continue;
        }
        assert!(lines.any(|line| line.trim_end() == text), "{text:?} is not printed there");
        shown += 1;
    }
    assert!(shown > 30, "{shown} lines");
}
