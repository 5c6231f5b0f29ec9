//! The settings file: what it sets, what wins over it, and what is said of a bad one.

mod common;

use common::{Folder, command, dipsift};
use serde_json::{Value, json};

fn with(file: &str, args: &[&str]) -> common::Ran {
    dipsift(&[args, &["--settings", file]].concat())
}

/// The value and the origin of a setting.
fn held(shown: &Value, key: &str) -> (Value, String) {
    let settings = shown["settings"].as_array().expect("a list of settings");
    let found = settings.iter().find(|held| held["key"] == json!(key)).expect(key);
    (found["value"].clone(), found["from"].as_str().expect("an origin").to_string())
}

#[test]
fn the_tester_of_the_file_is_used_unless_another_is_named() {
    let folder = Folder::new();
    let sim = folder.file("sim.toml", "tester = 'sim'");
    assert_eq!(with(&sim, &["check", "7400"]).status, 0);
    assert_eq!(with(&sim, &["stored", "list"]).status, 0);
    assert_eq!(with(&sim, &["selftest"]).status, 0);
    let gone = folder.file("gone.toml", "tester = '/dev/no-such-port'");
    let ran = with(&gone, &["check", "7400"]);
    assert_eq!(ran.status, 3, "{}", ran.page());
    assert!(ran.err.contains("/dev/no-such-port"), "{}", ran.err);
    assert_eq!(with(&gone, &["check", "7400", "--tester", "sim"]).status, 0);
    // A batch is played on a simulated tester, whatever the bench has; unless it is asked for.
    assert_eq!(with(&gone, &["screen", "--demo"]).status, 0);
    let ran = with(&gone, &["screen", "--demo", "--tester", "/dev/no-such-port"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
}

#[test]
fn ledger_and_parts_lie_where_the_file_lies() {
    let folder = Folder::new();
    std::fs::create_dir(format!("{}/mine", folder.path())).expect("a folder");
    folder.file(
        "mine/own.part",
        "part 7999\ntitle gate of one's own\nsource invented\nmade LS\n\
         dip A B Y C D E GND F G H I J K VCC\nY = A & B & C & D & E & F & G & H & I & J & K\n",
    );
    let file = folder.file("s.toml", "ledger = 'shelf.sqlite'\nparts = ['mine']");
    let ran = with(&file, &["lot", "begin", "cabinet 3"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(std::path::Path::new(&format!("{}/shelf.sqlite", folder.path())).exists());
    let other = format!("{}/other.sqlite", folder.path());
    let ran = with(&file, &["lot", "begin", "cabinet 4", "--ledger", &other]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    let lots = with(&file, &["lot", "list", "--json"]).out;
    assert!(lots.contains("cabinet 3") && !lots.contains("cabinet 4"), "{lots}");
    assert!(with(&file, &["parts"]).out.contains("gate of one's own"));
    // Typed folders stand in place of those of the file.
    let empty = Folder::new();
    let typed = with(&file, &["parts", "--parts", &empty.path()]);
    assert!(!typed.out.contains("gate of one's own"), "{}", typed.out);
}

#[test]
fn colour_of_the_file_gives_way_to_the_option() {
    let folder = Folder::new();
    let file = folder.file("s.toml", "color = 'always'");
    assert!(with(&file, &["march", "coverage", "mats"]).out.contains('\u{1b}'));
    let never = with(&file, &["march", "coverage", "mats", "--color", "never"]);
    assert!(!never.out.contains('\u{1b}'));
    let auto = with(&file, &["--color", "auto", "march", "coverage", "mats"]);
    assert!(!auto.out.contains('\u{1b}'), "an option that says the default is an option");
}

#[test]
fn the_sheet_of_the_file_is_that_of_labels() {
    let folder = Folder::new();
    // Too low for one more row: the option's own error shows that the rest came from the file.
    let file = folder.file("s.toml", "[labels]\nrows = 2\npitch_y_mm = 140\n");
    let shown = with(&file, &["settings", "show", "--json"]).json();
    assert_eq!(held(&shown, "labels.rows"), (json!(2), "file".into()));
    assert_eq!(held(&shown, "labels.columns"), (json!(3), "default".into()));
    let labels = ["labels", "cabinet 3", "--out", "/dev/null", "--ledger", "/dev/no-such-ledger"];
    let ran = with(&file, &[&labels[..], &["--rows", "3"]].concat());
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("the labels reach to"), "{}", ran.err);
    let ran = with(&file, &labels);
    assert!(ran.err.contains("no ledger is at"), "{}", ran.err);
}

#[test]
fn the_file_in_the_configuration_folder_is_found() {
    let folder = Folder::new();
    std::fs::create_dir(format!("{}/dipsift", folder.path())).expect("a folder");
    let run = |args: &[&str]| {
        let output = command()
            .env("XDG_CONFIG_HOME", folder.path())
            .args(args)
            .output()
            .expect("the program runs");
        (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let (_, before) = run(&["settings", "show"]);
    assert!(before.contains("does not exist"), "{before}");
    let file = folder.file("dipsift/settings.toml", "tester = 'sim'\n[screen]\nbell = true\n");
    assert_eq!(run(&["check", "7400"]).0, Some(0));
    let (status, shown) = run(&["settings", "show", "--color", "never", "--json"]);
    assert_eq!(status, Some(0));
    let shown: Value = serde_json::from_str(&shown).expect("an object");
    assert_eq!((&shown["file"], &shown["read"]), (&json!(file), &json!(true)));
    assert_eq!(held(&shown, "tester"), (json!("sim"), "file".into()));
    assert_eq!(held(&shown, "screen.bell"), (json!(true), "file".into()));
    assert_eq!(held(&shown, "color"), (json!("never"), "option".into()));
    assert_eq!(held(&shown, "parts"), (json!([]), "default".into()));
}

#[test]
fn a_bad_file_is_one_clear_error_and_nothing_is_done() {
    let folder = Folder::new();
    let ledger = format!("{}/l.sqlite", folder.path());
    let file = folder.file("s.toml", "color = 'auto'\ncolour = 'never'\n");
    let ran = with(&file, &["lot", "begin", "cabinet 3", "--ledger", &ledger]);
    assert_eq!(ran.status, 2);
    assert_eq!(ran.out, "");
    insta::assert_snapshot!(ran.err.replace(&file, "FILE"));
    assert!(!std::path::Path::new(&ledger).exists());
    let object = with(&file, &["parts", "--json"]).json();
    assert_eq!((&object["command"], &object["status"]), (&json!("parts"), &json!(2)));
    assert!(object["error"].as_str().is_some_and(|error| error.contains("line 2")), "{object}");
    let missing = with("/no/such.toml", &["parts"]);
    assert_eq!(missing.status, 2);
    assert!(missing.err.contains("failed to read the settings /no/such.toml"), "{}", missing.err);
    // What mends it, and what a shell runs at its start, still work.
    assert_eq!(with(&file, &["settings", "template"]).status, 0);
    assert_eq!(with(&file, &["completions", "bash"]).status, 0);
    assert_eq!(with(&file, &["settings", "show"]).status, 2);
}

#[test]
fn the_template_is_a_file_to_begin_with() {
    let printed = dipsift(&["settings", "template"]);
    insta::assert_snapshot!("template", printed.page());
    let folder = Folder::new();
    let file = folder.file("s.toml", &printed.out);
    let defaults = dipsift(&["settings", "show", "--json"]).json();
    let shown = with(&file, &["settings", "show", "--json"]).json();
    for entry in defaults["settings"].as_array().expect("a list") {
        let key = entry["key"].as_str().expect("a key");
        assert_eq!(held(&shown, key).0, entry["value"], "{key}");
    }
    let object = dipsift(&["settings", "template", "--json"]).json();
    assert_eq!(object["template"], json!(printed.out));
}

#[test]
fn show_tells_each_setting() {
    let folder = Folder::new();
    let file = folder.file("s.toml", "tester = 'sim'\nledger = '/shelf/l.sqlite'\n");
    let ran = with(&file, &["settings", "show", "--parts", "/dev"]);
    insta::assert_snapshot!("show", ran.page().replace(&file, "FILE"));
}
