//! What is recorded is read back, and what counts.

mod common;

use common::{at, bad, bag, chip, good, pin, selftest, with_bag};
use dipsift_ledger::{
    Counts, DateCode, Failure, Hex, Insertion, Ledger, LedgerError, Lot, Nature, Remark,
    RemarkKind, Selection, Subject, Undo, Verdict, Which,
};

#[test]
fn an_insertion_is_read_back_as_it_was() {
    let mut ledger = with_bag(1);
    let full = Insertion {
        marking: "DM74LS00N \u{201C}8423\u{201D}".into(),
        memory_map: Some(Hex((0..=255).collect())),
        speed_grade: Some("150 ns".into()),
        note: Some("bent pin\nstraightened".into()),
        currents: vec![
            dipsift_ledger::Current { what: "idle".into(), microamperes: -3 },
            dipsift_ledger::Current { what: "largest".into(), microamperes: 70_000 },
        ],
        ..bad(10, &[pin(3, 1, 2, 3, false), pin(6, 0, 0, 0, true)])
    };
    let id = ledger.record(&full).unwrap();
    let stored = ledger.insertion(id).unwrap().unwrap();
    assert_eq!(stored.entry, full);
    assert_eq!((stored.id, stored.ledger, stored.sequence), (id, ledger.id(), 1));
    let bare = Insertion {
        marking: String::new(),
        date_code: None,
        program_hash: None,
        verdict: Verdict::Trouble,
        reason: "link".into(),
        supply_mv: None,
        currents: Vec::new(),
        ..good(20)
    };
    let id = ledger.record(&bare).unwrap();
    assert_eq!(ledger.insertion(id).unwrap().unwrap().entry, bare);
}

#[test]
fn a_report_counts_chips_pins_and_grades() {
    let mut ledger = with_bag(2);
    let graded = |seconds, grade: &str, week| Insertion {
        chip: chip("74LS189"),
        speed_grade: Some(grade.into()),
        date_code: DateCode::new(1984, week),
        ..good(seconds)
    };
    for insertion in [
        good(1),
        good(2),
        bad(3, &[pin(3, 2, 0, 0, false), pin(6, 0, 1, 0, false)]),
        bad(4, &[pin(3, 5, 0, 0, false)]),
        bad(5, &[pin(3, 1, 1, 0, false), pin(8, 0, 0, 1, false)]),
        graded(6, "150 ns", 30),
        graded(7, "70 ns", 9),
        graded(8, "150 ns", 12),
        // A grade of a bad chip is no stock.
        Insertion { verdict: Verdict::NoGo, failures: 1, ..graded(9, "100 ns", 1) },
        Insertion {
            verdict: Verdict::NotDecided,
            reason: "open-contact".into(),
            failing_pins: vec![pin(14, 0, 0, 0, true)],
            ..good(10)
        },
        Insertion { verdict: Verdict::Refused, steps: 0, ..good(11) },
    ] {
        ledger.record(&insertion).unwrap();
    }
    let report = ledger.report(&Selection::lot("BAG")).unwrap();
    assert_eq!(report.insertions, 11);
    assert_eq!((report.first, report.last), (Some(at(1)), Some(at(11))));
    let names: Vec<_> = report.types.iter().map(|line| line.chip.name.as_str()).collect();
    assert_eq!(names, ["74LS00", "74LS189"]);
    assert_eq!(
        report.types[0].counts,
        Counts { go: 2, no_go: 3, not_decided: 1, refused: 1, trouble: 0 }
    );
    assert_eq!(report.types[1].made, DateCode::new(1984, 1).zip(DateCode::new(1984, 30)));
    assert_eq!((report.chips().total(), report.chips().decided()), (11, 9));
    let pins: Vec<_> =
        report.pins.iter().map(|count| (count.pin, count.failure, count.chips)).collect();
    assert_eq!(
        pins,
        [
            (3, Failure::StaysLow, 2),
            (3, Failure::Wrong, 1),
            (6, Failure::StaysHigh, 1),
            (8, Failure::StillDrives, 1),
            (14, Failure::Open, 1),
        ]
    );
    let speeds: Vec<_> =
        report.speeds.iter().map(|count| (count.speed_grade.as_str(), count.chips)).collect();
    assert_eq!(speeds, [("70 ns", 1), ("150 ns", 2)]);
    assert_eq!(report.testers.len(), 1);
    assert_eq!((report.testers[0].chips, report.testers[0].tester.nature), (11, Nature::Simulated));
    let evening = Selection { from: Some(at(3)), until: Some(at(6)), lot: None };
    assert_eq!(ledger.report(&evening).unwrap().chips().no_go, 3);
    let error = ledger.report(&Selection::lot("other")).unwrap_err();
    assert!(matches!(error, LedgerError::UnknownLot(name) if name == "other"));
}

