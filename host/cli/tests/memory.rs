//! Memories on the command line: march, speed, retention, contents, maps.

mod common;

use common::{Folder, Ran, dipsift};
use serde_json::json;

fn check(part: &str, more: &[&str]) -> Ran {
    dipsift(&[&["check", part, "--tester", "sim"], more].concat())
}

#[test]
fn a_march_tells_what_it_finds_and_what_not() {
    insta::assert_snapshot!("good", check("6264-15", &[]).page());
    insta::assert_snapshot!("quick", check("6264-15", &["--quick"]).page());
    insta::assert_snapshot!("own", check("2102", &["--march", "{⇕(w0); ⇑(r0,w1); ⇓(r1)}"]).page());
}

#[test]
fn speed_and_retention_are_told() {
    insta::assert_snapshot!("grade", check("6264-15", &["--grade"]).page());
    let leaky = ["--retention", "--defect", "cell 300 bit 0 leaks in 30 ms"];
    insta::assert_snapshot!("retention", check("4164-15", &leaky).page());
    let slow = check("6264-15", &["--defect", "access 300 ns"]);
    assert_eq!(slow.status, 1, "{}", slow.page());
    let words = slow.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("does not keep -15, 150 ns"), "{}", slow.out);
}

#[test]
fn what_failed_is_told_and_drawn() {
    let folder = Folder::new();
    let file = |name: &str| format!("{}/{name}", folder.path());
    let (svg, png) = (file("map.svg"), file("map.png"));
    let row = ["--defect", "row 3 reads 0", "--map", &svg];
    let ran = check("2114", &row);
    assert_eq!(ran.status, 1);
    insta::assert_snapshot!("row", ran.page().replace(&folder.path(), "FOLDER"));
    let text = std::fs::read_to_string(&svg).expect("the map");
    let drawing = roxmltree::Document::parse(&text).expect("it is XML");
    assert_eq!(drawing.root_element().tag_name().name(), "svg");
    check("2114", &["--defect", "row 3 reads 0", "--map", &png]);
    // PNG (W3C), section 5.2: the signature.
    let bytes = std::fs::read(&png).expect("the map");
    assert_eq!(bytes[..8], [0x89, b'P', b'N', b'G', 13, 10, 26, 10]);
    // A good memory has no map.
    let none = file("none.svg");
    let ran = check("2114", &["--map", &none]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("is not written") && !std::path::Path::new(&none).exists());
}

#[test]
fn half_a_64k_part_makes_a_32k_one() {
    let ran = check("4164", &["--defect", "half with address bit 7 at 1 dead"]);
    assert_eq!(ran.status, 1, "{}", ran.page());
    let words = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("still makes a 4532RAM"), "{}", ran.out);
    // One that was sold so is good.
    let ran = check("4532RAM", &["--defect", "half with address bit 7 at 1 dead"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("its half with A7 low at the row strobe is good"), "{}", ran.out);
}

/// The sums, and the record's check sum, were computed with Python (zlib, sum).
#[test]
fn a_read_only_part_is_read_twice_and_saved() {
    let folder = Folder::new();
    let bytes: Vec<u8> = (0..2048_u32).map(|at| (at * 7 + (at >> 8)) as u8).collect();
    let contents = format!("{}/contents.bin", folder.path());
    std::fs::write(&contents, &bytes).expect("a file");
    let (bin, hex) = (format!("{}/out.bin", folder.path()), format!("{}/out.hex", folder.path()));
    let ran = check("2716", &["--sim-contents", &contents, "--save", &bin]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    insta::assert_snapshot!("contents", ran.page().replace(&folder.path(), "FOLDER"));
    assert_eq!(std::fs::read(&bin).expect("the file"), bytes);
    check("2716", &["--sim-contents", &contents, "--save", &hex]);
    let text = std::fs::read_to_string(&hex).expect("the file");
    assert_eq!(text.lines().count(), 2048 / 16 + 1);
    assert!(text.starts_with(":1000000000070E151C232A31383F464D545B6269A8\n"), "{text}");
    assert!(text.ends_with(":00000001FF\n"));
    let blank = check("2716", &["--json"]).json();
    let contents = &blank["report"]["memory"]["contents"];
    assert_eq!((&contents["blank"], &contents["all_bits"]), (&json!(true), &json!(true)));
    // 2048 times 0xFF.
    assert_eq!(contents["crc32"], json!(CRC_OF_2048_FF));
}

/// `zlib.crc32(b"\xff" * 2048)` in Python.
const CRC_OF_2048_FF: u32 = 0x3F55_D17F;

#[test]
fn an_output_that_nothing_drives_is_no_contents() {
    let ran = check("2716", &["--defect", "pin 9 open", "--seated"]);
    assert_ne!(ran.status, 0, "{}", ran.page());
    let ran = check("2716", &["--defect", "data line 2 stuck at 0"]);
    // It reads alike twice: what it should hold nobody knows.
    assert_eq!(ran.status, 0, "{}", ran.page());
}

/// One line on standard error, nothing on standard output, and a status.
fn one_error(ran: &Ran, status: i32, words: &str) {
    assert_eq!(ran.status, status, "{}", ran.page());
    assert!(ran.err.contains(words), "{}", ran.err);
    assert_eq!(ran.out, "", "{}", ran.page());
}

#[test]
fn what_does_not_go_together_is_one_clear_error() {
    one_error(&check("7400", &["--grade"]), 2, "--grade is for memories, and 7400 is none");
    one_error(&check("2716", &["--march", "c-"]), 2, "2716 is only read here");
    one_error(&check("6264", &["--save", "x.bin"]), 2, "--save is for parts that are only read");
    one_error(&check("6264", &["--map", "x.pdf"]), 2, "let x.pdf end in .svg or .png");
    one_error(&check("6264", &["--march", "nobody"]), 2, "no march test is called");
    one_error(&check("6264", &["--march", "up(r0)"]), 2, "failed to read the march test");
    one_error(&check("2716", &["--sim-contents", "/none/x"]), 2, "failed to read /none/x");
    let ran = check("6264", &["--quick", "--thorough"]);
    assert_eq!(ran.status, 2);
    let ran = check("2716", &["--save", "/none/x.bin"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    assert!(ran.err.contains("failed to write /none/x.bin"), "{}", ran.err);
}

/// A marking with makers' readings of its own: -2 is 150 ns on Micron's, 200 ns on NEC's (marks
/// of single makers, list of compatible types, zxjim.blogspot.com, September 2011).
#[test]
fn a_mark_that_makers_read_differently_is_told() {
    let ran = check("4164-2", &["--quick"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("depends on the maker"), "{}", ran.out);
}
