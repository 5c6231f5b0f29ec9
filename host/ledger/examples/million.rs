//! Measures a ledger of a million generated results: `cargo run --release -p dipsift-ledger
//! --example million [FILE] [COUNT]`. The figures printed are of this machine.
//!
//! Fails where opening takes 100 ms or more, or the report of the largest lot 2 s or more.

use dipsift_ledger::{
    Current, DateCode, FailingPin, Hex, Insertion, Ledger, LedgerError, Lot, Nature, Selection,
    Tester, Type, Verdict, Which,
};
use std::io::{BufWriter, Write as _};
use std::path::Path;
use std::time::{Duration, Instant};

/// Invented: a workshop of types, nine tenths of it in one lot.
fn insertion(number: u64, at: jiff::Timestamp) -> Insertion {
    let dice = (number + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20;
    let name = format!("74LS{:02}", dice % 40);
    let memory = dice.is_multiple_of(10);
    let bad = dice % 100 < 20;
    let pin = |pin: u8| FailingPin {
        pin,
        name: format!("{pin}Y"),
        low: (dice % 7) as u32,
        high: 1,
        held: 0,
        open: false,
    };
    Insertion {
        at,
        lot: if dice % 1000 < 900 { "large" } else { "small" }.into(),
        marking: format!("{name} 84{:02}", dice % 52 + 1),
        chip: Type {
            part: name.replace("LS", ""),
            name,
            family: "LS".into(),
            package: "DIP14".into(),
        },
        date_code: DateCode::new(1980 + (dice % 10) as u16, (dice % 52 + 1) as u8),
        tester: Tester {
            name: "bench".into(),
            nature: Nature::Simulated,
            firmware: "0.1.0".into(),
        },
        program_hash: Some(Hex(dice.to_be_bytes().to_vec())),
        verdict: if bad { Verdict::NoGo } else { Verdict::Go },
        reason: if bad { "functions" } else { "functional" }.into(),
        explanation: bad.then(|| "outputs stay low".into()),
        failing_pins: if bad { vec![pin((dice % 12) as u8 + 1), pin(14)] } else { Vec::new() },
        supply_mv: Some(5000),
        currents: vec![Current { what: "largest".into(), microamperes: (dice % 9000) as i32 }],
        steps: 64,
        failures: if bad { 5 } else { 0 },
        speed_grade: memory.then(|| format!("{} ns", 50 * (dice / 16 % 6 + 1))),
        memory_map: None,
        note: None,
        retest_of: None,
    }
}

fn timed<T>(
    what: &str,
    run: impl FnOnce() -> Result<T, LedgerError>,
) -> Result<(T, Duration), LedgerError> {
    let begun = Instant::now();
    let value = run()?;
    let took = begun.elapsed();
    println!("{what:<44} {:>9.1} ms", took.as_secs_f64() * 1e3);
    Ok((value, took))
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = tempfile::tempdir()?;
    let file = arguments.next().map_or_else(|| folder.path().join("million.ledger"), Into::into);
    let count: u64 = arguments.next().map_or(Ok(1_000_000), |count| count.parse())?;
    if !file.exists() {
        let (mut ledger, _) = timed("making an empty ledger", || Ledger::open(&file))?;
        let begun = jiff::Timestamp::from_second(1_780_000_000)?;
        for name in ["large", "small"] {
            ledger.add_lot(&Lot { at: begun, name: name.into(), description: None })?;
        }
        let seconds = |number: u64| begun + jiff::SignedDuration::from_secs(number.cast_signed());
        timed("recording 200, each synced", || {
            (0..200)
                .try_for_each(|number| ledger.record(&insertion(number, seconds(number))).map(drop))
        })?;
        // A million synced records take an evening; an import is one transaction.
        timed(&format!("importing {count} from JSON"), || {
            generate(&file, count, seconds).and_then(|text| ledger.import_json(text))
        })?;
        for number in 0..1000 {
            let chip = ledger.last_insertions("large", 1)?.remove(0);
            if number % 2 == 0 {
                let again = Insertion { retest_of: Some(chip.id), ..chip.entry };
                ledger.record(&again)?;
            } else {
                ledger.undo_last("large", begun, None)?;
            }
        }
    }
    println!("{:<44} {:>9.1} MB", "file", std::fs::metadata(&file)?.len() as f64 / 1e6);
    let (ledger, opened) = timed("opening", || Ledger::open(&file))?;
    let (report, reported) =
        timed("report of the large lot", || ledger.report(&Selection::lot("large")))?;
    println!("{report:.0?}", report = report.chips());
    timed("report of the small lot", || ledger.report(&Selection::lot("small")))?;
    timed("report of everything", || ledger.report(&Selection::default()))?;
    timed("report of a day", || {
        let from = report.first;
        let until = from.map(|from| from + jiff::SignedDuration::from_hours(24));
        ledger.report(&Selection { lot: None, from, until })
    })?;
    let (_, listed) = timed("what its paper lists", || {
        ledger.counted("large", Which::NotGood, 300)?;
        ledger.counted("large", Which::Mapped, 24)?;
        ledger.counted("large", Which::Good, 300)
    })?;
    timed("last 20 insertions", || ledger.last_insertions("large", 20))?;
    timed("check", || ledger.check())?;
    timed("export as CSV", || ledger.export_csv(std::io::sink()))?;
    timed("export as JSON", || ledger.export_json(std::io::sink()))?;
    let copy = folder.path().join("copy.ledger");
    timed("backup with its check", || ledger.backup(&copy))?;
    let (mut other, _) = timed("opening another", || Ledger::open(&folder.path().join("other")))?;
    timed("merging into an empty one", || other.merge(&copy))?;
    timed("merging again", || other.merge(&copy))?;
    if opened >= Duration::from_millis(100) || reported + listed >= Duration::from_secs(2) {
        return Err("slower than it has to be".into());
    }
    Ok(())
}

/// A million results as a JSON export, in a file beside the ledger.
fn generate(
    beside: &Path,
    count: u64,
    at: impl Fn(u64) -> jiff::Timestamp,
) -> Result<std::fs::File, LedgerError> {
    let path = beside.with_extension("json");
    let failed = |source| LedgerError::File { what: "the generated export".into(), source };
    let mut text = BufWriter::new(std::fs::File::create(&path).map_err(failed)?);
    let ledger = "01970000-0000-7000-8000-000000000000";
    let begin = format!(
        "{{\"format\":\"dipsift-ledger\",\"version\":1,\"ledger\":\"{ledger}\",\"records\":["
    );
    text.write_all(begin.as_bytes()).map_err(failed)?;
    for number in 0..count {
        let entry = serde_json::to_string(&insertion(number, at(number)))
            .map_err(|error| failed(error.into()))?;
        let separator = if number == 0 { "" } else { "," };
        let id = format!("01970000-0000-7000-8000-{:012x}", number + 1);
        let sequence = number + 1000;
        let head = format!(
            "{separator}\n{{\"record\":\"insertion\",\"id\":\"{id}\",\"ledger\":\"{ledger}\",\
             \"sequence\":{sequence},"
        );
        text.write_all(head.as_bytes())
            .and_then(|()| text.write_all(&entry.as_bytes()[1..]))
            .map_err(failed)?;
    }
    text.write_all(b"]}").and_then(|()| text.flush()).map_err(failed)?;
    drop(text);
    let file = std::fs::File::open(&path).map_err(failed)?;
    std::fs::remove_file(&path).map_err(failed)?;
    Ok(file)
}