#[test]
fn a_chip_counts_once_with_its_last_insertion_that_was_not_undone() {
    let mut ledger = with_bag(3);
    let first = ledger.record(&bad(1, &[pin(3, 1, 0, 0, false)])).unwrap();
    // The clock of a small computer may go back; the order of recording decides.
    let second = ledger.record(&Insertion { retest_of: Some(first), ..good(-500) }).unwrap();
    let third = Insertion { retest_of: Some(second), ..bad(3, &[pin(6, 0, 1, 0, false)]) };
    let third = ledger.record(&third).unwrap();
    ledger.record(&good(4)).unwrap();
    assert_eq!(ledger.insertion(third).unwrap().unwrap().entry.retest_of, Some(first));

    let now = |ledger: &Ledger| {
        let report = ledger.report(&Selection::lot("bag")).unwrap();
        let mut listed = Vec::new();
        ledger.for_each_counted("bag", |insertion| listed.push(insertion.entry.verdict)).unwrap();
        assert_eq!(listed.len() as u64, report.chips().total());
        (report.chips().go, report.chips().no_go, report.replaced, report.undone)
    };
    assert_eq!(now(&ledger), (1, 1, 2, 0));
    let undo = |insertion| Undo { at: at(5), insertion, reason: None };
    ledger.undo(&undo(third)).unwrap();
    assert_eq!(now(&ledger), (2, 0, 1, 1));
    ledger.undo(&undo(first)).unwrap();
    assert_eq!(now(&ledger), (2, 0, 0, 2));
    ledger.undo(&undo(second)).unwrap();
    assert_eq!(now(&ledger), (1, 0, 0, 3));
    let error = ledger.undo(&undo(second)).unwrap_err();
    assert!(matches!(error, LedgerError::AlreadyUndone(id) if id == second));
}

#[test]
fn the_last_insertion_can_be_undone_until_none_is_left() {
    let mut ledger = with_bag(4);
    let ids = [good(1), good(2)].map(|insertion| ledger.record(&insertion).unwrap());
    assert_eq!(ledger.undo_last("bag", at(3), Some("wrong bag")).unwrap(), ids[1]);
    assert_eq!(ledger.undo_last("bag", at(4), None).unwrap(), ids[0]);
    let error = ledger.undo_last("bag", at(5), None).unwrap_err();
    assert!(matches!(error, LedgerError::NothingToUndo(lot) if lot == "bag"));
    let last = ledger.last_insertions("bag", 1).unwrap();
    assert_eq!((last.len(), last[0].id), (1, ids[1]));
}

#[test]
fn remarks_and_self_tests_are_found_again() {
    let mut ledger = with_bag(5);
    let id = ledger.record(&good(1)).unwrap();
    let of_lot = Remark {
        at: at(2),
        about: Subject::Lot("bag".into()),
        kind: RemarkKind::Photo,
        text: "pictures/bag.jpg".into(),
    };
    let of_chip = Remark {
        about: Subject::Insertion(id),
        kind: RemarkKind::Note,
        text: "gold lid".into(),
        ..of_lot.clone()
    };
    ledger.add_remark(&of_lot).unwrap();
    ledger.add_remark(&of_chip).unwrap();
    let remarks: Vec<_> =
        ledger.remarks("bag").unwrap().into_iter().map(|remark| remark.entry).collect();
    assert_eq!(remarks, [of_lot, of_chip]);

    assert_eq!(ledger.last_selftest("bench one", at(0)).unwrap(), None);
    ledger.add_selftest(&selftest(10, false)).unwrap();
    ledger.add_selftest(&selftest(20, true)).unwrap();
    let last = ledger.last_selftest("bench one", at(0)).unwrap().unwrap();
    assert_eq!(last.entry, selftest(20, true));
    assert_eq!(ledger.last_selftest("bench one", at(21)).unwrap(), None);
    assert_eq!(ledger.last_selftest("bench two", at(0)).unwrap(), None);
}

