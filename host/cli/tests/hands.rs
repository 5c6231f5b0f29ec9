//! `screen` at a terminal: what a person at the bench sees and types while chips come and go.

mod common;

use common::simulated::Simulated;
use common::terminal::Terminal;
use common::{Folder, dipsift};
use serde_json::{Value, json};
use std::thread;
use std::time::{Duration, Instant};

/// An evening at the bench: a tester, and a ledger.
struct Evening {
    socket: Simulated,
    folder: Folder,
}

impl Evening {
    fn new() -> Self {
        Self { socket: Simulated::start(&[]), folder: Folder::new() }
    }

    fn ledger(&self) -> String {
        format!("{}/evening.sqlite", self.folder.path())
    }

    /// Sits down at a terminal, with more arguments.
    fn sit(&self, more: &[&str], variables: &[(&str, &str)]) -> Terminal {
        let ledger = self.ledger();
        let start =
            ["screen", "--tester", &self.socket.port, "--lot", "tube 1", "--ledger", &ledger];
        Terminal::run(&[&start, more].concat(), variables)
    }

    fn insert(&mut self, chip: &str) {
        let answer = self.socket.type_line(&format!("insert {chip}"));
        assert!(answer.starts_with("the socket holds"), "{answer}");
    }

    fn remove(&mut self) {
        self.socket.type_line("remove");
    }

    /// The insertions of the ledger, the first one first: marking, verdict, reason.
    fn recorded(&self) -> Vec<[String; 3]> {
        let listed = dipsift(&["ledger", "list", "--json", "--ledger", &self.ledger()]).json();
        let text = |one: &Value, key: &str| one[key].as_str().expect("text").to_string();
        let insertions = listed["insertions"].as_array().expect("a list");
        let rows = insertions.iter().rev();
        rows.map(|one| ["marking", "verdict", "reason"].map(|key| text(one, key))).collect()
    }

    /// The id of the first insertion.
    fn first(&self) -> Value {
        let listed = dipsift(&["ledger", "list", "--json", "--ledger", &self.ledger()]).json();
        listed["insertions"].as_array().and_then(|all| all.last()).expect("one")["id"].clone()
    }

    /// What the lot says of itself.
    fn report(&self) -> Value {
        dipsift(&["lot", "show", "tube 1", "--json", "--ledger", &self.ledger()]).json()
    }

    fn is_whole(&self) {
        let checked = dipsift(&["ledger", "check", "--ledger", &self.ledger()]);
        assert_eq!(checked.status, 0, "{}", checked.page());
    }
}

/// A letter of the large verdicts, as wide strokes: no verdict in small letters has them.
fn is_large(screen: &str) -> bool {
    screen.lines().filter(|line| line.contains("##")).count() >= 7
}

#[test]
fn a_tube_of_one_type_needs_no_key() {
    let mut evening = Evening::new();
    let mut person = evening.sit(&["74LS00"], &[]);
    person.asked("insert chip 1 (help lists words, Ctrl-D ends)");
    evening.insert("74LS00");
    person.asked("take it out: drawer 74LS00");
    assert!(is_large(&person.screen()), "{}", person.screen());
    person.until("one bell for a go", |it| it.bells() == 1);
    evening.remove();
    person.asked("insert chip 2 (help lists words, Ctrl-D ends)");
    evening.insert("74LS00, pin 3 stuck low");
    person.asked("take it out: scrap");
    assert!(person.screen().contains("1Y (pin 3) stays low"), "{}", person.screen());
    person.until("two more bells for a no-go", |it| it.bells() == 3);
    assert!(person.written().contains("\u{1b}[32m") && person.written().contains("\u{1b}[31m"));
    evening.remove();
    person.asked("insert chip 3 (help lists words, Ctrl-D ends)");
    person.press("\u{4}");
    assert_eq!(person.ends(), 0);
    person.shows("recorded in the lot tube 1");
    let wanted = [["74LS00", "go", "functional"], ["74LS00", "no-go", "functions"]];
    assert_eq!(evening.recorded(), wanted);
    evening.is_whole();
}

#[test]
fn a_contact_fault_is_seated_again_once_and_then_counts() {
    let mut evening = Evening::new();
    let mut person = evening.sit(&["74LS00"], &[]);
    let out = "reseat: take it out, look at pins and notch, clean (skip: leave it so)";
    let again = "seat the same chip again (skip: leave it so)";
    // One that stays, and one that was only badly seated.
    for (then, place) in [("74LS00, pin 3 open", "scrap"), ("74LS00", "drawer 74LS00")] {
        evening.insert("74LS00, pin 3 open");
        person.asked(out);
        evening.remove();
        person.asked(again);
        evening.insert(then);
        person.asked(&format!("take it out: {place}"));
        evening.remove();
        person.until("next chip", |it| it.screen().trim_end().ends_with("Ctrl-D ends)"));
    }
    // A third is left aside.
    evening.insert("74LS00, pin 3 open");
    person.asked(out);
    person.press("skip\r");
    person.asked("take it out: aside");
    person.press("end\r");
    assert_eq!(person.ends(), 0);
    person.shows("3 chips");
    let wanted = [
        ["74LS00", "not-decided", "open-contact"],
        ["74LS00", "no-go", "open-contact"],
        ["74LS00", "not-decided", "open-contact"],
        ["74LS00", "go", "functional"],
        ["74LS00", "not-decided", "open-contact"],
    ];
    assert_eq!(evening.recorded(), wanted);
    let report = &evening.report()["report"];
    assert_eq!((&report["insertions"], &report["replaced"]), (&json!(5), &json!(2)));
}

