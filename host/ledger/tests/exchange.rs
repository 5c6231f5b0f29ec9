//! Merging and exporting lose nothing, double nothing and carry out nothing.

mod common;

use common::{at, bad, bag, good, pin, selftest, with_bag};
use dipsift_ledger::{
    Insertion, Ledger, LedgerError, Lot, Merged, Record, Remark, RemarkKind, Selection, Subject,
    Undo,
};
use std::path::Path;

/// Texts that trouble a table, a text format or a spreadsheet. The first four are the examples of
/// OWASP, "CSV Injection".
const NASTY: [&str; 17] = [
    "=1+2\";=1+2",
    "=1+2'\" ;,=1+2",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "+cmd",
    "-2+3",
    "'quoted",
    "''=1",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "  =1+1",
    "\u{FF1D}1+1",
    "a, \"b\"; c\r\nd\re",
    "null",
    "[1]",
    "Ω \u{0305}Q 74LS00 \u{1F50C}",
    "0012",
];

/// All kinds of records, each nasty text in each place that takes a text.
fn full(seed: u64) -> Ledger {
    let mut ledger = with_bag(seed);
    let mut last = ledger.record(&good(0)).unwrap();
    for (number, text) in (1..).zip(NASTY) {
        let mut insertion = bad(number, &[pin(3, 1, 2, 3, false), pin(6, 0, 0, 0, true)]);
        insertion.failing_pins[0].name = text.into();
        insertion.currents[0].what = text.into();
        insertion.currents.sort_by(|a, b| a.what.cmp(&b.what));
        insertion.marking = text.into();
        insertion.chip.name = text.into();
        insertion.chip.package = text.into();
        insertion.explanation = Some(text.into());
        insertion.note = Some(text.into());
        insertion.speed_grade = Some(text.into());
        insertion.tester.name = text.into();
        insertion.tester.firmware = text.into();
        insertion.memory_map = Some(dipsift_ledger::Hex(text.bytes().collect()));
        insertion.retest_of = (number % 3 == 0).then_some(last);
        last = ledger.record(&insertion).unwrap();
        if number % 4 == 0 {
            ledger
                .undo(&Undo { at: at(number), insertion: last, reason: Some(text.into()) })
                .unwrap();
        }
        for about in [Subject::Lot("bag".into()), Subject::Insertion(last)] {
            let kind = if number % 2 == 0 { RemarkKind::Note } else { RemarkKind::Photo };
            ledger.add_remark(&Remark { at: at(number), about, kind, text: text.into() }).unwrap();
        }
        let name = format!("{} {number}", text.trim().replace(char::is_control, " "));
        ledger.add_lot(&Lot { name, description: Some(text.into()), ..bag() }).unwrap();
        let mut check = selftest(number, number % 2 == 0);
        check.lines = NASTY.map(String::from).to_vec();
        ledger.add_selftest(&check).unwrap();
    }
    ledger
}

fn records(ledger: &Ledger) -> Vec<Record> {
    let mut records = Vec::new();
    ledger
        .for_each_record(|record| {
            records.push(record);
            Ok::<_, LedgerError>(())
        })
        .unwrap();
    records
}

fn csv(ledger: &Ledger) -> Vec<u8> {
    let mut text = Vec::new();
    ledger.export_csv(&mut text).unwrap();
    text
}

fn json(ledger: &Ledger) -> Vec<u8> {
    let mut text = Vec::new();
    ledger.export_json(&mut text).unwrap();
    text
}

#[test]
fn exports_are_read_back_without_a_change() {
    let original = full(1);
    let expected = records(&original);
    assert!(expected.len() > 80);
    for (form, text) in [("csv", csv(&original)), ("json", json(&original))] {
        let mut copy = Ledger::in_memory(Some(9)).unwrap();
        let mut import = || match form {
            "csv" => copy.import_csv(text.as_slice()).unwrap(),
            _ => copy.import_json(text.as_slice()).unwrap(),
        };
        let merged = import();
        assert_eq!(merged.known, 0, "{form}");
        assert_eq!(merged.insertions, 1 + NASTY.len() as u64);
        let again = import();
        assert_eq!(again, Merged { known: expected.len() as u64, ..Merged::default() });
        assert_eq!(records(&copy), expected, "{form}");
        assert_eq!(copy.check().unwrap(), []);
    }
}

#[test]
fn no_cell_begins_a_formula() {
    let text = csv(&full(2));
    // Every cell is quoted, so no other separator can begin a cell within one.
    let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_slice());
    let mut defused = 0;
    for row in rows.records() {
        for cell in &row.unwrap() {
            // The characters of OWASP, "CSV Injection".
            let first = cell.chars().next();
            assert!(
                !first.is_some_and(|c| "=+-@\t\r\n\u{FF1D}\u{FF0B}\u{FF0D}\u{FF20}".contains(c)),
                "{cell:?}"
            );
            defused += usize::from(cell.starts_with("'=1+2"));
        }
    }
    assert!(defused > 10, "{defused}");
    let raw = String::from_utf8(text).unwrap();
    assert!(raw.starts_with("\"record\",\"at\",\"lot\",\"marking\""), "{}", &raw[..80]);
    // RFC 4180: quotes doubled, lines end with CR LF.
    assert!(raw.contains("\"'=1+2\"\";=1+2\""));
    assert!(raw.ends_with("\"\r\n"));
}