#[test]
fn what_breaks_a_rule_is_refused_and_leaves_nothing() {
    let mut ledger = with_bag(6);
    ledger.add_lot(&Lot { name: "tube".into(), ..bag() }).unwrap();
    let other = ledger.record(&Insertion { lot: "tube".into(), ..good(1) }).unwrap();
    let rules: [(&str, Insertion); 9] = [
        ("marking_length", Insertion { marking: "x".repeat(201), ..good(2) }),
        ("reason_letters", Insertion { reason: "Weak Low".into(), ..good(2) }),
        ("go_ran_without_failure", Insertion { failures: 1, ..good(2) }),
        ("go_ran_without_failure", Insertion { program_hash: None, ..good(2) }),
        ("refused_ran_nothing", Insertion { verdict: Verdict::Refused, ..good(2) }),
        ("program_hash_size", Insertion { program_hash: Some(Hex(vec![1])), ..good(2) }),
        ("note_length", Insertion { note: Some(String::new()), ..good(2) }),
        (
            "a good chip has no failing pin",
            Insertion { failing_pins: vec![pin(1, 1, 0, 0, false)], ..good(2) },
        ),
        ("pin_failed", bad(2, &[pin(1, 0, 0, 0, false)])),
    ];
    for (rule, insertion) in rules {
        match ledger.record(&insertion) {
            Err(LedgerError::Rule(message)) => assert!(message.contains(rule), "{message}"),
            other => panic!("{rule}: {other:?}"),
        }
    }
    let moved = ledger.record(&Insertion { retest_of: Some(other), ..good(2) });
    assert!(matches!(moved, Err(LedgerError::OtherLot(id)) if id == other));
    let lost = ledger.record(&Insertion { lot: "sack".into(), ..good(2) });
    assert!(matches!(lost, Err(LedgerError::UnknownLot(_))));
    let twice = ledger.add_lot(&Lot { name: "BAG".into(), ..bag() });
    assert!(matches!(twice, Err(LedgerError::LotExists(_))));
    assert!(ledger.add_lot(&Lot { name: " bag".into(), ..bag() }).is_err());
    assert_eq!(ledger.report(&Selection::default()).unwrap().insertions, 1);
    assert_eq!(ledger.check().unwrap(), []);
}

#[test]
fn what_a_report_lists_is_found_by_what_it_is() {
    let mut ledger = with_bag(9);
    let map = dipsift_ledger::MemoryMap::new(256, 4, [(17, 0b10)]).unwrap().to_hex().unwrap();
    let first = ledger.record(&good(1)).unwrap();
    let failed = ledger.record(&bad(2, &[pin(3, 1, 0, 0, false)])).unwrap();
    let mapped = ledger
        .record(&Insertion { memory_map: Some(map), ..bad(3, &[pin(6, 1, 0, 0, false)]) })
        .unwrap();
    let undone = ledger.record(&good(4)).unwrap();
    ledger.undo_last("bag", at(5), None).unwrap();
    let ids = |which, most| -> Vec<_> {
        ledger.counted("bag", which, most).unwrap().iter().map(|stored| stored.id).collect()
    };
    assert_eq!(ids(Which::Good, 10), [first]);
    assert_eq!(ids(Which::NotGood, 10), [failed, mapped]);
    assert_eq!(ids(Which::NotGood, 1), [failed]);
    assert_eq!(ids(Which::Mapped, 10), [mapped]);
    let last: Vec<_> = ledger.last_recorded(2).unwrap().iter().map(|stored| stored.id).collect();
    assert_eq!(last, [undone, mapped]);
}

/// The name stands on labels, in two lines of a symbol and in one line of a list.
#[test]
fn a_lot_has_a_name_of_one_line() {
    let mut ledger = Ledger::in_memory(Some(3)).unwrap();
    let named = |name: &str| Lot { name: name.into(), ..bag() };
    for name in ["", " bag", "bag ", "a\nb", "a\tb", "a\u{7f}b", &"n".repeat(101)] {
        let refused = ledger.add_lot(&named(name)).unwrap_err();
        assert!(matches!(refused, LedgerError::LotName(_)), "{name:?}: {refused}");
    }
    for name in ["=1+1", "Gr\u{fc}ner Koffer \u{1F50C}", &"n".repeat(100)] {
        ledger.add_lot(&named(name)).unwrap();
    }
    assert!(matches!(ledger.add_lot(&named("=1+1")), Err(LedgerError::LotExists(_))));
}