#[test]
fn a_mixed_bag_asks_for_markings_completes_them_and_offers_the_same_again() {
    let mut evening = Evening::new();
    let mut person = evening.sit(&[], &[]);
    person.asked("insert chip 1 or type its marking (help, Ctrl-D)");
    evening.insert("74LS138");
    person.asked("marking?");
    person.press("74ls13\t");
    person.shows("74LS138 74LS139");
    person.press("8\r");
    person.asked("take it out: drawer 74LS138");
    evening.remove();
    person.asked("insert chip 2 or type its marking (help, Ctrl-D)");
    evening.insert("74LS138");
    person.asked("marking (Enter: 74LS138 again)?");
    person.press("\r");
    person.asked("take it out: drawer 74LS138");
    // The next one's marking, while this one is still in; it is worn.
    person.press("74LS1?8\r");
    person.shows("74LS138, 3-to-8 line decoder");
    person.press("1\r");
    person.asked("take it out: drawer 74LS138; next 74LS1?8");
    evening.remove();
    person.asked("insert chip 3, 74LS1?8");
    evening.insert("74LS138");
    person.asked("take it out: drawer 74LS138");
    evening.remove();
    person.asked("insert chip 4 or type its marking (help, Ctrl-D)");
    // A marking that says nothing: it is asked once more, then it stays as it is.
    evening.insert("74LS138");
    person.asked("marking (Enter: 74LS1?8 again)?");
    person.press("XYZZY\r");
    person.asked("marking (Enter: set XYZZY aside)?");
    person.press("\r");
    person.asked("take it out: aside");
    person.press("\u{4}");
    assert_eq!(person.ends(), 0);
    let wanted = [
        ["74LS138", "go", "functional"],
        ["74LS138", "go", "functional"],
        ["74LS1?8", "go", "functional"],
        ["XYZZY", "refused", "marking"],
    ];
    assert_eq!(evening.recorded(), wanted);
}

#[test]
fn words_correct_and_the_next_evening_goes_on() {
    let mut evening = Evening::new();
    let picture = evening.folder.file("a picture.jpg", "not looked into");
    let mut person = evening.sit(&[], &[]);
    evening.insert("74LS00");
    person.asked("marking?");
    person.press("SN74LS00N 8412\r");
    person.asked("take it out: drawer 74LS00");
    person.press("note one leg straightened\r");
    person.shows("note added to chip 1");
    person.press("photo /no/such/file.jpg\r");
    person.shows("there is no file /no/such/file.jpg: no photo was added");
    person.press(&format!("photo '{picture}'\r"));
    person.shows("photo added to chip 1");
    person.press("again\r");
    person.until("two large verdicts", |it| it.written().matches("drawer 74LS00  ").count() == 2);
    person.press("undo\r");
    person.shows("undone: chip 1, SN74LS00N 8412");
    // Undone twice, the chip has no result; checked again it is the first one.
    person.press("undo\r");
    person.until("undone twice", |it| it.written().matches("undone: chip 1").count() == 2);
    person.press("again\r");
    person.until("a third verdict", |it| it.written().matches("drawer 74LS00  ").count() == 3);
    person.press("help\r");
    person.shows("the last result does not count");
    evening.remove();
    person.asked("insert chip 2 or type its marking (help, Ctrl-D)");
    person.press("end\r");
    assert_eq!(person.ends(), 0);
    assert_eq!(evening.recorded().len(), 3, "nothing is ever taken away");
    let report = evening.report();
    assert_eq!(report["report"]["undone"], json!(2));
    let first = evening.first();
    let remarks = report["remarks"].as_array().expect("a list");
    let kinds: Vec<&Value> = remarks.iter().map(|one| &one["kind"]).collect();
    assert_eq!(kinds, ["note", "photo"]);
    assert!(remarks.iter().all(|one| one["insertion"] == first), "{report:#}");
    assert_eq!(remarks[1]["text"].as_str(), Some(picture.as_str()));

    let mut person = evening.sit(&[], &[]);
    person.shows("tube 1: 1 chip so far");
    person.asked("insert chip 2 or type its marking (help, Ctrl-D)");
    evening.insert("74LS00");
    person.asked("marking (Enter: SN74LS00N 8412 again)?");
    person.press("\r");
    person.asked("take it out: drawer 74LS00");
    person.press("\u{4}");
    assert_eq!(person.ends(), 0);
    evening.is_whole();
}

