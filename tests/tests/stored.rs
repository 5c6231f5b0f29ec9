//! A check that the station runs by itself says what the host says of the same chip.

use dipsift_bench::stored::{blob, stored_program, usual_stored};
use dipsift_bench::{Outcome, Prepared, Reason};
use dipsift_language::{Family, Role};
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::fixture::capabilities;
use dipsift_nucleo_f429zi::stored::PROGRAMS;
use dipsift_simulator::{Defect, Press, Verdict};
use dipsift_stored::Blob;
use dipsift_tests::desk::{Desk, chip, library};
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The parts that are tried with every defect: gates, an open collector, hysteresis, a decoder,
/// flip-flops, counters, three-state outputs, an arithmetic unit, and CMOS of each kind.
const FIRST: [(&str, Family); 12] = [
    ("7400", Family::Ls),
    ("7403", Family::Ls),
    ("7404", Family::Standard),
    ("7474", Family::Ls),
    ("7490", Family::Standard),
    ("74138", Family::Ls),
    ("74161", Family::Ls),
    ("74181", Family::Ls),
    ("74244", Family::Ls),
    ("4011", Family::B),
    ("4017", Family::B),
    ("4049", Family::B),
];

/// What the station's word means in the host's.
const fn outcome(verdict: Verdict) -> Outcome {
    match verdict {
        Verdict::Go => Outcome::Go,
        Verdict::NoGo => Outcome::NoGo,
        Verdict::NotDecided => Outcome::NotDecided,
    }
}

/// A desk with the program of a part armed.
fn armed(seed: u64, prepared: &Prepared) -> Desk {
    let mut desk = Desk::new(seed);
    let armed = desk.bench.link().arm(Some(&prepared.name)).expect("a program of this name");
    assert_eq!(armed.map(|armed| armed.name.to_string()), Some(prepared.name.clone()));
    desk
}

/// Puts the chip in and presses the button.
fn press(desk: &mut Desk, prepared: &Prepared, defects: &[Defect], seed: u64) -> Outcome {
    let chip = chip(prepared, defects, seed).expect("a chip");
    desk.station().insert(chip, defects).expect("inserted");
    let press = desk.station().press();
    desk.station().remove();
    match press {
        Press::Ran(verdict) => outcome(verdict),
        other => panic!("{}: {other:?}", prepared.name),
    }
}

fn pins(prepared: &Prepared, wanted: &dyn Fn(Role) -> bool) -> Vec<u8> {
    (1..=prepared.package.pins.len() as u8)
        .filter(|&number| {
            let id = prepared.package.at(number);
            id.is_some_and(|id| wanted(prepared.part.pin(id).role))
        })
        .collect()
}

/// Every kind of defect, at every pin that it can be at.
fn defects(prepared: &Prepared) -> Vec<Defect> {
    let last = prepared.package.pins.len() as u8;
    let mut all = vec![
        Defect::SupplyShorted,
        Defect::SupplyOpen,
        Defect::TurnedRound,
        Defect::Empty,
        Defect::Part(if prepared.part.number == "7402" { "7400" } else { "7402" }.into()),
    ];
    all.extend([1, 2, 3].map(|by| Defect::Shifted { by }));
    for pin in pins(prepared, &|role| !matches!(role, Role::Supply | Role::Ground)) {
        all.extend([false, true].map(|high| Defect::Stuck { pin, high }));
        all.push(Defect::Open { pin });
        all.extend([300, 1_000, 10_000].map(|ohms| Defect::Leaky { pin, ohms }));
    }
    for pin in pins(prepared, &|role| matches!(role, Role::Output | Role::Bidirectional)) {
        all.extend([100, 1_000, 20_000].map(|ohms| Defect::Weak { pin, ohms }));
        all.extend([3, 30, 1_000].map(|factor| Defect::Slow { pin, factor }));
    }
    all.extend((1..last).map(|pin| Defect::Shorted { pin, other: pin + 1 }));
    all
}

/// Runs over cases on two threads.
fn over<T: Sync>(cases: &[T], each: impl Fn(usize, &T) + Sync) {
    let next = AtomicUsize::new(0);
    let work = || {
        while let Some(index) =
            Some(next.fetch_add(1, Ordering::Relaxed)).filter(|&index| index < cases.len())
        {
            each(index, &cases[index]);
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(work);
        work();
    });
}

/// What the station says otherwise than the host: part, defect, the host's word, the station's.
///
/// Each of these leaks holds a released input, beside the keeper, between the station's certain
/// levels, where each reading is a matter of luck: with another seed the host says otherwise, too.
/// The host's look reads all pins at each sample and the station's compares one, so that they
/// draw different lots on the same desk.
const LUCK: [(&str, &str, Outcome, Outcome); 3] = [
    ("7490", "pin 1 leaky 300 ohm", Outcome::NotDecided, Outcome::NoGo),
    ("4049B", "pin 7 leaky 10000 ohm", Outcome::Go, Outcome::NotDecided),
    ("4049B", "pin 14 leaky 10000 ohm", Outcome::Go, Outcome::NotDecided),
];

