//! Colour, width, and readers that go away.

mod common;

use common::{command, dipsift, process};
use std::io::Read;
use std::process::Stdio;

const ESCAPE: char = '\u{1b}';

#[test]
fn colour_comes_only_when_asked_for() {
    let bad = ["check", "7400", "--tester", "sim", "--defect", "pin 3 stuck low"];
    assert!(!dipsift(&bad).out.contains(ESCAPE), "a pipe is no terminal");
    let always = dipsift(&[&bad[..], &["--color", "always"]].concat());
    assert!(always.out.contains(ESCAPE));
    let never = dipsift(&[&bad[..], &["--color", "never"]].concat());
    assert!(!never.out.contains(ESCAPE));
}

#[test]
fn colour_adds_nothing_but_colour() {
    let bad = ["check", "7400", "--tester", "sim", "--defect", "pin 3 stuck low"];
    let always = dipsift(&[&bad[..], &["--color", "always"]].concat()).out;
    let mut plain = String::new();
    let mut characters = always.chars();
    while let Some(character) = characters.next() {
        if character == ESCAPE {
            // A style ends with the letter m.
            characters.by_ref().take_while(|&c| c != 'm').for_each(drop);
        } else {
            plain.push(character);
        }
    }
    assert_eq!(plain, dipsift(&bad).out);
}

#[test]
fn no_color_wins_over_a_forced_colour_setting_of_the_terminal() {
    let output = command()
        .args(["parts"])
        .env("NO_COLOR", "1")
        .env("CLICOLOR_FORCE", "1")
        .output()
        .expect("the program runs");
    assert!(!String::from_utf8_lossy(&output.stdout).contains(ESCAPE));
}

#[test]
fn a_reader_that_goes_away_ends_the_program_quietly() {
    for args in [&["parts"][..], &["parts", "--json"], &["screen", "--demo"]] {
        let mut child = process()
            .args(args)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        // The reader goes away before the first line.
        drop(child.stdout.take());
        let mut said = String::new();
        let mut errors = child.stderr.take().expect("standard error is piped");
        errors.read_to_string(&mut said).expect("standard error is UTF-8");
        let status = child.wait().expect("the program ends");
        assert_eq!(said, "", "{args:?}");
        assert_eq!(status.code(), Some(0), "{args:?}");
    }
}

#[test]
fn everything_fits_eighty_columns() {
    for args in [
        &["parts"][..],
        &["show", "74181"],
        &["show", "4017"],
        &["check", "74245", "--tester", "sim", "--defect", "pin 2 leaky"],
        &["selftest", "--tester", "sim"],
        &["screen", "--demo"],
    ] {
        for line in dipsift(args).out.lines() {
            assert!(line.chars().count() <= 80, "{args:?}: {line}");
        }
    }
}
