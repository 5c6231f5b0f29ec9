//! `lot`, `ledger`, `report` and `labels`, on an invented evening of a repair club.

mod common;

use common::{Folder, Ran, command};
use dipsift_ledger::{
    Current, DateCode, FailingPin, Hex, Insertion, Ledger, Lot, MemoryMap, Nature, Selftest,
    Tester, Type, Verdict,
};
use jiff::{Timestamp, ToSpan as _};
use serde_json::json;
use std::path::Path;

/// Runs `dipsift` where it is UTC and nobody has a ledger.
fn run(folder: &Folder, args: &[&str]) -> Ran {
    let mut command = command();
    command.env("TZ", "UTC").env("XDG_DATA_HOME", folder.path()).env("HOME", folder.path());
    let output = command.args(args).output().expect("the program runs");
    Ran {
        status: output.status.code().expect("the program ends by itself"),
        out: String::from_utf8(output.stdout).expect("standard output is UTF-8"),
        err: String::from_utf8(output.stderr).expect("standard error is UTF-8"),
    }
}

/// A page without the folder's name, which is another one each time.
fn page(folder: &Folder, ran: &Ran) -> String {
    ran.page().replace(&folder.path(), "FOLDER")
}

fn at(seconds: i64) -> Timestamp {
    "2026-11-25T18:00:00Z".parse::<Timestamp>().unwrap() + seconds.seconds()
}

fn good(seconds: i64, name: &str, part: &str) -> Insertion {
    Insertion {
        at: at(seconds),
        lot: "cabinet 3".into(),
        marking: format!("{name} 8423"),
        chip: Type {
            name: name.into(),
            part: part.into(),
            family: if part == name { "" } else { "LS" }.into(),
            package: "DIP14".into(),
        },
        date_code: DateCode::new(1984, 23),
        tester: Tester { name: "sim".into(), nature: Nature::Simulated, firmware: "0.1.0".into() },
        program_hash: Some(Hex(vec![1, 2, 3, 4])),
        verdict: Verdict::Go,
        reason: "functional".into(),
        explanation: None,
        failing_pins: Vec::new(),
        supply_mv: Some(5000),
        currents: vec![Current { what: "largest".into(), microamperes: 2400 }],
        steps: 40,
        failures: 0,
        speed_grade: None,
        memory_map: None,
        note: None,
        retest_of: None,
    }
}

/// Writes the evening where the program looks for a ledger without being told.
fn evening(folder: &Folder) -> Ledger {
    let file = Path::new(&folder.path()).join("dipsift/ledger.sqlite");
    std::fs::create_dir_all(file.parent().unwrap()).unwrap();
    let mut ledger = Ledger::open_seeded(&file, Some(5)).unwrap();
    let description = Some("drawers 12 to 17 of the training workshop".into());
    ledger.add_lot(&Lot { at: at(0), name: "cabinet 3".into(), description }).unwrap();
    let tester = good(0, "74LS00", "7400").tester;
    ledger
        .add_selftest(&Selftest {
            at: at(1),
            tester,
            passed: true,
            lines: vec!["empty socket".into()],
        })
        .unwrap();
    for number in 0..9 {
        ledger.record(&good(10 + number, "74LS00", "7400")).unwrap();
    }
    let pin = FailingPin { pin: 6, name: "2Y".into(), low: 4, high: 0, held: 0, open: false };
    let bad = Insertion {
        verdict: Verdict::NoGo,
        reason: "functions".into(),
        failing_pins: vec![pin],
        failures: 4,
        // A note that a spreadsheet would carry out.
        note: Some("=1+1".into()),
        ..good(20, "74LS00", "7400")
    };
    ledger.record(&bad).unwrap();
    let map = MemoryMap::new(1024, 4, [(77, 0b10)]).unwrap().to_hex().unwrap();
    for (number, grade) in ["150 ns", "200 ns", "200 ns"].into_iter().enumerate() {
        let chip = Insertion {
            speed_grade: Some(grade.into()),
            ..good(30 + number as i64, "2114", "2114")
        };
        ledger.record(&chip).unwrap();
    }
    let failed = Insertion {
        verdict: Verdict::NoGo,
        reason: "memory".into(),
        failures: 2,
        memory_map: Some(map),
        ..good(40, "2114", "2114")
    };
    ledger.record(&failed).unwrap();
    ledger
}

#[test]
fn a_lot_on_screen() {
    let folder = Folder::new();
    evening(&folder);
    let ran = run(&folder, &["lot", "show", "CABINET 3"]);
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    insta::assert_snapshot!("show", page(&folder, &ran));
    insta::assert_snapshot!("lots", page(&folder, &run(&folder, &["lot", "list"])));
    insta::assert_snapshot!(
        "last",
        page(&folder, &run(&folder, &["ledger", "list", "--most", "4"]))
    );
    let object = run(&folder, &["lot", "show", "cabinet 3", "--json"]).json();
    assert_eq!(
        object["report"]["types"][1]["counts"],
        json!({
            "go": 9, "no_go": 1, "not_decided": 0, "refused": 0, "trouble": 0
        })
    );
}

