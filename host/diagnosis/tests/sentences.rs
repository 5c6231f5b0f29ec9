//! What a person reads.

mod support;

use dipsift_diagnosis::{
    Cause, Cell, Diagnosis, Extent, Half, Observation, Shape, Slow, Unfit, aggressor_by_halves,
};
use dipsift_wire::Miss;
use support::{Array, Fault, Run, diagnose, dynamic, fixed};

fn sentences(shape: &Shape, march: &str, faults: &[Fault]) -> Vec<String> {
    let run = Run::new(march, shape.data.len(), false);
    let found = diagnose(shape, &run, faults, 1);
    found.findings.iter().map(|finding| finding.sentence(shape)).collect()
}

#[test]
fn lines_are_named_with_their_pins() {
    let shape = fixed(6, 4, false);
    let of = |fault| sentences(&shape, "c-", &[fault]).join("\n");
    let text = of(Fault::AddressStuck { bits: 1 << 5, high: true });
    // In each of the four elements that read and write, the second half of the words to be
    // reached has been written already; with each of three backgrounds.
    let reads = 4 * 3 * 64 / 2;
    let expected =
        format!("address line A5 (pin 6) has no effect: stuck or open ({reads} failing reads)");
    assert_eq!(text, expected);
    let text = of(Fault::AddressShort { pairs: [(1, 4), (1, 4)], or: true });
    assert!(text.starts_with("A1 (pin 2) and A4 (pin 5) are shorted (high wins) ("), "{text}");
    let text = of(Fault::DataStuck(2, false));
    assert!(text.starts_with("data line D2 (pin 32) always reads 0: stuck or open ("), "{text}");
    let text = of(Fault::DataShort { one: 0, other: 3, or: false });
    let expected = "data line D0 (pin 30) and data line D3 (pin 33) are shorted (low wins) (";
    assert!(text.starts_with(expected), "{text}");
    let text = of(Fault::Dead(15));
    assert!(text.starts_with("every read gives F: the chip is dead, is not selected, "), "{text}");
    let text = of(Fault::HalfDead { line: 3, high: true, word: 15 });
    let expected = "the half with A3 (pin 4) high reads 1 always; the other half is good (";
    assert!(text.starts_with(expected), "{text}");
}

#[test]
fn strobed_lines_are_named_by_their_strobe() {
    let shape = dynamic(4, 1);
    let text = sentences(&shape, "c-", &[Fault::AddressStuck { bits: 1 << 5, high: false }]);
    let expected = "address line A1 at the row strobe (pin 2) has no effect: stuck or open (";
    assert!(text[0].starts_with(expected), "{text:?}");
    let text = sentences(&shape, "c-", &[Fault::AddressStuck { bits: 0x22, high: false }]);
    assert!(text[0].starts_with("address line A1 (pin 2) has no effect"), "{text:?}");
    let text = sentences(&shape, "b", &[Fault::LeakyRow { row: 9, value: true, accesses: 5 }]);
    let expected =
        "row 9 loses its 1s soon after they are written (row by A3 A2 A1 A0 at its strobe)";
    assert!(text[0].starts_with(expected), "{text:?}");
}

#[test]
fn what_a_march_does_not_tell_is_said() {
    let shape = fixed(6, 1, false);
    // Upwards only, with one value: an open line, shorts to lower lines and a dead half all fail
    // the reads of 0 where A2 is high.
    let run = Run::new("any(w0); up(r0,w1); up(r1)", 1, false);
    let half = Fault::HalfDead { line: 2, high: true, word: 1 };
    let found = diagnose(&shape, &run, &[half], 1);
    let expected = "address line A2 (pin 3) has no effect: stuck or open; this march does not tell \
                    it from a short of A0 (pin 1) and A2 (pin 3) (high wins), or a short of A1 \
                    (pin 2) and A2 (pin 3) (high wins), or 1 other (32 failing reads)";
    assert_eq!(found.findings[0].sentence(&shape), expected);
    let half = |cause: &Cause| matches!(cause, Cause::HalfDead { line: 2, high: true, .. });
    assert!(found.findings[0].or.iter().any(half));
}

#[test]
fn a_row_that_crosses_a_column_keeps_its_words() {
    let shape = fixed(8, 4, true);
    let faults = [Fault::Row(5, 0), Fault::Column { column: 3, bit: 2, value: true }];
    let text = sentences(&shape, "c-", &faults);
    assert!(text[0].starts_with("row 5 reads 0 always (row by A5 A4 A3 A2)"), "{text:?}");
    assert!(text[1].starts_with("column 3, bit 2, reads 1 always (column by"), "{text:?}");
}

#[test]
fn several_faults_are_found_beside_each_other() {
    let shape = fixed(8, 8, true);
    let run = Run::new("g", 8, false);
    let faults = [
        Fault::DataStuck(7, true),
        Fault::Row(2, 0),
        Fault::Stuck((70, 1), true),
        Fault::Retention { at: (204, 3), value: true, after_ms: 50 },
        Fault::Retention { at: (130, 2), value: true, after_ms: 50 },
    ];
    let found = diagnose(&shape, &run, &faults, 9);
    let text: Vec<String> = found.findings.iter().map(|f| f.sentence(&shape)).collect();
    let all = text.join("\n");
    for part in [
        "data line D7 (pin 37) always reads 1",
        "row 2, bits 0, 1, 2, 3, 4, 5, 6, reads 0 always",
        "cell 46 bit 1 is stuck at 1",
        "2 cells (82 bit 2, CC bit 3) lose a 1 within 100 ms",
    ] {
        assert!(all.contains(part), "{part}\n{all}");
    }
    assert_eq!(text.len(), 4, "{all}");
}

