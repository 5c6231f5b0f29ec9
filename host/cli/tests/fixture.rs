//! `fixture`: the pages that come from the board's data.

mod common;

use common::{Folder, dipsift};
use dipsift_nucleo_f429zi::connectors::contact;
use dipsift_nucleo_f429zi::map::{FEEDS, GROUNDS, SOCKET, used};
use dipsift_nucleo_f429zi::nets::SERVED;
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
        // The list of the library's odd parts grows with the library.
        let page_text = ran.page();
        let stays = page_text.split("\nparts of the library").next().expect("the first of a split");
        insta::assert_snapshot!(format!("fixture_{page}"), stays);
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

/// Where the library has its odd parts agrees with the table that the switches were chosen from.
#[test]
fn every_part_of_the_library_has_a_place() {
    let object = dipsift(&["fixture", "placement", "--json"]).json();
    let rows = object["rows"].as_array().expect("rows");
    let odd = object["library"].as_array().expect("parts");
    for (part, position) in [("7490", 4), ("7473", 5), ("7475", 4), ("7476", 5), ("7483", 4)] {
        let row = rows.iter().find(|row| {
            row["parts"].as_str().expect("text").split(' ').any(|number| number == part)
        });
        assert_eq!(row.expect(part)["shift"], json!(position - 1), "{part}");
        let found = odd.iter().find(|entry| entry["part"] == json!(part)).expect(part);
        assert_eq!(found["pin_1_at"], json!(position), "{part}");
    }
    for entry in odd {
        assert!(entry["pin_1_at"].is_u64(), "no place: {entry}");
    }
}

/// A part with a supply where no switch is, told as such. Invented.
#[test]
fn a_part_without_a_place_is_named() {
    let folder = Folder::new();
    folder.file("odd.part", ODD);
    let ran = dipsift(&["fixture", "placement", "--parts", &folder.path()]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let line = ran.out.lines().find(|line| line.contains("7999")).expect("the part is named");
    assert!(line.contains("no position"), "{line}");
}

/// An invented buffer that fills the socket, fed at pin 2 and grounded at pin 1.
const ODD: &str = "\
part    7999
title   invented buffer
source  invented for this test
made    74
dip     GND VCC A Y - - - - - - - - - - - - - - - - - - - - - - - - - - - - - - - - - - - -
Y = A
";

#[test]
fn the_list_has_a_resistor_for_each_position_and_a_switch_for_each_line() {
    let object = dipsift(&["fixture", "parts", "--json"]).json();
    let items = object["items"].as_array().expect("items");
    let count = |what: &str| {
        let found = items.iter().find(|item| item["what"].as_str().expect("text").contains(what));
        found.expect(what)["count"].as_u64().expect("a count") as usize
    };
    assert_eq!(count("high-side switch"), FEEDS.len());
    assert_eq!(count("low-side switch"), GROUNDS.len());
    // One at each position; two dividers' halves at each feed; a pull at each line.
    for value in ["220 ohm", "22 kohm", "2.2 kohm"] {
        assert_eq!(count(&format!("resistor {value},")), SOCKET.len(), "{value}");
    }
    assert_eq!(count("resistor 100 kohm"), 2 * FEEDS.len());
    let held = |name: &&str| {
        ["switch", "keepers", "select", "enable", "bleeder", "range", "limiter"]
            .iter()
            .any(|word| name.contains(word))
    };
    let lines = used().filter(|(name, ..)| held(name)).count();
    assert_eq!(count("resistor 10 kohm"), lines);
    // 40 light and 40 firm keepers, eight to a package.
    assert_eq!(count("8-bit three-state buffer"), 10);
}

#[test]
fn every_duty_of_a_pin_is_told_with_its_margin() {
    let object = dipsift(&["fixture", "wiring", "--json"]).json();
    let duties = object["duties"].as_array().expect("duties");
    let mut pins = 0;
    for duty in duties {
        pins += duty["pins"].as_array().expect("pins").len();
        for (most, allowed) in [
            ("powered_mv", "powered_allowed_mv"),
            ("unpowered_mv", "unpowered_allowed_mv"),
            ("ua", "allowed_ua"),
        ] {
            let number = |key: &str| duty[key].as_u64().unwrap_or(0);
            assert!(number(most) <= number(allowed), "{duty}");
        }
    }
    assert_eq!(pins, used().count());
}

/// Where the words of a sheet stand.
fn words(svg: roxmltree::Node<'_, '_>) -> Vec<String> {
    svg.descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| node.text().map(str::to_owned))
        .collect()
}

#[test]
fn the_drawing_is_one_sheet_with_everything_on_it() {
    let ran = dipsift(&["fixture", "drawing"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let sheet = roxmltree::Document::parse(&ran.out).expect("well-formed XML");
    let svg = sheet.root_element();
    assert_eq!((svg.attribute("width"), svg.attribute("height")), (Some("297mm"), Some("210mm")));
    let texts = words(svg);
    let times = |wanted: &str| texts.iter().filter(|text| *text == wanted).count();
    for (position, pin) in (1_u8..).zip(SOCKET) {
        assert_eq!(times(&position.to_string()), 1, "position {position}");
        assert_eq!(times(&pin.to_string()), 1, "{pin}");
    }
    for feed in FEEDS {
        assert_eq!(times(&format!("feed {}", feed.switch)), 1, "{feed:?}");
        assert_eq!(times(&format!("volts {}", feed.voltage.pin)), 1, "{feed:?}");
    }
    for ground in GROUNDS {
        assert_eq!(times(&format!("gnd {}", ground.switch)), 1, "{ground:?}");
    }
    for (start, count) in
        [("feed P", FEEDS.len()), ("volts P", FEEDS.len()), ("gnd P", GROUNDS.len())]
    {
        let found = texts.iter().filter(|text| text.starts_with(start)).count();
        assert_eq!(found, count, "{start}");
    }
    // Every contact that the fixture is wired to.
    for (name, _, pin) in used() {
        let contact = contact(pin).expect("a contact");
        let there = format!("{}-{}", contact.connector.name(), contact.number);
        let on_sheet = texts.iter().any(|text| text.split([' ', ',']).any(|word| word == there));
        let on_board = SERVED.iter().any(|net| net.pin == pin);
        assert_eq!(on_sheet, !on_board, "{name} at {there}");
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

/// The sheet in the board's folder is the one that the program draws: after a change,
/// `dipsift fixture drawing --out firmware/boards/nucleo-f429zi/fixture.svg`.
#[test]
fn the_sheet_beside_the_board_is_the_one_drawn() {
    let path =
        concat!(env!("CARGO_MANIFEST_DIR"), "/../../firmware/boards/nucleo-f429zi/fixture.svg");
    let beside = std::fs::read_to_string(path).expect("the sheet is there");
    assert!(beside == dipsift(&["fixture", "drawing"]).out, "the sheet is not the one drawn");
}