#[test]
fn a_lot_is_begun_noted_and_undone() {
    let folder = Folder::new();
    let ran = run(&folder, &["lot", "list"]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!("no_ledger", page(&folder, &ran));
    assert_eq!(run(&folder, &["lot", "begin", "tube 9"]).status, 0);
    let twice = run(&folder, &["lot", "begin", "Tube 9"]);
    assert_eq!((twice.status, twice.err.contains("is there already")), (2, true), "{}", twice.err);
    let early = run(&folder, &["lot", "undo", "tube 9"]);
    assert_eq!(
        (early.status, early.err.contains("no insertion to undo")),
        (2, true),
        "{}",
        early.err
    );
    evening(&folder);
    let steps: [&[&str]; 4] = [
        &["lot", "note", "cabinet 3", "label torn"],
        &["lot", "photo", "cabinet 3", "tube.jpg", "--last"],
        &["lot", "undo", "cabinet 3", "--reason", "wrong chip"],
        &["lot", "undo", "cabinet 3"],
    ];
    let said: Vec<String> = steps
        .iter()
        .map(|args| {
            let ran = run(&folder, args);
            assert_eq!(ran.status, 0, "{}", ran.page());
            ran.out
        })
        .collect();
    assert_eq!(
        said.concat(),
        "note added to lot cabinet 3\n\
         photo added to insertion 14 of cabinet 3\n\
         undone: insertion 14 of cabinet 3, 2114 no-go\n\
         undone: insertion 13 of cabinet 3, 2114 go\n"
    );
    let object = run(&folder, &["lot", "show", "cabinet 3", "--json"]).json();
    assert_eq!(object["report"]["undone"], json!(2));
    assert_eq!(object["remarks"].as_array().unwrap().len(), 2);
}

#[test]
fn an_export_is_read_back_and_runs_in_no_spreadsheet() {
    let folder = Folder::new();
    evening(&folder);
    let path = |name: &str| format!("{}/{name}", folder.path());
    for form in ["csv", "json"] {
        let export = path(&format!("all.{form}"));
        assert_eq!(run(&folder, &["ledger", "export", &export]).status, 0);
        let again = run(&folder, &["ledger", "export", &export]);
        assert_eq!(again.status, 2, "an export overwrites nothing: {}", again.page());
        let copy = path(&format!("{form}.sqlite"));
        let merged =
            run(&folder, &["ledger", "merge", &export, "--ledger", &copy, "--json"]).json();
        assert_eq!((&merged["insertions"], &merged["known"]), (&json!(14), &json!(0)));
        let merged =
            run(&folder, &["ledger", "merge", &export, "--ledger", &copy, "--json"]).json();
        assert_eq!((&merged["insertions"], &merged["known"]), (&json!(0), &json!(16)));
        // What it came from and what it became say the same, record for record.
        let records = |ledger: &[&str]| {
            let args = [&["ledger", "export", "--format", "json"], ledger].concat();
            let object = run(&folder, &args).json();
            object["records"].clone()
        };
        assert_eq!(records(&[]), records(&["--ledger", &copy]));
    }
    let text = std::fs::read_to_string(path("all.csv")).unwrap();
    assert!(text.contains("\"'=1+1\""), "{text}");
    assert!(!text.contains("\"=1+1\""), "{text}");
}

#[test]
fn a_second_bench_is_merged_without_doubles() {
    let folder = Folder::new();
    evening(&folder);
    let (copy, other) = (format!("{}/copy", folder.path()), Folder::new());
    assert_eq!(run(&folder, &["ledger", "backup", &copy]).status, 0);
    let twice = run(&folder, &["ledger", "backup", &copy]);
    assert_eq!(twice.status, 2, "{}", twice.page());
    let ran = run(&other, &["ledger", "merge", &copy]);
    insta::assert_snapshot!("merged", page(&other, &ran));
    let ran = run(&other, &["ledger", "merge", &copy]);
    insta::assert_snapshot!("merged_again", page(&other, &ran));
    let ran = run(&other, &["ledger", "check"]);
    insta::assert_snapshot!("checked", page(&other, &ran));
}

#[test]
fn damage_is_found() {
    let folder = Folder::new();
    let file = folder.file("broken.sqlite", "this is a shopping list and no ledger at all");
    let ran = run(&folder, &["ledger", "check", "--ledger", &file]);
    assert_eq!(ran.status, 2);
    insta::assert_snapshot!("no_ledger_file", page(&folder, &ran));
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("this is a shopping list"));
}