#[test]
fn the_good_half_is_told() {
    let shape = dynamic(4, 1);
    let run = Run::new("c-", 1, false);
    // Row 9 is in the half with the row's A3 high, and so is the cell.
    let found = diagnose(&shape, &run, &[Fault::Row(9, 0), Fault::Stuck((0xC5, 0), true)], 1);
    assert!(found.good_halves.contains(&Half { line: 7, high: false }), "{found:?}");
    assert!(!found.good_halves.contains(&Half { line: 7, high: true }), "{found:?}");
    assert!(found.good_halves.iter().all(|half| half.line >= 4), "{found:?}");
    // A line that reaches all cells leaves no half good, whatever failed.
    let stuck = [Fault::AddressStuck { bits: 1 << 7, high: false }];
    assert!(diagnose(&shape, &run, &stuck, 1).good_halves.is_empty());
}

#[test]
fn slow_cells_are_those_that_are_right_with_time() {
    let shape = fixed(6, 4, false);
    let run = Run::new("c-", 4, false);
    let slow = Cell { address: 9, bit: 2 };
    let faults = vec![Fault::Stuck((9, 2), false), Fault::Stuck((40, 1), true)];
    let misses = Array::new(&shape, faults, 0).march(&run, usize::MAX);
    let observe = |slow| Observation { slow, ..run.observe(&misses, Extent::Whole) };
    let flags = [Slow::Cell(slow)];
    let found = Diagnosis::of(&shape, &observe(&flags)).expect("the reads fit");
    assert!(found.findings.iter().any(|finding| {
        finding.sentence(&shape).starts_with("cell 9 bit 2 is slow: right when given time (")
    }));
    assert_eq!(found.findings.len(), 2);
    let found = Diagnosis::of(&shape, &observe(&[Slow::Chip])).expect("the reads fit");
    let text: Vec<String> = found.findings.iter().map(|f| f.sentence(&shape)).collect();
    assert_eq!(
        text,
        [format!("the chip is slow: given time it reads right ({} failing reads)", misses.len())]
    );
}

#[test]
fn an_early_end_makes_no_claim() {
    let shape = fixed(6, 4, false);
    let run = Run::new("c-", 4, false);
    let misses = Array::new(&shape, vec![Fault::Dead(15)], 0).march(&run, 3);
    let found = Diagnosis::of(&shape, &run.observe(&misses, Extent::Cut)).expect("the reads fit");
    let text = found.findings[0].sentence(&shape);
    assert!(text.starts_with("compatible with: "), "{text}");
}

#[test]
fn reads_that_are_not_of_the_march_are_refused() {
    let shape = fixed(4, 4, false);
    let run = Run::new("mats+", 4, false);
    let miss = Miss { element: 1, operation: 0, background: 0, address: 3, seen: 1 };
    let of = |misses: &[Miss]| Diagnosis::of(&shape, &run.observe(misses, Extent::Whole)).err();
    assert_eq!(of(&[miss]), None);
    assert_eq!(of(&[Miss { address: 16, ..miss }]), Some(Unfit::Miss { index: 0 }));
    assert_eq!(of(&[Miss { operation: 1, ..miss }]), Some(Unfit::Miss { index: 0 }));
    assert_eq!(of(&[Miss { seen: 0, ..miss }]), Some(Unfit::Miss { index: 0 }));
    assert_eq!(of(&[Miss { seen: 16, ..miss }]), Some(Unfit::Miss { index: 0 }));
    assert_eq!(of(&[miss, miss]), Some(Unfit::Order { index: 1 }));
    // Down again, the higher address comes first.
    let down = |address| Miss { element: 2, seen: 0, address, ..miss };
    assert_eq!(of(&[miss, down(5), down(4)]), None);
    assert_eq!(of(&[miss, down(4), down(5)]), Some(Unfit::Order { index: 2 }));
}

#[test]
fn a_diagnosis_survives_its_record() {
    let shape = fixed(6, 4, true);
    let run = Run::new("ss", 4, false);
    let fault = Fault::Inversion { aggressor: (3, 1), rise: true, victim: (40, 2) };
    let found = diagnose(&shape, &run, &[fault], 4);
    let text = serde_json::to_string(&found).expect("it can be written");
    assert_eq!(serde_json::from_str::<Diagnosis>(&text).expect("it can be read"), found);
}

#[test]
fn the_aggressor_is_found_by_halves() {
    // The half of the words that have the victim's level on a line is a memory of its own, which
    // has both cells only where they agree on that line.
    let shape = fixed(5, 1, false);
    let run = Run::new("c-", 1, false);
    let (victim, aggressor): (u32, u32) = (0b1_0110, 0b0_0011);
    let without =
        |address: u32, line: u32| address >> (line + 1) << line | address & ((1 << line) - 1);
    let still_fails: Vec<bool> = (0..6)
        .map(|line| {
            let both = (victim ^ aggressor) >> line & 1 == 0;
            let fault = Fault::Inversion {
                aggressor: (without(aggressor, line), 0),
                rise: true,
                victim: (without(victim, line), 0),
            };
            let faults = if both { vec![fault] } else { Vec::new() };
            !Array::new(&shape, faults, 3).march(&run, usize::MAX).is_empty()
        })
        .collect();
    assert_eq!(aggressor_by_halves(victim, &still_fails), aggressor);
}

#[test]
fn nothing_failed_nothing_found() {
    let shape = fixed(6, 4, true);
    let run = Run::new("ss", 4, false);
    let found = diagnose(&shape, &run, &[], 4);
    assert!(found.findings.is_empty() && found.good_halves.is_empty());
}
