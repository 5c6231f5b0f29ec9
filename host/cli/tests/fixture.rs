//! `fixture`: the pages that come from the board's data.

mod common;

use common::{Folder, dipsift};
use dipsift_nucleo_f429zi::map::{FEEDS, GROUNDS, SOCKET, used};
use serde_json::json;

#[test]
fn pages_about_the_fixture() {
    for page in ["wiring", "parts", "placement"] {
        let ran = dipsift(&["fixture", page]);
        assert_eq!(ran.status, 0, "{}", ran.err);
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 80, "{page}: {line}");
        }
        assert!(page == "placement" || ran.out.contains("untried on hardware"), "{page}");
        insta::assert_snapshot!(format!("fixture_{page}"), ran.page());
    }
}

/// Every pin of the map is on the page, and every position is a line of its own.
#[test]
fn the_wiring_leaves_no_pin_out() {
    let page = dipsift(&["fixture", "wiring"]).out;
    for (name, position, pin) in used() {
        let there = page.split_whitespace().any(|word| word == pin.to_string());
        assert!(there, "{name} {position:?} at {pin}");
    }
    let object = dipsift(&["fixture", "wiring", "--json"]).json();
    assert_eq!(object["tried_on_hardware"], json!(false));
    let positions = object["positions"].as_array().expect("a list");
    assert_eq!(positions.len(), SOCKET.len());
    let with = |key: &str| positions.iter().filter(|row| !row[key].is_null()).count();
    assert_eq!((with("feed_switch"), with("voltage")), (FEEDS.len(), FEEDS.len()));
    assert_eq!(with("ground_switch"), GROUNDS.len());
}

/// The counts of the search are those of the switches on the board.
#[test]
fn the_board_has_the_fewest_switches() {
    let object = dipsift(&["fixture", "placement", "--json"]).json();
    assert_eq!(object["switches"], json!(FEEDS.len() + GROUNDS.len()));
    assert_eq!(object["switches"], object["fewest_with_habit"]);
    assert_eq!(object["without_placement"], json!([]));
    for row in object["rows"].as_array().expect("rows") {
        assert!(row["shift"].is_u64(), "{row}");
    }
}

#[test]
fn the_list_has_a_resistor_for_each_position_and_a_switch_for_each_line() {
    let object = dipsift(&["fixture", "parts", "--json"]).json();
    let counts: Vec<u64> = object["items"]
        .as_array()
        .expect("items")
        .iter()
        .map(|item| item["count"].as_u64().expect("a count"))
        .collect();
    let switches = [FEEDS.len() as u64, GROUNDS.len() as u64];
    assert!(counts.windows(2).any(|pair| pair == switches), "{counts:?}");
    assert_eq!(counts.iter().filter(|&&count| count == SOCKET.len() as u64).count(), 3);
}

#[test]
fn the_drawing_is_one_sheet_with_everything_on_it() {
    let ran = dipsift(&["fixture", "drawing"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let sheet = roxmltree::Document::parse(&ran.out).expect("well-formed XML");
    let svg = sheet.root_element();
    assert_eq!((svg.attribute("width"), svg.attribute("height")), (Some("297mm"), Some("210mm")));
    let texts: Vec<&str> = svg.descendants().filter_map(|node| node.text()).collect();
    for (position, pin) in (1..).zip(SOCKET) {
        let (position, pin): (u8, _) = (position, pin.to_string());
        assert!(texts.contains(&position.to_string().as_str()), "position {position}");
        assert!(texts.contains(&pin.as_str()), "{pin}");
    }
    for feed in FEEDS {
        assert!(texts.contains(&format!("feed {}", feed.switch).as_str()), "{feed:?}");
        let measured = format!("measured at {}", feed.voltage.pin);
        assert!(texts.contains(&measured.as_str()), "{feed:?}");
    }
    for ground in GROUNDS {
        assert!(texts.contains(&format!("gnd {}", ground.switch).as_str()), "{ground:?}");
    }
    // Nothing stands outside the sheet.
    let size: Vec<i32> = svg
        .attribute("viewBox")
        .expect("a view box")
        .split(' ')
        .map(|number| number.parse().expect("a number"))
        .collect();
    for node in svg.descendants() {
        for (key, most) in [("x", size[2]), ("cx", size[2]), ("y", size[3]), ("cy", size[3])] {
            if let Some(value) = node.attribute(key) {
                let value: i32 = value.parse().expect("a whole number");
                assert!((0..=most).contains(&value), "{node:?}");
            }
        }
    }
}

#[test]
fn the_drawing_goes_into_a_file_or_says_why_not() {
    let folder = Folder::new();
    let path = folder.file("fixture.svg", "");
    let ran = dipsift(&["fixture", "drawing", "--out", &path]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let written = std::fs::read_to_string(&path).expect("the file is there");
    assert_eq!(written, dipsift(&["fixture", "drawing"]).out);
    let nowhere = format!("{}/no/such/folder.svg", folder.path());
    let ran = dipsift(&["fixture", "drawing", "--out", &nowhere]);
    assert_eq!(ran.status, 2);
    assert_eq!(ran.err.lines().count(), 1, "{}", ran.err);
}
