//! `screen --lot` and `selftest`: what the ledger holds afterwards.

mod common;

use common::{Folder, Ran, dipsift, process};
use dipsift_ledger::{
    DateCode, Insertion, Ledger, Lot, MemoryMap, Nature, Stored, Tester, Type, Verdict,
};
use dipsift_simulator::{FlashMemory, SimulatedSocket};
use dipsift_station::{Identity, Station};
use dipsift_wire::{Clock, Health, ResetCause};
use serde_json::json;
use serialport::{SerialPort, TTYPort};
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::path::Path;
use std::process::Stdio;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

/// Screens a batch into a lot of a ledger in the folder.
fn screen(folder: &Folder, batch: &str, more: &[&str]) -> Ran {
    let batch = folder.file("batch.toml", batch);
    let ledger = format!("{}/ledger.sqlite", folder.path());
    let args = ["screen", "--batch", &batch, "--lot", "tube 1", "--ledger", &ledger];
    dipsift(&[&args[..], more].concat())
}

fn insertions(folder: &Folder) -> Vec<Stored<Insertion>> {
    let file = Path::new(&folder.path()).join("ledger.sqlite");
    let ledger = Ledger::open(&file).expect("the ledger opens");
    assert!(ledger.check().expect("the ledger is looked at").is_empty());
    let mut all = ledger.last_insertions("tube 1", 1_000).expect("a lot");
    all.reverse();
    all
}

