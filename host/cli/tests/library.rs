//! `parts`, `show`, `lint` and `--parts`: what needs no tester.

mod common;

use common::{Folder, dipsift};
use serde_json::json;

/// A description of one's own.
const OWN: &str = "\
part    9901
title   an invented gate for tests
source  invented for this test
made    LS
dip     1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC
for n in 1 2 3 4
  nY = nA & ~nB
";

#[test]
fn parts_are_listed_and_filtered() {
    let all = dipsift(&["parts"]);
    assert_eq!(all.status, 0);
    assert!(all.out.contains("7400") && all.out.contains("4040"), "{}", all.out);
    let some = dipsift(&["parts", "decade"]);
    assert!(some.out.contains("7490") && !some.out.contains("7400"), "{}", some.out);
    let none = dipsift(&["parts", "teapot"]);
    assert_eq!(none.status, 2);
    assert!(none.err.contains("teapot"), "{}", none.err);
}

#[test]
fn parts_as_json() {
    let object = dipsift(&["parts", "--json"]).json();
    assert_eq!(object["schema"], json!("dipsift/1"));
    let parts = object["parts"].as_array().expect("a list of parts");
    let nand = parts.iter().find(|part| part["part"] == "7400").expect("the 7400");
    assert_eq!(nand["pins"], json!(14));
    assert!(nand["families"].as_array().expect("families").contains(&json!("LS")));
}

#[test]
fn pages_of_parts() {
    for part in ["7400", "74LS00", "7490", "4050"] {
        let ran = dipsift(&["show", part]);
        assert_eq!(ran.status, 0, "{part}: {}", ran.page());
        insta::assert_snapshot!(format!("show_{part}"), ran.page());
    }
}

#[test]
fn a_page_as_json_has_every_pin_and_its_position() {
    let object = dipsift(&["show", "7490", "--json"]).json();
    let pins = object["pins"].as_array().expect("a list of pins");
    assert_eq!(pins.len(), 14);
    // 7490: TI SDLS940: VCC is pin 5, GND is pin 10, pins 4 and 13 are not connected.
    assert_eq!(pins[4]["kind"], json!("supply"));
    assert_eq!(pins[9]["kind"], json!("ground"));
    assert_eq!(pins[3]["kind"], json!("unconnected"));
    // Opposite pins of a dual in-line package lie opposite in the socket: positions 1 and 40.
    let position = |index: usize| pins[index]["position"].as_u64().expect("a position");
    assert_eq!(position(0) + position(13), 41);
    assert_eq!(position(6) + position(7), 41);
}

#[test]
fn an_unknown_part_is_one_clear_error_with_a_suggestion() {
    let ran = dipsift(&["show", "74LS0O"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    let ran = dipsift(&["show", "7409"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    insta::assert_snapshot!(ran.page());
}

#[test]
fn a_folder_of_ones_own_parts_joins_the_library() {
    let folder = Folder::new();
    folder.file("own.part", OWN);
    let ran = dipsift(&["show", "9901", "--parts", &folder.path()]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("1Y = 1A & ~1B"), "{}", ran.out);
    let ran = dipsift(&["check", "9901", "--tester", "sim", "--parts", &folder.path()]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    let ran = dipsift(&["--parts", "/no/such/folder", "parts"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    assert!(ran.err.contains("/no/such/folder"), "{}", ran.err);
}

#[test]
fn a_folder_with_a_bad_description_is_a_bad_file() {
    let folder = Folder::new();
    folder.file("own.part", "part 9902\ntitle\n");
    let ran = dipsift(&["parts", "--parts", &folder.path()]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    assert!(ran.err.contains("own.part"), "{}", ran.err);
}

#[test]
fn lint_is_quiet_about_a_good_file() {
    let folder = Folder::new();
    let path = folder.file("own.part", OWN);
    let ran = dipsift(&["lint", &path]);
    assert_eq!(ran.status, 0, "{}", ran.page());
}

#[test]
fn lint_tells_every_error_with_its_place() {
    let folder = Folder::new();
    let path = folder.file("own.part", &OWN.replace("title ", "tilte ").replace("~nB", "~nC"));
    let ran = dipsift(&["lint", &path]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!(ran.page().replace(&folder.path(), "FOLDER"));
    let object = dipsift(&["lint", "--json", &path]).json();
    let told = object["diagnostics"].as_array().expect("a list of diagnostics");
    assert!(told.iter().any(|entry| entry["line"] == json!(2)), "{object:#}");
    assert!(told.iter().any(|entry| entry["line"] == json!(7)), "{object:#}");
}

#[test]
fn lint_names_a_file_that_cannot_be_read() {
    let ran = dipsift(&["lint", "/no/such.part"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("/no/such.part"), "{}", ran.err);
}
