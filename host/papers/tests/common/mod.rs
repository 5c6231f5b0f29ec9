//! An evening of a repair club that clears the cabinets of a closed training workshop. Invented.

#![allow(dead_code, reason = "each file uses its own share")]

use dipsift_ledger::{
    Current, DateCode, FailingPin, Hex, Insertion, Ledger, Lot, MemoryMap, Nature, Remark,
    RemarkKind, Selection, Selftest, Subject, Tester, Type, Verdict, Which,
};
use dipsift_papers::{Label, Lists, LotPaper, Photo, Sheet, labels_of, lot_report};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use std::collections::BTreeMap;

pub const LOT: &str = "cabinet 3, left";

pub fn at(seconds: i64) -> Timestamp {
    "2026-11-25T18:00:00Z".parse::<Timestamp>().unwrap() + seconds.seconds()
}

fn chip(name: &str, part: &str, family: &str, package: &str) -> Type {
    Type { name: name.into(), part: part.into(), family: family.into(), package: package.into() }
}

pub fn titles() -> BTreeMap<String, String> {
    [
        ("7400", "quad 2-input NAND gate"),
        ("74153", "dual 4-line to 1-line data selector"),
        ("4116", "16384 x 1 dynamic memory"),
        ("2114", "1024 x 4 static memory"),
    ]
    .map(|(part, title)| (part.to_owned(), title.to_owned()))
    .into()
}

fn tester(nature: Nature) -> Tester {
    Tester { name: "bench by the window".into(), nature, firmware: "0.1.0".into() }
}

