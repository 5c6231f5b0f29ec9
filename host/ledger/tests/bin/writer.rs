//! Writes to a ledger until it is killed, and says what is recorded. For the tests only.
//!
//! `ledger-writer FILE SEED [COUNT]` prints the id of each insertion after it is recorded.

use dipsift_ledger::{
    Current, FailingPin, Hex, Insertion, Ledger, LedgerError, Lot, Nature, Remark, RemarkKind,
    Selftest, Subject, Tester, Type, Undo, Verdict,
};
use std::io::Write as _;
use std::path::Path;

fn insertion(number: u64) -> Insertion {
    let bad = number.is_multiple_of(5);
    let pin =
        |pin| FailingPin { pin, name: format!("{pin}Y"), low: 3, high: 0, held: 0, open: false };
    Insertion {
        at: jiff::Timestamp::now(),
        lot: "cabinet 3".into(),
        marking: "74LS00 8423".into(),
        chip: Type {
            name: "74LS00".into(),
            part: "7400".into(),
            family: "LS".into(),
            package: "DIP14".into(),
        },
        date_code: dipsift_ledger::DateCode::new(1984, 23),
        tester: Tester {
            name: "the writer".into(),
            nature: Nature::Simulated,
            firmware: "0.1.0".into(),
        },
        program_hash: Some(Hex(vec![1, 2, 3, 4])),
        verdict: if bad { Verdict::NoGo } else { Verdict::Go },
        reason: if bad { "functions" } else { "functional" }.into(),
        explanation: bad.then(|| "two outputs stay low".into()),
        failing_pins: if bad { vec![pin(3), pin(6)] } else { Vec::new() },
        supply_mv: Some(5000),
        currents: vec![Current { what: "largest".into(), microamperes: 2400 }],
        steps: 40,
        failures: if bad { 6 } else { 0 },
        speed_grade: None,
        // A record of several pages now and then: more to tear.
        memory_map: (number.is_multiple_of(7)).then(|| Hex(vec![0x5A; 20_000])),
        note: None,
        retest_of: None,
    }
}

fn main() -> Result<(), LedgerError> {
    let arguments: Vec<String> = std::env::args().collect();
    let seed: u64 = arguments[2].parse().expect("a seed");
    let count = arguments.get(3).map_or(u64::MAX, |count| count.parse().expect("a count"));
    let mut ledger = Ledger::open_seeded(Path::new(&arguments[1]), Some(seed))?;
    let at = jiff::Timestamp::now();
    match ledger.add_lot(&Lot { at, name: "cabinet 3".into(), description: None }) {
        Ok(_) | Err(LedgerError::LotExists(_)) => {}
        // The other writer was quicker between the look and the record.
        Err(LedgerError::Rule(_)) if ledger.lot("cabinet 3")?.is_some() => {}
        Err(error) => return Err(error),
    }
    for number in 1..=count {
        let id = ledger.record(&insertion(number))?;
        // One write for the whole line, so that the reader never sees half of it.
        if std::io::stdout().write_all(format!("{id}\n").as_bytes()).is_err() {
            return Ok(());
        }
        let at = jiff::Timestamp::now();
        if number.is_multiple_of(4) {
            ledger.undo(&Undo { at, insertion: id, reason: None })?;
        }
        if number.is_multiple_of(6) {
            let about = Subject::Insertion(id);
            let text = "bent pin".to_owned();
            ledger.add_remark(&Remark { at, about, kind: RemarkKind::Note, text })?;
        }
        if number.is_multiple_of(9) {
            let tester = insertion(1).tester;
            let lines = vec!["empty socket".to_owned()];
            ledger.add_selftest(&Selftest { at, tester, passed: true, lines })?;
        }
    }
    Ok(())
}
