//! Ctrl-C while a tester works: the answer at hand is the last one, then the tester is switched off.

mod common;

use common::{Folder, process};
use dipsift_language::{Family, Library};
use dipsift_simulator::{Chip, SimulatedSocket, SimulatedStation};
use dipsift_wire::{Accumulator, Ask, Request, decode_request};
use serialport::{SerialPort, TTYPort};
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Command, Output, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

/// Long enough for a signal to arrive, and much less than a host waits for an answer.
const ARRIVES: Duration = Duration::from_millis(300);

/// A station on a line, and the moment at which Ctrl-C comes to its host.
struct Bench {
    station: SimulatedStation,
    /// Which request it is that is done but not answered when Ctrl-C comes; the second argument
    /// tells whether the chip is powered.
    at: fn(&Ask, bool) -> bool,
    /// Whether Ctrl-C comes twice, and no answer.
    twice: bool,
    /// The number of the last request.
    sequence: Option<u16>,
    /// The requests after Ctrl-C.
    after: Option<Vec<Ask>>,
    was_powered: bool,
}

/// What a run came to.
struct Interrupted {
    output: Output,
    bench: Bench,
    took: Duration,
}

impl Bench {
    fn new(chip: Option<(&str, Family)>, at: fn(&Ask, bool) -> bool) -> Self {
        let mut station = SimulatedStation::new(SimulatedSocket::new(1));
        if let Some((number, family)) = chip {
            let library = Library::builtin();
            let part = library.part(number).expect("a part of the library");
            let chip = Chip::new(Arc::clone(part), family, 1).expect("a chip");
            station.insert(chip, &[]).expect("inserted");
        }
        Self { station, at, twice: false, sequence: None, after: None, was_powered: false }
    }

    /// No time passes at this station but by what it is asked to do: its own limit of silence has
    /// no part in this.
    fn powered(&self) -> bool {
        (1..=40).any(|position| self.station.socket().voltage(position) > 2.0)
    }

    /// Takes a request's frame and gives what it answers.
    fn take(&mut self, frame: &[u8], request: Request, host: u32) -> Vec<u8> {
        let mut out = Vec::new();
        self.station.receive(frame, &mut out);
        // A request that is repeated is answered again.
        if self.sequence.replace(request.sequence) == Some(request.sequence) {
            return if self.twice && self.after.is_some() { Vec::new() } else { out };
        }
        let powered = self.powered();
        match &mut self.after {
            Some(after) => after.push(request.ask),
            None if (self.at)(&request.ask, powered) => {
                self.was_powered = powered;
                self.after = Some(Vec::new());
                for _ in 0..if self.twice { 2 } else { 1 } {
                    let sent = Command::new("kill").args(["-INT", &host.to_string()]).status();
                    assert!(sent.expect("kill runs").success());
                    thread::sleep(ARRIVES);
                }
                if self.twice {
                    out.clear();
                }
            }
            None => {}
        }
        out
    }

    /// Serves until it is told to stop.
    fn serve(mut self, mut line: TTYPort, host: u32, stop: &AtomicBool) -> Self {
        let (mut input, mut frame, mut bytes) = (Accumulator::new(), Vec::new(), [0; 4096]);
        while !stop.load(Ordering::Relaxed) {
            // Nobody has the other end open yet, or any more.
            let Ok(count) = line.read(&mut bytes) else {
                thread::sleep(Duration::from_millis(1));
                continue;
            };
            for &byte in &bytes[..count] {
                frame.push(byte);
                let Some(Ok(message)) = input.push(byte) else { continue };
                let Ok(request) = decode_request(message) else { continue };
                let answer = self.take(&std::mem::take(&mut frame), request, host);
                let _ = line.write_all(&answer);
            }
        }
        self
    }

    /// Runs `dipsift` on this station.
    fn run(self, args: &[&str]) -> Interrupted {
        let (mut line, slave) = TTYPort::pair().expect("a pseudo terminal");
        let path = slave.name().expect("a path");
        drop(slave);
        line.set_timeout(Duration::from_millis(5)).expect("a timeout");
        let begun = Instant::now();
        let child = process()
            .args(args)
            .args(["--tester", &path])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let stop = Arc::new(AtomicBool::new(false));
        let (stopped, host) = (Arc::clone(&stop), child.id());
        let served = thread::spawn(move || self.serve(line, host, &stopped));
        let output = child.wait_with_output().expect("it ends");
        let took = begun.elapsed();
        stop.store(true, Ordering::Relaxed);
        Interrupted { output, bench: served.join().expect("the station is well"), took }
    }
}

/// Demands that the host switched the tester off and did nothing else, and said so.
fn switched_off(args: &[&str], ran: &Interrupted, was_powered: bool, words: &str) {
    let errors = String::from_utf8_lossy(&ran.output.stderr);
    assert_eq!(ran.output.status.code(), Some(5), "{args:?}: {errors}");
    assert_eq!(ran.bench.was_powered, was_powered, "{args:?}");
    assert!(!ran.bench.powered(), "{args:?}");
    assert_eq!(ran.bench.after.as_deref(), Some(&[Ask::Off][..]), "{args:?}");
    assert_eq!(errors.lines().filter(|line| line.starts_with("dipsift: ")).count(), 1);
    assert!(errors.ends_with(&format!("dipsift: {words}\n")), "{args:?}: {errors}");
    let printed = String::from_utf8_lossy(&ran.output.stdout);
    assert!(!printed.contains("===="), "no verdict is printed: {printed}");
}

const NOTHING_SAID: &str = "interrupted: the socket is unpowered; nothing is said about the chip";