#[test]
fn json_is_what_the_documentation_says() {
    let text = json(&full(3));
    let value: serde_json::Value = serde_json::from_slice(&text).unwrap();
    assert_eq!(value["format"], "dipsift-ledger");
    assert_eq!(value["version"], 1);
    let records = value["records"].as_array().unwrap();
    let first = records.iter().find(|record| record["record"] == "insertion").unwrap();
    assert_eq!(first["at"], "2026-11-25T18:00:00Z");
    assert_eq!(first["name"], "74LS00");
    assert_eq!(first["date_code"], "1984-W23");
    assert_eq!(first["program_hash"], "deadbeef");
    assert_eq!(first["nature"], "simulated");
    assert_eq!(first["currents"][1]["microamperes"], 2400);
}

#[test]
fn a_bad_import_changes_nothing() {
    let original = full(4);
    let text = String::from_utf8(json(&original)).unwrap();
    let table = String::from_utf8(csv(&original)).unwrap();
    let cut = |text: &str| text[..text.len() * 2 / 3].to_owned();
    let mut here = with_bag(5);
    let before = records(&here);
    for (form, text) in [
        ("json", cut(&text)),
        ("json", text.replacen("\"version\": 1", "\"version\": 2", 1)),
        ("json", text.replacen("dipsift-ledger", "other", 1)),
        ("json", text.replacen("\"verdict\":\"go\"", "\"verdict\":\"fine\"", 1)),
        ("json", "[]".into()),
        ("json", "{}".into()),
        ("json", format!("{text}x")),
        ("csv", cut(&table)),
        ("csv", table.replacen("\"marking\"", "\"mark\"", 1)),
        ("csv", table.replacen("\"go\"", "\"fine\"", 1)),
        ("csv", table.replacen("\"dipsift-ledger\"", "\"\"", 1)),
    ] {
        let imported = match form {
            "csv" => here.import_csv(text.as_bytes()),
            _ => here.import_json(text.as_bytes()),
        };
        assert!(matches!(imported, Err(LedgerError::Format { .. })), "{form} {imported:?}");
        assert_eq!(records(&here), before);
    }
}

#[test]
fn two_benches_merge_without_doubles() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let fill = |name: &str, seed, from: i64| {
        let mut ledger = Ledger::open_seeded(&path(name), Some(seed)).unwrap();
        let spelling = if seed == 1 { "bag" } else { "Bag" };
        ledger.add_lot(&Lot { name: spelling.into(), ..bag() }).unwrap();
        let mut ids = Vec::new();
        for second in from..from + 50 {
            let insertion =
                if second % 5 == 0 { bad(second, &[pin(3, 1, 0, 0, false)]) } else { good(second) };
            ids.push(ledger.record(&Insertion { lot: spelling.into(), ..insertion }).unwrap());
        }
        let again = Insertion { lot: spelling.into(), retest_of: Some(ids[0]), ..good(from + 60) };
        ledger.record(&again).unwrap();
        ledger.undo_last(spelling, at(from + 61), None).unwrap();
        ledger.undo(&Undo { at: at(from + 62), insertion: ids[1], reason: None }).unwrap();
        ledger
    };
    let mut one = fill("one", 1, 0);
    let mut two = fill("two", 2, 1000);
    let merged = one.merge(&path("two")).unwrap();
    assert_eq!(
        merged,
        Merged { joined: vec!["Bag".into()], insertions: 51, undone: 2, ..Merged::default() }
    );
    let again = one.merge(&path("two")).unwrap();
    assert_eq!((again.insertions, again.undone, again.known), (0, 0, 53));
    // Its own copy brings nothing either.
    one.backup(&path("copy")).unwrap();
    assert_eq!(one.merge(&path("copy")).unwrap().insertions, 0);
    assert_eq!(one.check().unwrap(), []);

    two.merge(&path("copy")).unwrap();
    let chips = |ledger: &Ledger| ledger.report(&Selection::lot("BAG")).unwrap();
    assert_eq!(chips(&one), chips(&two));
    assert_eq!((chips(&one).insertions, chips(&one).undone), (102, 4));
    // 50 chips each, one undone each; every fifth bad, the retest of the first was undone.
    assert_eq!((chips(&one).chips().go, chips(&one).chips().no_go), (78, 20));
}

#[test]
fn a_retest_after_a_merge_is_the_later_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut one = Ledger::open_seeded(&path("one"), Some(1)).unwrap();
    one.add_lot(&bag()).unwrap();
    for second in 0..10 {
        one.record(&good(second)).unwrap();
    }
    let chip = one.record(&bad(20, &[pin(3, 1, 0, 0, false)])).unwrap();
    let mut two = Ledger::open_seeded(&path("two"), Some(2)).unwrap();
    two.merge(&path("one")).unwrap();
    // The second bench's clock is late.
    two.record(&Insertion { retest_of: Some(chip), ..good(5) }).unwrap();
    one.merge(&path("two")).unwrap();
    for ledger in [&one, &two] {
        let report = ledger.report(&Selection::lot("bag")).unwrap();
        assert_eq!((report.chips().go, report.chips().no_go, report.replaced), (11, 0, 1));
    }
}

#[test]
fn one_id_with_two_contents_is_refused_whole() {
    let original = full(6);
    let changed = String::from_utf8(json(&original)).unwrap();
    let changed = changed.replacen("\"steps\":40", "\"steps\":41", 1);
    let mut here = full(6);
    // The same seed does not make the same ids: the ledgers' own ids differ by their clocks.
    assert!(here.import_json(changed.as_bytes()).is_ok());
    let mut copy = Ledger::in_memory(Some(7)).unwrap();
    copy.import_json(json(&original).as_slice()).unwrap();
    let before = records(&copy);
    let error = copy.import_json(changed.as_bytes()).unwrap_err();
    assert!(matches!(error, LedgerError::Differs(_)), "{error}");
    assert_eq!(records(&copy), before);
    assert!(copy.merge(Path::new("/")).is_err());
}
