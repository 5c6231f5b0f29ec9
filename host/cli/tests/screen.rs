//! `screen`: the demonstration, batch files, and the loop at the bench.

mod common;

use common::{Folder, dipsift, process, with_input};
use serde_json::json;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

#[test]
fn the_demonstration_on_screen() {
    let ran = dipsift(&["screen", "--demo"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    insta::assert_snapshot!(ran.page());
}

#[test]
fn the_demonstration_as_json() {
    let ran = dipsift(&["screen", "--demo", "--json"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let object = ran.json();
    assert_eq!(object["schema"], json!("dipsift/1"));
    assert_eq!(object["simulated"], json!(true));
    assert_eq!(object["completed"], json!(true));
    let chips = object["chips"].as_array().expect("a list of chips");
    assert_eq!(chips.len(), 61);
    let all = &object["tally"]["all"];
    let total: u64 = ["go", "no_go", "not_decided", "refused", "trouble"]
        .iter()
        .map(|key| all[key].as_u64().expect("a count"))
        .sum();
    assert_eq!(total, 61, "every chip is counted once");
    assert_eq!(all["trouble"], json!(0));
    assert_eq!(all["refused"], json!(2), "two 4116");
}

/// What is wrong with a chip of the demonstration decides its outcome; the rule is written from
/// the defect, not from what the simulator did.
#[test]
fn the_demonstration_judges_each_chip_as_its_defect_deserves() {
    let object = dipsift(&["screen", "--demo", "--json"]).json();
    let text = include_str!("../demo/workshop.toml");
    let batch: toml::Table = text.parse().expect("the demonstration is TOML");
    let mut chips = object["chips"].as_array().expect("a list of chips").iter();
    for entry in batch["chip"].as_array().expect("chips") {
        let count = entry.get("count").and_then(toml::Value::as_integer).unwrap_or(1);
        for _ in 0..count {
            let chip = chips.next().expect("a result for each chip");
            assert_eq!(chip["marking"].as_str(), entry["marking"].as_str());
            let outcome = chip["report"]["outcome"].as_str().expect("an outcome");
            let expected = deserved(entry);
            assert!(
                expected.contains(&outcome),
                "{entry:?}: {outcome}, not {expected:?}: {chip:#}"
            );
        }
    }
    assert!(chips.next().is_none());
}

fn deserved(entry: &toml::Value) -> &'static [&'static str] {
    let marking = entry["marking"].as_str().unwrap_or("");
    let defect = entry
        .get("defects")
        .and_then(|defects| defects.get(0))
        .and_then(toml::Value::as_str)
        .unwrap_or("");
    if marking == "4116" {
        return &["refused"];
    }
    if entry.get("holds").is_some() {
        return &["no-go"];
    }
    let cmos_4000 = marking.starts_with("40");
    match defect {
        "" => &["go"],
        // At 5 V an HC input needs 3.5 V for a high (TI SN74HC04 data sheet, 0.7 of the supply,
        // from memory) and the bench drives 3.3 V: whatever it shows, it is no go.
        "family HC" => &["no-go", "not-decided"],
        "empty" | "turned round" | "shifted by 1" | "supply shorted" => &["not-decided"],
        "supply open" => &["not-decided", "no-go"],
        _ if defect.ends_with("open") => &["not-decided"],
        // One check may or may not meet the moment.
        _ if defect.ends_with("intermittent") => &["go", "no-go", "not-decided"],
        _ if cmos_4000 && (defect.contains("weak") || defect.contains("slow")) => &["not-decided"],
        _ => &["no-go"],
    }
}

fn batch(text: &str) -> common::Ran {
    let folder = Folder::new();
    let path = folder.file("evening.toml", text);
    let ran = dipsift(&["screen", "--batch", &path]);
    common::Ran { err: ran.err.replace(&folder.path(), "FOLDER"), ..ran }
}

#[test]
fn a_batch_of_ones_own() {
    let ran = batch(
        "title = 'two'\n[[chip]]\nmarking = '7404'\n[[chip]]\nmarking = '7404'\n\
         defects = ['pin 2 stuck low']\nnote = 'hot'\n",
    );
    assert_eq!(ran.status, 0, "{}", ran.page());
    insta::assert_snapshot!(ran.page());
}

#[test]
fn a_bad_batch_file_is_one_clear_error_and_nothing_is_played() {
    let cases = [
        ("not_toml", "title = \n"),
        ("unknown_key", "title = 'a'\n[[chip]]\nmarking = '7400'\ndefekt = 'x'\n"),
        ("no_chip", "title = 'a'\n"),
        ("bad_phrase", "title = 'a'\n[[chip]]\nmarking = '7400'\ndefects = ['pin 3 sulks']\n"),
        ("bad_pin", "title = 'a'\n[[chip]]\nmarking = '7400'\ndefects = ['pin 15 open']\n"),
        ("unknown_content", "title = 'a'\n[[chip]]\nmarking = '7400'\nholds = '7499999'\n"),
    ];
    for (name, text) in cases {
        let ran = batch(text);
        assert_eq!(ran.status, 2, "{name}: {}", ran.page());
        assert_eq!(ran.out, "", "{name}");
        insta::assert_snapshot!(format!("bad_batch_{name}"), ran.err);
    }
    let ran = dipsift(&["screen", "--batch", "/no/such/file.toml"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("/no/such/file.toml"), "{}", ran.err);
}

#[test]
fn a_batch_is_not_played_on_a_real_port() {
    let ran = dipsift(&["screen", "--demo", "--tester", "/dev/ttyS9"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    let ran = dipsift(&["screen", "--demo", "--defect", "empty"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    let ran = dipsift(&["screen", "7400", "--demo"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
}

#[test]
fn the_loop_checks_the_chip_in_the_socket_and_ends_with_the_input() {
    let ran = dipsift(&["screen", "7400", "--tester", "sim"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    insta::assert_snapshot!(ran.page());
}

#[test]
fn a_mixed_batch_asks_for_the_marking() {
    let ran =
        with_input(&["screen", "--tester", "sim", "--sim-part", "74LS138", "--json"], "74LS138\n");
    assert_eq!(ran.status, 0, "{}", ran.page());
    let object = ran.json();
    assert_eq!(object["chips"][0]["marking"], json!("74LS138"));
    assert_eq!(object["chips"][0]["report"]["outcome"], json!("go"));
}

#[test]
fn an_interrupted_batch_ends_with_its_tally_and_is_not_completed() {
    let folder = Folder::new();
    let path =
        folder.file("long.toml", "title = 'long'\n[[chip]]\nmarking = '7400'\ncount = 90000\n");
    let mut child = process()
        .args(["screen", "--batch", &path])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut lines = BufReader::new(child.stdout.take().expect("standard output is piped")).lines();
    // Ctrl-C counts from the first chip on.
    while !lines.next().expect("a line").expect("UTF-8").starts_with("   1 7400") {}
    let interrupt = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(interrupt.expect("kill runs").success());
    let rest: Vec<String> = lines.map(|line| line.expect("UTF-8")).collect();
    assert!(rest.iter().any(|line| line.starts_with("interrupted")), "{:?}", rest.last());
    assert!(rest.iter().any(|line| line.ends_with(" chips") || line == "1 chip"));
    assert_eq!(child.wait().expect("it ends").code(), Some(5));
}