#[test]
fn a_march_ends_at_its_next_piece() {
    let args = ["check", "6264", "--thorough"];
    let chip = Some(("6264", Family::Nmos));
    let ran = Bench::new(chip, |ask, powered| powered && matches!(ask, Ask::Proceed)).run(&args);
    switched_off(&args, &ran, true, NOTHING_SAID);
}

#[test]
fn a_memory_that_is_read_out_is_let_go() {
    let args = ["check", "2716"];
    let at: fn(&Ask, bool) -> bool = |ask, powered| powered && matches!(ask, Ask::ReadOut { .. });
    let ran = Bench::new(Some(("2716", Family::Nmos)), at).run(&args);
    switched_off(&args, &ran, true, NOTHING_SAID);
}

#[test]
fn vectors_end_between_two_windows() {
    // 74181: fourteen inputs make several windows.
    let args = ["check", "74LS181", "--repeat", "10000"];
    let ran = Bench::new(Some(("74181", Family::Ls)), |_, powered| powered).run(&args);
    switched_off(&args, &ran, true, NOTHING_SAID);
}

#[test]
fn a_chip_is_not_powered_after_ctrl_c_before() {
    let args = ["check", "74LS00"];
    // The look before power is the first program.
    let at: fn(&Ask, bool) -> bool = |ask, _| matches!(ask, Ask::Window(_));
    let ran = Bench::new(Some(("7400", Family::Ls)), at).run(&args);
    switched_off(&args, &ran, false, NOTHING_SAID);
}

#[test]
fn a_stimulus_ends_between_two_windows() {
    let folder = Folder::new();
    let rows = "0,1\n1,1\n".repeat(1_000);
    let file = folder.file("long.csv", &format!("1A,1B\n{rows}"));
    let args = ["trace", "74LS00", "--stimulus", &file];
    let ran = Bench::new(Some(("7400", Family::Ls)), |_, powered| powered).run(&args);
    switched_off(&args, &ran, true, NOTHING_SAID);
    assert!(ran.output.stdout.is_empty());
}

#[test]
fn a_self_test_ends_at_its_next_program() {
    let args = ["selftest"];
    let at: fn(&Ask, bool) -> bool = |ask, _| matches!(ask, Ask::Window(window) if window.last);
    let ran = Bench::new(None, at).run(&args);
    switched_off(&args, &ran, false, NOTHING_SAID);
}

#[test]
fn stored_programs_stay_as_they_are() {
    let args = ["stored", "list"];
    let ran = Bench::new(None, |ask, _| matches!(ask, Ask::Stored { .. })).run(&args);
    let words = "interrupted: the socket is unpowered, and what is armed is as before";
    switched_off(&args, &ran, false, words);
}

#[test]
fn the_object_says_that_it_was_interrupted() {
    let args = ["check", "6264", "--json"];
    let chip = Some(("6264", Family::Nmos));
    let ran = Bench::new(chip, |ask, powered| powered && matches!(ask, Ask::Proceed)).run(&args);
    switched_off(&args, &ran, true, NOTHING_SAID);
    let object: serde_json::Value = serde_json::from_slice(&ran.output.stdout).expect("one object");
    assert_eq!(object["status"], serde_json::json!(5));
    assert_eq!(object["error"], serde_json::json!(NOTHING_SAID));
    assert!(object["report"].is_null());
}

#[test]
fn a_second_ctrl_c_waits_for_nobody() {
    let chip = Some(("6264", Family::Nmos));
    let mut bench = Bench::new(chip, |ask, powered| powered && matches!(ask, Ask::Proceed));
    bench.twice = true;
    let ran = bench.run(&["check", "6264"]);
    // 128 and the number of the signal, as shells tell it (POSIX.1-2017, 2.8.2).
    assert_eq!(ran.output.status.code(), Some(130));
    // A host that waited for its answer would take three seconds more, and then say so.
    assert!(ran.output.stderr.is_empty(), "{}", String::from_utf8_lossy(&ran.output.stderr));
    assert!(ran.took < Duration::from_secs(20));
}

#[test]
fn the_tester_serves_the_next_check() {
    // Once more with nothing between the two programs but the port.
    let mut simulate = process()
        .args(["simulate", "--sim-part", "74LS181"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut said = BufReader::new(simulate.stdout.take().expect("piped"));
    let mut line = String::new();
    said.read_line(&mut line).expect("a line");
    let port = line.trim_start_matches("port").trim().to_string();
    let mut check = process()
        .args(["check", "74LS181", "--repeat", "10000", "--tester", &port])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut begun = BufReader::new(check.stdout.take().expect("piped"));
    while !line.starts_with("supply") {
        line.clear();
        assert_ne!(begun.read_line(&mut line).expect("a line"), 0);
    }
    let sent = Command::new("kill").args(["-INT", &check.id().to_string()]).status();
    assert!(sent.expect("kill runs").success());
    let mut rest = String::new();
    begun.read_to_string(&mut rest).expect("UTF-8");
    let mut errors = String::new();
    check.stderr.take().expect("piped").read_to_string(&mut errors).expect("UTF-8");
    assert_eq!(check.wait().expect("it ends").code(), Some(5), "{errors}");
    assert_eq!(
        (rest.as_str(), errors.as_str()),
        ("", format!("dipsift: {NOTHING_SAID}\n").as_str())
    );
    assert_eq!(common::dipsift(&["check", "74LS181", "--tester", &port]).status, 0);
    simulate.kill().expect("it is ended");
    simulate.wait().expect("it ends");
}