#[test]
fn a_report_is_one_file() {
    let folder = Folder::new();
    evening(&folder);
    let file = format!("{}/report.html", folder.path());
    let ran = run(&folder, &["report", "cabinet 3", "--out", &file]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    let text = std::fs::read_to_string(&file).unwrap();
    // The library's own words for the part, the counts, the map, and the self-test of the day.
    for words in
        ["quad 2-input NAND", "9 of 10: ", "1 of 4096 cells fail", "passed, 2026-11-25 18:00"]
    {
        assert!(text.contains(words), "{words}");
    }
    let ran = run(&folder, &["report", "cabinet 4", "--out", &file]);
    assert_eq!((ran.status, ran.err.contains("cabinet 4")), (2, true), "{}", ran.page());
}

#[test]
fn labels_of_several_lots() {
    let folder = Folder::new();
    let mut ledger = evening(&folder);
    ledger.add_lot(&Lot { at: at(0), name: "bag".into(), description: None }).unwrap();
    ledger.record(&Insertion { lot: "bag".into(), ..good(50, "74LS153", "74153") }).unwrap();
    let (html, svg) =
        (format!("{}/labels.html", folder.path()), format!("{}/labels.svg", folder.path()));
    let object = run(&folder, &["labels", "cabinet 3", "BAG", "--out", &html, "--json"]).json();
    let symbols: Vec<&str> = object["labels"]
        .as_array()
        .unwrap()
        .iter()
        .map(|label| label["symbol"].as_str().unwrap())
        .collect();
    assert_eq!(
        symbols,
        ["LOT cabinet 3\nPART 2114", "LOT cabinet 3\nPART 74LS00", "LOT bag\nPART 74LS153"]
    );
    let small =
        ["--columns", "2", "--rows", "1", "--pitch-x", "80", "--width", "70", "--height", "60"];
    let args = [&["labels", "cabinet 3", "bag", "--out", &svg][..], &small].concat();
    let ran = run(&folder, &args);
    assert_eq!((ran.status, ran.err.contains("2 sheets do not fit")), (2, true), "{}", ran.page());
    let args = [&["labels", "cabinet 3", "--out", &svg][..], &small].concat();
    let ran = run(&folder, &args);
    insta::assert_snapshot!("labels", page(&folder, &ran));
    let text = std::fs::read_to_string(&svg).unwrap();
    let tree = roxmltree::Document::parse(&text).unwrap();
    let groups = tree.root_element().children().filter(|node| node.has_tag_name("g"));
    let places: Vec<_> = groups.filter_map(|group| group.attribute("transform")).collect();
    // A tenth of a millimetre to the unit: the second label is 80 mm further right.
    assert_eq!(places, ["translate(72 151)", "translate(872 151)"]);
    let wide = run(&folder, &["labels", "bag", "--out", &html, "--columns", "4"]);
    assert_eq!(wide.status, 2);
    insta::assert_snapshot!("labels_off_the_paper", page(&folder, &wide));
}

#[test]
fn help_of_what_is_recorded() {
    let folder = Folder::new();
    let pages: [&[&str]; 8] = [
        &["lot"],
        &["lot", "show"],
        &["lot", "note"],
        &["ledger"],
        &["ledger", "export"],
        &["ledger", "merge"],
        &["report"],
        &["labels"],
    ];
    for args in pages {
        let ran = run(&folder, &[args, &["--help"]].concat());
        assert_eq!(ran.status, 0, "{args:?}");
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 80, "{args:?}: {line}");
        }
        insta::assert_snapshot!(format!("help_{}", args.join("_")), ran.page());
    }
}

#[test]
fn a_report_shows_the_photographs_that_it_finds() {
    let folder = Folder::new();
    evening(&folder);
    let path = |name: &str| format!("{}/{name}", folder.path());
    // The beginning of a PNG file is enough for the report: a browser draws it or not.
    std::fs::write(path("tube.png"), b"\x89PNG\r\n\x1a\n tube").unwrap();
    std::fs::write(path("notes.txt"), "no picture").unwrap();
    std::fs::File::create(path("large.jpg")).unwrap().set_len(4_000_001).unwrap();
    for name in ["tube.png", "notes.txt", "large.jpg", "lost.jpg"] {
        assert_eq!(run(&folder, &["lot", "photo", "cabinet 3", &path(name)]).status, 0);
    }
    let output = path("report.html");
    let ran = run(&folder, &["report", "cabinet 3", "--out", &output]);
    assert!(ran.out.ends_with("pictures: 1 of 4 are in it\n"), "{}", ran.page());
    let page = std::fs::read_to_string(output).unwrap();
    assert_eq!(page.matches("<img src=\"data:image/png;base64,").count(), 1);
    for why in ["no JPEG, PNG, GIF or WebP", "larger than 4 MB", "there is no such file"] {
        assert_eq!(page.matches(why).count(), 1, "{why}");
    }
}

#[test]
fn what_is_there_is_left_alone() {
    let folder = Folder::new();
    evening(&folder);
    let file = format!("{}/there.json", folder.path());
    std::fs::write(&file, "mine").unwrap();
    for command in ["export", "backup"] {
        let ran = run(&folder, &["ledger", command, &file]);
        assert_eq!(ran.status, 2);
        let said = page(&folder, &ran);
        assert!(said.contains("FOLDER/there.json exists and is left alone"), "{said}");
    }
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
}
