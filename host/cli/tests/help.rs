//! Every help text, whole.

mod common;

use common::dipsift;

#[test]
fn help_of_every_command() {
    insta::assert_snapshot!("help", dipsift(&["--help"]).page());
    for command in [
        "parts", "show", "decode", "check", "trace", "screen", "selftest", "simulate", "lint",
        "testers", "fixture",
    ] {
        let ran = dipsift(&[command, "--help"]);
        assert_eq!(ran.status, 0, "{command}");
        insta::assert_snapshot!(format!("help_{command}"), ran.page());
    }
}

#[test]
fn help_of_march_and_its_pages() {
    insta::assert_snapshot!("help_march", dipsift(&["march", "--help"]).page());
    for page in ["list", "coverage"] {
        let ran = dipsift(&["march", page, "--help"]);
        assert_eq!(ran.status, 0, "{page}");
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 80, "{page}: {line}");
        }
        insta::assert_snapshot!(format!("help_march_{page}"), ran.page());
    }
}

#[test]
fn help_of_stored_and_what_it_does() {
    insta::assert_snapshot!("help_stored", dipsift(&["stored", "--help"]).page());
    for command in ["list", "arm", "disarm", "compile"] {
        let ran = dipsift(&["stored", command, "--help"]);
        assert_eq!(ran.status, 0, "{command}");
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 80, "{command}: {line}");
        }
        insta::assert_snapshot!(format!("help_stored_{command}"), ran.page());
    }
}

#[test]
fn help_of_settings_and_what_is_generated() {
    for command in [
        &["settings"][..],
        &["settings", "show"],
        &["settings", "template"],
        &["completions"],
        &["manuals"],
    ] {
        let ran = dipsift(&[command, &["--help"]].concat());
        assert_eq!(ran.status, 0, "{command:?}");
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 80, "{command:?}: {line}");
        }
        insta::assert_snapshot!(format!("help_{}", command.join("_")), ran.page());
    }
}

#[test]
fn help_fits_eighty_columns() {
    for command in ["check", "trace", "screen", "selftest", "simulate"] {
        for line in dipsift(&[command, "--help"]).out.lines() {
            assert!(line.chars().count() <= 80, "{command}: {line}");
        }
    }
}

#[test]
fn the_exit_statuses_are_documented_where_they_count() {
    for command in ["check", "trace", "screen", "selftest"] {
        let help = dipsift(&[command, "--help"]).out;
        for status in 0..=5 {
            assert!(
                help.lines().any(|line| line.starts_with(&format!("  {status}  "))),
                "{command} does not tell status {status}"
            );
        }
    }
}