#[test]
fn every_defect_of_the_first_parts_gets_the_hosts_verdict() {
    let counts = Mutex::new(BTreeMap::<(&str, &str), u32>::new());
    let different = Mutex::new(Vec::new());
    over(&FIRST, |turn, &(number, family)| {
        let part = library().part(number).expect("a part of the library");
        let prepared = Desk::new(0).bench.prepare(part, family).expect("a part that is checked");
        for (nth, defect) in defects(&prepared).iter().enumerate() {
            // Some levels are a matter of luck; on two desks of one seed it is the same luck.
            let seed = (turn * 1_000 + nth) as u64;
            let defects = std::slice::from_ref(defect);
            let (mut theirs, mut own) = (Desk::new(seed), armed(seed, &prepared));
            let host = theirs.play(&prepared, defects, seed, false).expect("a check").outcome;
            let said = press(&mut own, &prepared, defects, seed);
            let luck = own.counters().doubtful_samples + theirs.counters().doubtful_samples > 0;
            *counts.lock().unwrap().entry((host.words(), said.words())).or_default() += 1;
            let word = defect.to_string();
            let lucky = LUCK.contains(&(prepared.name.as_str(), word.as_str(), host, said));
            if lucky != (host != said) || lucky && !luck {
                different.lock().unwrap().push(format!(
                    "{} {defect}: host {}, station {}",
                    prepared.name,
                    host.words(),
                    said.words()
                ));
            }
        }
    });
    for ((host, own), count) in counts.lock().unwrap().iter() {
        println!("host {host:>12}, station {own:>12}: {count}");
    }
    let different = different.into_inner().unwrap();
    assert!(different.is_empty(), "{}:\n{}", different.len(), different.join("\n"));
}

#[test]
fn every_stored_part_is_go_when_good_and_no_go_with_an_output_stuck() {
    let cases = usual_stored(library());
    let wrong = Mutex::new(Vec::new());
    over(&cases, |turn, (part, family)| {
        let prepared = Desk::new(0).bench.prepare(part, *family).expect("a part that is checked");
        let mut desk = armed(turn as u64, &prepared);
        let before = desk.counters();
        let good = press(&mut desk, &prepared, &[], turn as u64);
        let after = desk.counters();
        let fights = after.contention_events - before.contention_events;
        let outputs = pins(&prepared, &|role| matches!(role, Role::Output | Role::Bidirectional));
        let bad = Defect::Stuck { pin: outputs[turn % outputs.len()], high: turn % 2 == 0 };
        let host = desk.play(&prepared, std::slice::from_ref(&bad), 1, false).expect("a check");
        let bad = press(&mut desk, &prepared, &[bad], 1);
        if good != Outcome::Go || fights > 0 || bad != host.outcome || bad == Outcome::Go {
            wrong.lock().unwrap().push(format!(
                "{}: good {good:?} with {fights} fights, bad {bad:?}, host {:?}",
                prepared.name, host.outcome
            ));
        }
    });
    let wrong = wrong.into_inner().unwrap();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Chips of families whose inputs ask for more than the part's own, so that a low may be too weak.
#[test]
fn a_weak_low_is_not_decided_by_either() {
    let cases: Vec<_> = usual_stored(library())
        .into_iter()
        .filter(|(_, family)| *family == Family::Standard)
        .collect();
    let weak = Mutex::new(Vec::new());
    let different = Mutex::new(Vec::new());
    over(&cases, |turn, (part, family)| {
        let prepared = Desk::new(0).bench.prepare(part, *family).expect("a part that is checked");
        for other in [Family::H, Family::S, Family::As] {
            let defects = [Defect::Family(other)];
            let seed = turn as u64;
            let (mut theirs, mut own) = (Desk::new(seed), armed(seed, &prepared));
            let host = theirs.play(&prepared, &defects, seed, false).expect("a check");
            let said = press(&mut own, &prepared, &defects, seed);
            let line = format!(
                "{} as {other:?}: host {:?} {:?}, station {said:?}",
                prepared.name, host.outcome, host.reason
            );
            if host.reason == Reason::WeakLow {
                weak.lock().unwrap().push(line.clone());
            }
            if host.outcome != said {
                different.lock().unwrap().push(line);
            }
        }
    });
    let (weak, different) = (weak.into_inner().unwrap(), different.into_inner().unwrap());
    println!("{}", weak.join("\n"));
    assert!(different.is_empty(), "{}", different.join("\n"));
    assert!(!weak.is_empty());
}

#[test]
fn the_image_holds_what_the_library_says() {
    let capabilities = capabilities(Clocking::External);
    let programs: Vec<_> = usual_stored(library())
        .iter()
        .map(|(part, family)| {
            stored_program(part, *family, &capabilities)
                .unwrap_or_else(|refused| panic!("{}: {:?}", refused.name, refused.sentences))
        })
        .collect();
    let fresh = blob(&programs).expect("a blob");
    assert!(
        fresh == PROGRAMS,
        "firmware/boards/nucleo-f429zi/stored.bin is not of this library; renew it with: \
         cargo run -- stored compile --out firmware/boards/nucleo-f429zi/stored.bin"
    );
    let held = Blob::new(PROGRAMS).expect("a whole blob");
    assert!(held.entries(0).all(|entry| entry.is_runnable()));
    assert!(held.count() >= 60, "{}", held.count());
    println!("{} programs, {} bytes", held.count(), PROGRAMS.len());
}