#[test]
fn without_colour_and_bell_every_word_is_there() {
    let mut evening = Evening::new();
    let settings = evening.folder.path();
    let file = evening.folder.path() + "/dipsift";
    std::fs::create_dir(&file).expect("a folder");
    evening.folder.file("dipsift/settings.toml", "[screen]\nbell = false\n");
    for (arguments, variables) in [
        (&["74LS00", "--no-bell"][..], &[("NO_COLOR", "1")][..]),
        (&["74LS00"][..], &[("XDG_CONFIG_HOME", settings.as_str()), ("NO_COLOR", "1")][..]),
    ] {
        let mut person = evening.sit(arguments, variables);
        person.until("a question", |it| it.screen().contains("insert chip"));
        evening.insert("74LS00, pin 3 stuck low");
        person.asked("take it out: scrap");
        assert!(person.screen().contains(" no-go "), "{}", person.screen());
        assert!(is_large(&person.screen()), "{}", person.screen());
        evening.remove();
        person.press("\u{4}");
        assert_eq!(person.ends(), 0);
        person.shows("recorded in the lot");
        let written = person.written();
        assert_eq!(person.bells(), 0);
        // Colours and bold are the escape sequences that end in m (ECMA-48, 8.3.117).
        let coloured = written.split("\u{1b}[").skip(1).any(|rest| {
            rest.trim_start_matches(|c: char| c.is_ascii_digit() || c == ';').starts_with('m')
        });
        assert!(!coloured, "{written:?}");
    }
}

#[test]
fn a_narrow_terminal_shows_words_in_place_of_large_letters() {
    let mut evening = Evening::new();
    let port = evening.socket.port.clone();
    let mut person = Terminal::sized(40, &["screen", "74LS00", "--tester", &port], &[]);
    person.shows("insert chip 1");
    evening.insert("74LS00, pin 3 stuck low");
    person.until("a verdict", |it| it.screen().trim_end().ends_with("> take it out: scrap"));
    assert!(person.screen().contains("*** NO-GO ***"), "{}", person.screen());
    person.press("\u{4}");
    assert_eq!(person.ends(), 0);
}

#[test]
fn a_terminal_that_nobody_reads_stops_no_recording() {
    let mut evening = Evening::new();
    let mut person = evening.sit(&["74LS00"], &[]);
    person.asked("insert chip 1 (help lists words, Ctrl-D ends)");
    person.look_away(true);
    let before = person.written().len();
    // More than the two ends of a pseudo terminal hold.
    for _ in 0..80 {
        person.press("help\r");
    }
    // Nothing shows when the loop has seen the socket empty: a slow machine gets its time.
    let mut wait = Duration::from_millis(500);
    let begun = Instant::now();
    while evening.recorded().len() < 4 {
        assert!(begun.elapsed() < Duration::from_secs(60), "{:?}", evening.recorded());
        evening.insert("74LS00");
        thread::sleep(wait);
        evening.remove();
        thread::sleep(wait);
        wait += wait / 4;
    }
    assert!(person.written().len() - before < 4_096, "nobody reads");
    person.look_away(false);
    person.until("all that waited", |it| it.written().len() - before > 32_000);
    person.press("\u{4}");
    assert_eq!(person.ends(), 0);
    evening.is_whole();
}

#[test]
fn ctrl_c_in_a_march_leaves_the_socket_unpowered_and_the_ledger_whole() {
    let mut evening = Evening::new();
    // Longer than anybody waits for Ctrl-C to be heard.
    let mut person = evening.sit(&["62256", "--repeat", "1000"], &[]);
    evening.insert("62256");
    person.until("a march", |it| it.screen().contains("%"));
    person.press("\u{3}");
    assert_eq!(person.ends(), 5);
    person.shows("interrupted: the socket is unpowered");
    // A button does nothing while a host's program is open.
    let pressed = evening.socket.type_line("press");
    assert!(pressed.contains("nothing to run is armed"), "{pressed}");
    assert!(evening.recorded().is_empty());
    evening.is_whole();
    // Ctrl-C while waiting.
    evening.remove();
    let mut person = evening.sit(&["62256"], &[]);
    person.asked("insert chip 1 (help lists words, Ctrl-D ends)");
    person.press("\u{3}");
    assert_eq!(person.ends(), 5);
}

#[test]
fn a_lost_tester_gives_the_terminal_back() {
    let evening = Evening::new();
    let mut person = evening.sit(&["74LS00"], &[]);
    person.asked("insert chip 1 (help lists words, Ctrl-D ends)");
    drop(evening.socket);
    assert_eq!(person.ends(), 3);
    person.shows("dipsift: failed to use the tester");
}