#[test]
fn every_insertion_of_the_demonstration_is_recorded_as_it_was_told() {
    let folder = Folder::new();
    let ledger = format!("{}/ledger.sqlite", folder.path());
    let ran = dipsift(&["screen", "--demo", "--json", "--lot", "tube 1", "--ledger", &ledger]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let told = ran.json();
    assert_eq!(told["lot"], json!("tube 1"));
    let told = told["chips"].as_array().expect("chips").clone();
    let kept = insertions(&folder);
    assert_eq!(told.len(), 61);
    assert_eq!(kept.len(), 61);
    let mut parts: BTreeMap<Vec<u8>, String> = BTreeMap::new();
    let mut hashes: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    for (told, kept) in told.iter().zip(&kept) {
        let (report, entry) = (&told["report"], &kept.entry);
        assert_eq!(told["recorded"], json!(kept.id));
        assert_eq!(told["marking"], json!(entry.marking));
        assert_eq!(told["note"], json!(entry.note));
        assert_eq!(report["outcome"], json!(entry.verdict));
        assert_eq!(report["reason"], json!(entry.reason));
        assert_eq!(report["name"], json!(entry.chip.name));
        assert_eq!(report["part"], json!(entry.chip.part));
        assert_eq!(report["steps"], json!(entry.steps));
        assert_eq!(report["failures"], json!(entry.failures));
        assert_eq!(report["supply_mv"], json!(entry.supply_mv.unwrap_or(0)));
        let current = entry.currents.first().map_or(0, |current| current.microamperes);
        assert_eq!(report["current_ua"], json!(current));
        let failing: Vec<u8> = entry.failing_pins.iter().map(|pin| pin.pin).collect();
        for pin in report["pins"].as_array().expect("pins") {
            let number = pin["pin"].as_u64().expect("a number") as u8;
            assert!(failing.contains(&number), "{told:#}");
        }
        assert_eq!(
            report["open"]
                .as_array()
                .expect("pins")
                .iter()
                .filter(|pin| {
                    let number = pin.as_u64().expect("a number") as u8;
                    !entry.failing_pins.iter().any(|pin| pin.pin == number && pin.open)
                })
                .count(),
            0,
            "{told:#}"
        );
        assert_eq!(entry.tester.nature, Nature::Simulated);
        assert!(!entry.tester.firmware.is_empty());
        // A program has run where the chip was powered, and nowhere else.
        let hash = entry.program_hash.as_ref().map(|hash| hash.0.clone());
        assert_eq!(hash.is_some(), entry.supply_mv.is_some(), "{told:#}");
        // The same part in the same family is checked by the same program, another part by another.
        if let Some(hash) = hash {
            assert_eq!(hash.len(), 32, "SHA-256");
            let known = hashes.entry(entry.chip.name.clone()).or_insert_with(|| hash.clone());
            assert_eq!(*known, hash, "{}", entry.chip.name);
            let part = parts.entry(hash).or_insert_with(|| entry.chip.part.clone());
            assert_eq!(*part, entry.chip.part);
        }
    }
    assert!(hashes.len() > 10);
}

#[test]
fn a_memory_leaves_its_map_and_its_grade() {
    let folder = Folder::new();
    let ran = screen(
        &folder,
        "title = 'memories'\n[[chip]]\nmarking = '6264-15'\n\
         [[chip]]\nmarking = '6264-15'\ndefects = ['cell 4660 bit 3 stuck at 0']\n\
         [[chip]]\nmarking = '6264'\n",
        &[],
    );
    assert_eq!(ran.status, 0, "{}", ran.page());
    let [good, bad, unmarked] = insertions(&folder).try_into().expect("three");
    assert_eq!(good.entry.verdict, Verdict::Go);
    assert_eq!(good.entry.speed_grade.as_deref(), Some("150 ns"));
    assert_eq!(good.entry.memory_map, None);
    assert_eq!(bad.entry.verdict, Verdict::NoGo);
    assert_eq!(bad.entry.speed_grade, None);
    let map = MemoryMap::from_hex(&bad.entry.memory_map.expect("a map")).expect("a known form");
    assert_eq!((map.words(), map.bits()), (8192, 8));
    assert_eq!(map.failing().collect::<Vec<_>>(), [(0x1234, 1 << 3)]);
    assert_eq!(unmarked.entry.speed_grade, None);
}

#[test]
fn whole_markings_are_read_and_what_is_not_plain_is_set_aside() {
    let folder = Folder::new();
    let ran = screen(
        &folder,
        "title = 'markings'\n[[chip]]\nmarking = 'SN74LS00N 8412'\n[[chip]]\nmarking = '74LS1?8'\n",
        &[],
    );
    assert_eq!(ran.status, 0, "{}", ran.page());
    let [whole, worn] = insertions(&folder).try_into().expect("two");
    assert_eq!((whole.entry.verdict, whole.entry.chip.name.as_str()), (Verdict::Go, "74LS00"));
    assert_eq!(whole.entry.marking, "SN74LS00N 8412");
    assert_eq!(whole.entry.date_code, DateCode::new(1984, 12));
    assert_eq!(worn.entry.verdict, Verdict::Refused);
    let why = worn.entry.explanation.expect("why");
    assert!(why.contains("74LS138") && why.contains("not powered"), "{why}");
}

#[test]
fn a_batch_goes_on_where_the_lot_stands() {
    let folder = Folder::new();
    let tube = "title = 'tube'\n[[chip]]\nmarking = '7404'\ncount = 3\n";
    assert_eq!(screen(&folder, tube, &[]).status, 0);
    let longer = "title = 'tube'\n[[chip]]\nmarking = '7404'\ncount = 5\n";
    let ran = screen(&folder, longer, &["--resume"]);
    assert_eq!(ran.status, 0, "{}", ran.page());
    assert!(ran.out.contains("tube 1: 3 chips so far"), "{}", ran.out);
    assert!(ran.out.contains("\n   5 7404") && !ran.out.contains("\n   3 7404"), "{}", ran.out);
    assert_eq!(insertions(&folder).len(), 5);
    // Without the option all of it is played again, as more chips.
    assert_eq!(screen(&folder, longer, &[]).status, 0);
    assert_eq!(insertions(&folder).len(), 10);
}

#[test]
fn what_cannot_be_recorded_is_not_played() {
    let folder = Folder::new();
    let batch = folder.file("batch.toml", "title = 'a'\n[[chip]]\nmarking = '7404'\n");
    let other = folder.file("other.txt", "no ledger at all, and not to be touched");
    let ran = dipsift(&["screen", "--batch", &batch, "--lot", "x", "--ledger", &other]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{}", ran.page());
    assert!(ran.err.contains("is no ledger"), "{}", ran.err);
    assert!(std::fs::read_to_string(&other).expect("still there").starts_with("no ledger"));
    let ran = dipsift(&["screen", "--batch", &batch, "--resume"]);
    assert_eq!(ran.status, 2, "{}", ran.page());
    let ran = screen(&folder, "title = 'a'\n[[chip]]\nmarking = '7404'\n", &["--lot", ""]);
    assert_eq!(ran.status, 2, "{}", ran.page());
}

#[test]
fn simulated_results_do_not_go_into_a_lot_of_real_ones() {
    let folder = Folder::new();
    let at = "2026-11-25T18:00:00Z".parse().expect("a time");
    let mut ledger = Ledger::open(&Path::new(&folder.path()).join("ledger.sqlite")).expect("new");
    ledger.add_lot(&Lot { at, name: "tube 1".into(), description: None }).expect("a lot");
    let tester = Tester { name: "bench".into(), nature: Nature::Real, firmware: "1".into() };
    ledger.record(&refused(at, tester)).expect("recorded");
    drop(ledger);
    let ran = screen(&folder, "title = 'a'\n[[chip]]\nmarking = '7404'\n", &[]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{}", ran.page());
    assert!(ran.err.contains("holds results of a real tester"), "{}", ran.err);
    assert_eq!(insertions(&folder).len(), 1);
}

fn refused(at: jiff::Timestamp, tester: Tester) -> Insertion {
    Insertion {
        at,
        lot: "tube 1".into(),
        marking: "4116".into(),
        chip: Type { name: "4116".into(), ..Type::default() },
        date_code: None,
        tester,
        program_hash: None,
        verdict: Verdict::Refused,
        reason: "unsupported".into(),
        explanation: None,
        failing_pins: Vec::new(),
        supply_mv: None,
        currents: Vec::new(),
        steps: 0,
        failures: 0,
        speed_grade: None,
        memory_map: None,
        note: None,
        retest_of: None,
    }
}

/// A tester of another nature than the simulator's own, its socket empty, served on a pseudo
/// terminal.
struct Served {
    port: String,
    stop: Arc<AtomicBool>,
    thread: Option<thread::JoinHandle<()>>,
}

impl Served {
    fn start(nature: dipsift_wire::Nature) -> Self {
        let (mut line, slave) = TTYPort::pair().expect("a pseudo terminal");
        let port = slave.name().expect("a path");
        line.set_timeout(Duration::from_millis(5)).expect("a timeout");
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = thread::spawn(move || {
            let socket = SimulatedSocket::new(1);
            let identity = Identity {
                commit: "test".parse().expect("short"),
                nature,
                reset: ResetCause::PowerOn,
                capabilities: socket.fixture().capabilities(),
                health: Health { clock: Clock::Virtual, brown_out: None, stack_free: None },
            };
            let stored = dipsift_station::Stored::new(&[], FlashMemory::default());
            let mut station: Box<Station<_, 512, _>> =
                Box::new(Station::with_stored(socket, identity, stored));
            // The other end stays open, so that the line lasts from one program to the next.
            let _slave = slave;
            let mut bytes = [0; 4096];
            while !stopped.load(Ordering::Relaxed) {
                let Ok(count) = line.read(&mut bytes) else { continue };
                let mut out = Vec::new();
                station.receive(&bytes[..count], &mut |reply| out.extend_from_slice(reply));
                let _ = line.write_all(&out);
            }
        });
        Self { port, stop, thread: Some(thread) }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let _ = self.thread.take().map(thread::JoinHandle::join);
    }
}

/// Runs with the user's folders in `folder`, standard input at its end.
fn at_home(folder: &Folder, args: &[&str]) -> String {
    let output = process()
        .env("XDG_DATA_HOME", folder.path())
        .args(args)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("UTF-8")
}

#[test]
fn screening_asks_for_a_selftest_of_the_day_and_selftest_records_it() {
    let folder = Folder::new();
    let served = Served::start(dipsift_wire::Nature::Real);
    let screen = ["screen", "7404", "--lot", "a", "--tester", &served.port];
    let warned = |said: &str| said.contains("no selftest today");
    assert!(warned(&at_home(&folder, &screen)));
    let said = at_home(&folder, &["selftest", "--tester", &served.port]);
    assert!(said.contains("recorded in the ledger"), "{said}");
    assert!(!warned(&at_home(&folder, &screen)));
    let file = Path::new(&folder.path()).join("dipsift/ledger.sqlite");
    let ledger = Ledger::open(&file).expect("in the user's data folder");
    let day = jiff::Timestamp::UNIX_EPOCH;
    let kept = ledger.last_selftest(&served.port, day).expect("read").expect("a self-test");
    assert!(kept.entry.passed && kept.entry.tester.nature == Nature::Real);
    assert!(kept.entry.lines.iter().any(|line| line.starts_with("ok: ground switches")));
    assert!(
        ledger.last_insertions("a", 9).expect("read").is_empty(),
        "no empty socket is recorded"
    );
}

#[test]
fn a_simulated_tester_needs_no_selftest_and_records_one_only_where_it_is_told() {
    let folder = Folder::new();
    let said = at_home(&folder, &["screen", "7404", "--lot", "a", "--tester", "sim"]);
    assert!(!said.contains("selftest"), "{said}");
    let said = at_home(&folder, &["selftest", "--tester", "sim"]);
    assert!(!said.contains("recorded"), "{said}");
    let ledger = format!("{}/x.sqlite", folder.path());
    let said = at_home(&folder, &["selftest", "--tester", "sim", "--ledger", &ledger]);
    assert!(said.contains("recorded"), "{said}");
}