fn good(seconds: i64, chip: Type, week: u8, nature: Nature) -> Insertion {
    Insertion {
        at: at(seconds),
        lot: LOT.into(),
        marking: format!("{} 84{week:02}", chip.name),
        chip,
        date_code: DateCode::new(1984, week),
        tester: tester(nature),
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

fn pin(pin: u8, name: &str, low: u32, high: u32) -> FailingPin {
    FailingPin { pin, name: name.into(), low, high, held: 0, open: low + high == 0 }
}

fn bad(insertion: Insertion, pins: &[FailingPin]) -> Insertion {
    Insertion {
        verdict: Verdict::NoGo,
        reason: "functions".into(),
        explanation: Some("outputs are not what the inputs ask for".into()),
        failing_pins: pins.to_vec(),
        failures: 3,
        ..insertion
    }
}

/// The ledger of the evening.
pub fn evening(nature: Nature) -> Ledger {
    let mut ledger = Ledger::in_memory(Some(7)).unwrap();
    let description =
        Some("from the training workshop, drawers 12 to 17 <donated & unsorted>".into());
    ledger.add_lot(&Lot { at: at(0), name: LOT.into(), description }).unwrap();
    let lines = vec!["empty socket".into()];
    ledger
        .add_selftest(&Selftest { at: at(1), tester: tester(nature), passed: true, lines })
        .unwrap();
    let mut second = 10;
    let mut next = || {
        second += 20;
        second
    };
    let nand = || chip("74LS00", "7400", "LS", "DIP14");
    let selector = || chip("74LS153", "74153", "LS", "DIP16");
    let dynamic = || chip("4116", "4116", "", "DIP16");
    let fast = || chip("2114", "2114", "", "DIP18");
    // 43 good of 50.
    for number in 0..50_u8 {
        let chip = good(next(), nand(), 10 + number % 20, nature);
        let chip = match number {
            5 | 17 | 30 | 41 => bad(chip, &[pin(6, "2Y", 12, 0)]),
            22 => bad(chip, &[pin(3, "1Y", 0, 4), pin(6, "2Y", 6, 0)]),
            37 => bad(chip, &[pin(8, "3Y", 2, 2)]),
            44 => bad(chip, &[pin(14, "VCC", 0, 0)]),
            _ => chip,
        };
        ledger.record(&chip).unwrap();
    }
    for number in 0..6 {
        ledger.record(&good(next(), selector(), 30 + number, nature)).unwrap();
    }
    let odd = Insertion {
        verdict: Verdict::NotDecided,
        reason: "open-contact".into(),
        explanation: Some("pin 7 has no contact: clean the legs and seat it again".into()),
        note: Some("legs black".into()),
        ..good(next(), selector(), 9, nature)
    };
    ledger.record(&odd).unwrap();
    for number in 0..12_u8 {
        let grade = ["150 ns", "200 ns", "200 ns", "250 ns"][usize::from(number % 4)];
        let chip = Insertion {
            speed_grade: Some(grade.into()),
            ..good(next(), dynamic(), 2 + number, nature)
        };
        ledger.record(&chip).unwrap();
    }
    // A dead row, and single cells.
    let row = (0..128).map(|column| (64 * 128 + column, 1)).chain([(5, 1), (9000, 1), (16_383, 1)]);
    let map = MemoryMap::new(16_384, 1, row).unwrap().to_hex().unwrap();
    let chip = bad(good(next(), dynamic(), 3, nature), &[pin(14, "DOUT", 200, 31)]);
    ledger.record(&Insertion { memory_map: Some(map), ..chip }).unwrap();
    let cells = (0..32).map(|row| (row * 32 + 7, 0b0100)).chain([(40, 0b0001), (700, 0b1000)]);
    let map = MemoryMap::new(1024, 4, cells).unwrap().to_hex().unwrap();
    let chip = bad(good(next(), fast(), 40, nature), &[pin(12, "IO3", 30, 12)]);
    ledger.record(&Insertion { memory_map: Some(map), ..chip }).unwrap();
    for (kind, text) in [
        (RemarkKind::Note, "tube with the torn label; 74LS00 among 74LS153"),
        (RemarkKind::Photo, "photos/2026-11-25/tube.jpg"),
        (RemarkKind::Photo, "photos/lost.png"),
    ] {
        let about = Subject::Lot(LOT.into());
        ledger.add_remark(&Remark { at: at(3000), about, kind, text: text.into() }).unwrap();
    }
    ledger
}

/// The smallest picture there is: one dot (GIF89a), from memory.
pub const DOT: &[u8] =
    b"GIF89a\x01\0\x01\0\x80\x01\0\0\0\0\xff\xff\xff,\0\0\0\0\x01\0\x01\0\0\x02\x02D\x01\0;";

/// One photograph was found, one not.
pub fn photos() -> BTreeMap<String, Photo> {
    let left = Photo::Left("there is no such file".into());
    [("photos/2026-11-25/tube.jpg", Photo::of(DOT)), ("photos/lost.png", left)]
        .map(|(path, photo)| (path.to_owned(), photo))
        .into()
}

pub fn report_of(ledger: &Ledger) -> String {
    let lot = ledger.lot(LOT).unwrap().unwrap();
    let report = ledger.report(&Selection::lot(LOT)).unwrap();
    let lists = Lists {
        not_good: ledger.counted(LOT, Which::NotGood, 100).unwrap(),
        good: ledger.counted(LOT, Which::Good, 20).unwrap(),
        mapped: ledger.counted(LOT, Which::Mapped, 24).unwrap(),
        remarks: ledger.remarks(LOT).unwrap(),
        selftests: ledger
            .last_selftest("bench by the window", at(0))
            .unwrap()
            .into_iter()
            .collect(),
        titles: titles(),
        photos: photos(),
    };
    let zone = TimeZone::UTC;
    lot_report(&LotPaper { lot: &lot, report: &report, lists: &lists, at: at(4000), zone: &zone })
}

pub fn labels(ledger: &Ledger) -> Vec<Label> {
    let report = ledger.report(&Selection::lot(LOT)).unwrap();
    labels_of(LOT, &report, &titles(), &TimeZone::UTC)
}

/// 65 labels on a sheet, a size that is sold (common practice).
pub fn narrow() -> Sheet {
    Sheet {
        columns: 5,
        rows: 13,
        left_mm: 4.7,
        top_mm: 10.7,
        pitch_x_mm: 40.6,
        pitch_y_mm: 21.2,
        width_mm: 38.1,
        height_mm: 21.2,
    }
}
