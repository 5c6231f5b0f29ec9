//! Two faults at once, and memories of full size, by chance.

mod support;

use dipsift_diagnosis::{Cause, CellFault, Diagnosis, Extent, LineFault, Shape};
use proptest::prelude::*;
use support::{Array, Fault, Run, dynamic, fixed, row_column};

fn is_stuck(cause: &Cause, (address, bit): (u32, u8), value: bool) -> bool {
    matches!(cause, Cause::Cells { fault: CellFault::StuckAt(v), cells, .. }
        if *v == value && cells.iter().any(|at| (at.address, at.bit) == (address, bit)))
}

fn sizes() -> impl Strategy<Value = Shape> {
    prop_oneof![
        Just(fixed(10, 4, true)),
        Just(fixed(13, 8, false)),
        Just(fixed(11, 8, true)),
        Just(dynamic(7, 1)),
        Just(dynamic(6, 4)),
    ]
}

fn marches() -> impl Strategy<Value = &'static str> {
    prop_oneof![Just("c-"), Just("b"), Just("ss"), Just("mats+")]
}

fn found(shape: &Shape, run: &Run, faults: Vec<Fault>, seed: u64) -> Diagnosis {
    let misses = Array::new(shape, faults, seed).march(run, usize::MAX);
    Diagnosis::of(shape, &run.observe(&misses, Extent::Whole)).expect("the reads fit")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn two_stuck_cells_are_both_named(
        shape in sizes(), march in marches(), any: [u32; 2], down: bool, values: [bool; 2],
    ) {
        let bits = shape.data.len() as u8;
        let at = any.map(|any| (any % shape.words, (any >> 24) as u8 % bits));
        prop_assume!(at[0] != at[1]);
        let run = Run::new(march, bits.into(), down);
        let faults = [0, 1].map(|n| Fault::Stuck(at[n], values[n])).to_vec();
        let found = found(&shape, &run, faults, any[0].into());
        for n in [0, 1] {
            prop_assert!(
                found.findings.iter().any(|finding| is_stuck(&finding.cause, at[n], values[n])),
                "{:?}", found.findings
            );
        }
    }

    #[test]
    fn a_stuck_cell_does_not_hide_an_address_line(
        shape in sizes(), march in marches(), any: u32, high: bool, value: bool,
    ) {
        let used = shape.words.trailing_zeros();
        let line = (any >> 8) % used;
        let at = (any % shape.words, 0);
        let run = Run::new(march, shape.data.len(), false);
        let faults = vec![Fault::AddressStuck { bits: 1 << line, high }, Fault::Stuck(at, value)];
        let found = found(&shape, &run, faults, any.into());
        let expected = Cause::AddressLine { lines: vec![line as u8] };
        prop_assert_eq!(&found.findings[0].cause, &expected);
        // What the cell adds is not read as if the line were good.
        for finding in &found.findings[1..] {
            let scattered = matches!(finding.cause, Cause::Scattered { .. });
            prop_assert!(scattered, "{:?}", finding);
        }
    }

    #[test]
    fn a_row_and_a_cell_beside_it_are_told_apart(
        any: u32, march in marches(), value: bool, strobed: bool,
    ) {
        let shape = if strobed { dynamic(6, 1) } else { fixed(10, 4, true) };
        let all = (1_u16 << shape.data.len()) - 1;
        let rows = (0..shape.words).map(|at| row_column(&shape, at).0).max().unwrap_or(0) + 1;
        let row = (any >> 8) % rows;
        let at = (any % shape.words, 0);
        prop_assume!(row_column(&shape, at.0).0 != row);
        let run = Run::new(march, shape.data.len(), true);
        let faults = vec![Fault::Row(row, all), Fault::Stuck(at, value)];
        let found = found(&shape, &run, faults, any.into());
        let is_row = |cause: &Cause| {
            matches!(cause, Cause::Rows { rows, fault, .. } if rows[..] == [row]
                && matches!(fault, LineFault::Reads(true) | LineFault::ReadsOrLoses(false)))
        };
        prop_assert!(is_row(&found.findings[0].cause), "{:?}", found.findings);
        prop_assert!(found.findings.iter().any(|f| is_stuck(&f.cause, at, value)));
    }

    /// Whatever fails, each failing bit is counted once.
    #[test]
    fn no_failing_cell_is_left_out_or_counted_twice(
        shape in sizes(), march in marches(), noise in prop::collection::vec(any::<u32>(), 0..40),
    ) {
        let bits = shape.data.len();
        let run = Run::new(march, bits, false);
        let faults = noise.iter().map(|n| {
            let at = (n % shape.words, (n >> 24) as u8 % bits as u8);
            match n >> 20 & 7 {
                0 => Fault::CannotRise(at),
                1 => Fault::DeceptiveRead(at, true),
                2 => Fault::Open(at),
                3 => Fault::Row(n >> 8 & 7, 0),
                _ => Fault::Stuck(at, n >> 16 & 1 == 1),
            }
        });
        let found = found(&shape, &run, faults.collect(), 5);
        let counted: u32 = found.findings.iter().map(|finding| finding.cells).sum();
        prop_assert_eq!(counted, found.failing_cells);
    }
}
