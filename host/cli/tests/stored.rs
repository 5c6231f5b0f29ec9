//! `stored`: what a tester holds itself, and the button of a simulated one.

mod common;

use common::simulated::Simulated;
use common::{Folder, Ran, dipsift};
use dipsift_wire::{
    Accumulator, Answer, Ask, Capabilities, Hello, MAX_FRAME, Nature, Reply, Request, ResetCause,
    VersionRange, decode_request, encode_reply,
};
use serialport::{SerialPort, TTYPort};
use std::io::{Read, Write};
use std::time::{Duration, Instant};

fn stored(tester: &Simulated, args: &[&str]) -> Ran {
    dipsift(&[&["stored"], args, &["--tester", &tester.port]].concat())
}

/// What a command printed after the tester, whose port has another name each time.
fn page(tester: &Simulated, args: &[&str]) -> String {
    let page = stored(tester, args).page();
    let (tester, rest) = page.split_once("\narmed").expect("what is armed");
    assert!(tester.contains("SIMULATED"), "{tester}");
    format!("armed{rest}")
}

#[test]
fn the_list_of_the_image() {
    let ran = dipsift(&["stored", "list", "--tester", "sim"]);
    assert!(ran.out.lines().all(|line| line.chars().count() <= 80), "{}", ran.out);
    insta::assert_snapshot!(ran.page());
    let json = dipsift(&["stored", "list", "--tester", "sim", "--json"]).json();
    let programs = json["programs"].as_array().expect("programs");
    assert!(programs.len() >= 60, "{}", programs.len());
    assert!(programs.iter().all(|program| program["runnable"] == true));
    assert_eq!((&programs[0]["name"], &programs[0]["kind"]), (&"2102".into(), &1.into()));
    let logic = programs.iter().find(|program| program["name"] == "4001B").expect("a 4001B");
    assert_eq!(logic["kind"], 0);
    assert_eq!((&json["command"], &json["status"]), (&"stored".into(), &0.into()));
    assert_eq!((&json["armed"], &json["simulated"]), (&serde_json::Value::Null, &true.into()));
}

#[test]
fn an_armed_part_is_checked_at_the_press_of_the_button() {
    let mut simulated = Simulated::start(&["--sim-part", "74LS00"]);
    assert_eq!(simulated.type_line("press"), "pressed: nothing to run is armed (all lamps)");
    insta::assert_snapshot!("armed_on_screen", page(&simulated, &["arm", "74LS00"]));
    assert_eq!(simulated.type_line("press"), "pressed: go (green lamp)");
    simulated.type_line("insert 74LS00, pin 3 stuck low");
    assert_eq!(simulated.type_line("press"), "pressed: no-go (red lamp)");
    simulated.type_line("remove");
    assert_eq!(simulated.type_line("press"), "pressed: not decided (blue lamp)");
    let list = stored(&simulated, &["list", "--json"]).json();
    assert_eq!(list["armed"]["name"], "74LS00");
    assert_eq!(list["armed"]["held"], true);
    let armed = stored(&simulated, &["arm", "7400", "--json"]).json();
    assert_eq!(armed["armed"]["name"], "7400");
    assert!(armed["assumption"].as_str().expect("an assumption").contains("standard"));
    insta::assert_snapshot!("disarmed_on_screen", page(&simulated, &["disarm"]));
    assert_eq!(simulated.type_line("press"), "pressed: nothing to run is armed (all lamps)");
    assert_eq!(stored(&simulated, &["disarm", "--json"]).json()["armed"], serde_json::Value::Null);
    // The same station still serves a host.
    let port = simulated.port.clone();
    simulated.type_line("insert 7404");
    assert_eq!(dipsift(&["check", "7404", "--tester", &port]).status, 0);
}

#[test]
fn programs_of_ones_own_are_compiled_and_run() {
    let folder = Folder::new();
    let file = format!("{}/own.bin", folder.path());
    let ran = dipsift(&["stored", "compile", "--out", &file, "74S00", "4011", "4011B"]);
    insta::assert_snapshot!("compiled", ran.page().replace(&folder.path(), "DIR"));
    let json = dipsift(&["stored", "compile", "--json", "--out", &file, "74S00", "4011"]).json();
    assert_eq!(json["programs"], serde_json::json!(["4011B", "74S00"]));
    let size = std::fs::metadata(&file).expect("the file").len();
    assert_eq!(json["bytes"].as_u64(), Some(size));
    let mut simulated = Simulated::start(&["--stored", &file, "--sim-part", "4011B"]);
    insta::assert_snapshot!("own_list", page(&simulated, &["list"]));
    assert_eq!(stored(&simulated, &["arm", "4011"]).status, 0);
    assert_eq!(simulated.type_line("press"), "pressed: go (green lamp)");
    let other = stored(&simulated, &["arm", "74LS00"]);
    assert_eq!(other.status, 4);
    assert_eq!(
        other.err,
        "dipsift: the tester holds no program for 74LS00 that it can run; of this number it \
         holds 74S00\n"
    );
}

