//! Records for the tests. Names and figures are invented.

#![allow(dead_code, reason = "each test file uses its own part")]

use dipsift_ledger::{
    Current, DateCode, FailingPin, Hex, Insertion, Ledger, Lot, Nature, Selftest, Tester, Type,
    Verdict,
};
use jiff::{Timestamp, ToSpan as _};

/// Seconds after the beginning of an evening.
pub fn at(seconds: i64) -> Timestamp {
    "2026-11-25T18:00:00Z".parse::<Timestamp>().unwrap() + seconds.seconds()
}

pub fn tester() -> Tester {
    Tester { name: "bench one".into(), nature: Nature::Simulated, firmware: "0.1.0".into() }
}

pub fn chip(name: &str) -> Type {
    Type {
        name: name.into(),
        part: name.replace("LS", ""),
        family: "LS".into(),
        package: "DIP14".into(),
    }
}

/// A good chip of the lot `bag`.
pub fn good(seconds: i64) -> Insertion {
    Insertion {
        at: at(seconds),
        lot: "bag".into(),
        marking: "74LS00".into(),
        chip: chip("74LS00"),
        date_code: DateCode::new(1984, 23),
        tester: tester(),
        program_hash: Some(Hex(vec![0xDE, 0xAD, 0xBE, 0xEF])),
        verdict: Verdict::Go,
        reason: "functional".into(),
        explanation: None,
        failing_pins: Vec::new(),
        supply_mv: Some(5000),
        currents: vec![
            Current { what: "idle".into(), microamperes: 1600 },
            Current { what: "largest".into(), microamperes: 2400 },
        ],
        steps: 40,
        failures: 0,
        speed_grade: None,
        memory_map: None,
        note: None,
        retest_of: None,
    }
}

pub fn pin(pin: u8, low: u32, high: u32, held: u32, open: bool) -> FailingPin {
    FailingPin { pin, name: format!("{pin}Y"), low, high, held, open }
}

/// A bad chip of the lot `bag`.
pub fn bad(seconds: i64, pins: &[FailingPin]) -> Insertion {
    Insertion {
        verdict: Verdict::NoGo,
        reason: "functions".into(),
        explanation: Some("outputs stay low".into()),
        failing_pins: pins.to_vec(),
        failures: 3,
        ..good(seconds)
    }
}

pub fn bag() -> Lot {
    Lot { at: at(0), name: "bag".into(), description: Some("left cabinet".into()) }
}

pub fn selftest(seconds: i64, passed: bool) -> Selftest {
    Selftest { at: at(seconds), tester: tester(), passed, lines: vec!["empty socket".into()] }
}

/// A ledger with the lot `bag`.
pub fn with_bag(seed: u64) -> Ledger {
    let mut ledger = Ledger::in_memory(Some(seed)).unwrap();
    ledger.add_lot(&bag()).unwrap();
    ledger
}