/// A march without a host: the verdicts of a good memory, a bad one and an empty socket.
#[test]
fn an_armed_memory_is_marched_at_the_press_of_the_button() {
    let mut simulated = Simulated::start(&["--sim-part", "6264"]);
    assert_eq!(stored(&simulated, &["arm", "6264"]).status, 0);
    assert_eq!(simulated.type_line("press"), "pressed: go (green lamp)");
    simulated.type_line("insert 6264, cell 8191 bit 7 stuck at 0");
    assert_eq!(simulated.type_line("press"), "pressed: no-go (red lamp)");
    simulated.type_line("remove");
    assert_eq!(simulated.type_line("press"), "pressed: not decided (blue lamp)");
    simulated.type_line("insert 4164");
    assert_eq!(stored(&simulated, &["arm", "4164"]).status, 0);
    assert_eq!(simulated.type_line("press"), "pressed: go (green lamp)");
}

/// One line on standard error, nothing on standard output, and a status.
fn one_error(ran: &Ran, status: i32, words: &str) {
    assert_eq!(ran.status, status, "{}", ran.page());
    assert!(ran.err.contains(words), "{}", ran.err);
    assert_eq!((ran.err.lines().count(), ran.out.as_str()), (1, ""), "{}", ran.page());
}

#[test]
fn what_cannot_be_is_one_clear_error() {
    let sim = ["--tester", "sim"];
    let arm = |part| dipsift(&[&["stored", "arm", part], &sim[..]].concat());
    one_error(&arm("7499"), 2, "no part 7499");
    one_error(&arm("74S00"), 4, "holds no program for 74S00");
    one_error(&arm("74LS189"), 4, "`dipsift stored list`");
    let json = dipsift(&["stored", "arm", "74S00", "--tester", "sim", "--json"]);
    assert_eq!(json.json()["status"], 4);
    assert!(json.json()["error"].as_str().expect("an error").contains("74S00"));
    let folder = Folder::new();
    let out = format!("{}/out.bin", folder.path());
    one_error(&dipsift(&["stored", "compile", "--out", &out, "7499"]), 2, "no part 7499");
    one_error(&dipsift(&["stored", "compile", "--out", &out, "2716"]), 4, "only read");
    assert!(!std::path::Path::new(&out).exists(), "nothing is written where a part is wrong");
    let nowhere = format!("{}/none/out.bin", folder.path());
    one_error(&dipsift(&["stored", "compile", "--out", &nowhere, "7400"]), 2, "failed to write");
    one_error(&dipsift(&["simulate", "--stored", &nowhere]), 2, "failed to read");
    one_error(&dipsift(&["stored", "list", "--tester", &nowhere]), 3, "cannot open");
}

#[test]
fn an_image_without_programs_and_a_damaged_one_are_told_apart() {
    let folder = Folder::new();
    let mut simulated = Simulated::start(&["--stored", &folder.file("none.bin", "")]);
    insta::assert_snapshot!("no_programs", page(&simulated, &["list"]));
    one_error(&stored(&simulated, &["arm", "7400"]), 4, "built without stored programs");
    assert_eq!(simulated.type_line("press"), "pressed: nothing to run is armed (all lamps)");
    let simulated = Simulated::start(&["--stored", &folder.file("bad.bin", "dsst and so on")]);
    for args in [&["list"][..], &["arm", "7400"]] {
        one_error(&stored(&simulated, args), 3, "damaged: flash the image again");
    }
    assert_eq!(stored(&simulated, &["disarm"]).status, 0);
}

/// A station of protocol version 1: it answers a hello and nothing that came later.
fn version_1() -> (TTYPort, String) {
    let (master, slave) = TTYPort::pair().expect("a pseudo terminal");
    let path = slave.name().expect("a path");
    (master, path)
}

fn serve_version_1(mut line: TTYPort) {
    line.set_timeout(Duration::from_millis(20)).expect("a timeout");
    let hello = Hello {
        versions: VersionRange { min: 1, max: 1 },
        schema: [0; 8],
        commit: "0123abc".try_into().expect("short"),
        nature: Nature::Simulated,
        reset: ResetCause::PowerOn,
        capabilities: Capabilities {
            feed: 1 << 39,
            ground: 1 << 6,
            v3_3: true,
            v5: true,
            light_keeper_ohms: 22_000,
            firm_keeper_ohms: 2_200,
            series_ohms: 220,
            drive_mv: 3_300,
            current_max_ua: 300_000,
            current_step_ua: 100,
            window_bytes: 1_024,
            window_steps: 512,
            step_ns: 1,
            sample_ns: 0,
            kinds: 1,
        },
    };
    let mut input = Accumulator::new();
    let mut bytes = [0; 256];
    let end = Instant::now() + Duration::from_secs(60);
    while Instant::now() < end {
        // Nobody has the other end open yet, or any more.
        let Ok(count) = line.read(&mut bytes) else {
            std::thread::sleep(Duration::from_millis(1));
            continue;
        };
        for &byte in &bytes[..count] {
            let Some(Ok(message)) = input.push(byte) else { continue };
            if let Ok(Request { sequence, ask: Ask::Hello(_) }) = decode_request(message) {
                let answer = Answer::Hello(hello.clone());
                let mut buffer = [0; MAX_FRAME];
                let frame = encode_reply(&Reply { sequence, answer }, &mut buffer).expect("room");
                let _ = line.write_all(frame);
            }
        }
    }
}

#[test]
fn a_station_of_version_1_is_one_clear_error() {
    for args in [&["stored", "list"][..], &["stored", "arm", "7400"], &["stored", "disarm"]] {
        let (master, path) = version_1();
        std::thread::spawn(move || serve_version_1(master));
        let ran = dipsift(&[args, &["--tester", &path]].concat());
        one_error(&ran, 4, "protocol version 1 at most, and this needs 2");
    }
}
