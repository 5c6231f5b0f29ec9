//! How often the first finding is the fault that was put in, over many places, marches and shapes.

mod support;

use dipsift_diagnosis::{
    Cause, Cell, CellFault, Condition, Diagnosis, Effect, Extent, Joined, LineFault, Place, Shape,
    Wins,
};
use std::collections::BTreeMap;
use support::{Array, At, Fault, Run, dynamic, fixed};

/// What became of the faults of a class.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    /// The march does not detect it.
    unseen: u32,
    /// The first finding.
    right: u32,
    /// Listed as not to be told from the first finding.
    compatible: u32,
    /// Only said to be compatible with something else, or scattered: nothing is claimed.
    open: u32,
    wrong: u32,
}

fn cell((address, bit): At) -> Cell {
    Cell { address, bit }
}

fn is_cell(cause: &Cause, at: At, fits: impl Fn(CellFault) -> bool) -> bool {
    matches!(cause, Cause::Cells { fault, cells, count: 1 }
        if cells[..] == [cell(at)] && fits(*fault))
}

/// Whether a coupling can come from a cell, as the march sees it.
fn is_coupling(cause: &Cause, from: At, to: At, fits: impl Fn(Effect) -> bool) -> bool {
    let Cause::Coupling { victim, effect, aggressors } = cause else { return false };
    let place = match from.0.cmp(&to.0) {
        std::cmp::Ordering::Less => Place::Below,
        std::cmp::Ordering::Equal => Place::SameWord,
        std::cmp::Ordering::Greater => Place::Above,
    };
    let named = aggressors.nearest.is_empty()
        || aggressors.count as usize > aggressors.nearest.len()
        || aggressors.nearest.contains(&cell(from));
    *victim == cell(to)
        && aggressors.place == place
        && aggressors.bits >> from.1 & 1 == 1
        && named
        && fits(*effect)
}

fn change(rise: bool) -> Condition {
    if rise { Condition::Rises } else { Condition::Falls }
}

/// Whether a cause is the fault. A level that cannot be known is not asked for.
fn names(cause: &Cause, fault: &Fault, shape: &Shape) -> bool {
    let all = (u32::from(u16::MAX) >> (16 - shape.data.len())) as u16;
    match *fault {
        Fault::Stuck(at, value) => is_cell(cause, at, |is| is == CellFault::StuckAt(value)),
        Fault::CannotRise(at) => is_cell(cause, at, |is| is == CellFault::CannotRise),
        Fault::CannotFall(at) => is_cell(cause, at, |is| is == CellFault::CannotFall),
        Fault::Open(at) => is_cell(cause, at, |is| is == CellFault::Open),
        Fault::ReadDestructive(at, v) => is_cell(cause, at, |is| is == CellFault::ReadFlips(v)),
        Fault::DeceptiveRead(at, v) => is_cell(cause, at, |is| is == CellFault::ReadUpsets(v)),
        Fault::IncorrectRead(at, v) => is_cell(cause, at, |is| is == CellFault::ReadsWrong(v)),
        Fault::WriteDisturb(at, v) => is_cell(cause, at, |is| is == CellFault::WriteFlips(v)),
        Fault::Retention { at, value, .. } => {
            is_cell(cause, at, |is| matches!(is, CellFault::Loses { value: v, .. } if v == value))
        }
        Fault::Idempotent { aggressor, rise, victim, to } => {
            is_coupling(cause, aggressor, victim, |is| is == Effect::Sets(change(rise), to))
        }
        Fault::Inversion { aggressor, rise, victim } => {
            is_coupling(cause, aggressor, victim, |is| is == Effect::Inverts(change(rise)))
        }
        Fault::State { aggressor, held, victim, to } => {
            is_coupling(cause, aggressor, victim, |is| {
                is == Effect::While(held, CellFault::StuckAt(to))
            })
        }
        Fault::AddressStuck { bits, .. } => {
            matches!(cause, Cause::AddressLine { lines }
                if lines.iter().fold(0, |all, line| all | 1 << line) == bits)
        }
        Fault::AddressShort { pairs, or } => {
            let mut expected = pairs.to_vec();
            expected.dedup();
            let wired = if or { Wins::High } else { Wins::Low };
            matches!(cause, Cause::AddressShorted { pairs, wins }
                if *pairs == expected && *wins == wired)
        }
        Fault::DataStuck(line, high) => *cause == Cause::DataStuck { line, high },
        Fault::DataShort { one, other, or } => {
            let wins = if or { Wins::High } else { Wins::Low };
            *cause == Cause::DataShorted { line: one, other, wins }
        }
        Fault::HalfDead { line, high, .. } => {
            matches!(cause, Cause::HalfDead { line: l, high: h, .. } if (*l, *h) == (line, high))
        }
        Fault::Noise { half: Some((line, high)), .. } => {
            matches!(cause, Cause::HalfDead { line: l, high: h, reads: LineFault::Variously }
                if (*l, *h) == (line, high))
        }
        Fault::Noise { half: None, bits: noisy } => {
            matches!(cause, Cause::Scattered { bits, .. } if *bits == noisy)
        }
        Fault::Dead(word) => *cause == Cause::Dead { word },
        Fault::Row(row, word) => {
            matches!(cause, Cause::Rows { rows, bits, fault: LineFault::Reads(value) }
                if rows[..] == [row] && *bits == all && *value == (word != 0))
        }
        Fault::Column { column, bit, value } => {
            matches!(cause, Cause::Columns { columns, bits, fault: LineFault::Reads(v) }
                if columns[..] == [column] && *bits == 1 << bit && *v == value)
        }
        // Where the first read comes soon, not every bit is seen to fail.
        Fault::LeakyRow { row, value, .. } => {
            matches!(cause, Cause::Rows { rows, fault: LineFault::Loses(Some(v)), .. }
                if rows[..] == [row] && *v == value)
        }
        Fault::RowLosesInPause { row, value } => {
            matches!(cause, Cause::Rows { rows, bits, fault: LineFault::LosesInPause(Some(v)) }
                if rows[..] == [row] && *bits == all && *v == value)
        }
        Fault::OtherCell { from, to } => {
            // With marches that show it at one address only, it is a coupling to the other.
            let takes = |effect| effect == Effect::TakesWrites;
            *cause == Cause::SharedWord { address: from.min(to), other: from.max(to) }
                || (0..shape.data.len() as u8).any(|bit| {
                    is_coupling(cause, (to, bit), (from, bit), takes)
                        || is_coupling(cause, (from, bit), (to, bit), takes)
                })
        }
        Fault::ExtraCell { address, other, or } => (0..shape.data.len() as u8).any(|bit| {
            let joined = if or { Joined::HighWins } else { Joined::LowWins };
            let (one, two) = ((address, bit), (other, bit));
            is_coupling(cause, two, one, |is| is == Effect::ReachesToo(joined))
                || is_coupling(cause, one, two, |is| is == Effect::TakesWrites)
        }),
        // No finding of its own: nothing may be said but of its cells.
        Fault::NoCell { .. } => false,
    }
}

/// Whether a cause names the fault as one of two, or some of the cells of a row.
fn allows(cause: &Cause, fault: &Fault, shape: &Shape) -> bool {
    let (row, column, value) = match *fault {
        Fault::Row(row, word) => (Some(row), None, word == 0),
        Fault::Column { column, value, .. } => (None, Some(column), !value),
        Fault::LeakyRow { row, value, .. } | Fault::RowLosesInPause { row, value } => {
            (Some(row), None, value)
        }
        _ => return false,
    };
    match cause {
        Cause::Rows { rows: at, fault: LineFault::ReadsOrLoses(v), .. } => {
            (Some(at[..].to_vec()), *v) == (row.map(|row| vec![row]), value)
        }
        Cause::Columns { columns: at, fault: LineFault::ReadsOrLoses(v), .. } => {
            (Some(at[..].to_vec()), *v) == (column.map(|column| vec![column]), value)
        }
        Cause::Cells { cells, fault: CellFault::Leaks { value: v }, .. } => {
            let at = |cell: &Cell| support::row_column(shape, cell.address).0;
            *v == value && cells.iter().all(|cell| Some(at(cell)) == row)
        }
        _ => false,
    }
}

fn class(fault: &Fault) -> &'static str {
    match fault {
        Fault::Stuck(..) => "cell stuck",
        Fault::CannotRise(_) | Fault::CannotFall(_) => "cell transition",
        Fault::Open(_) => "cell stuck open",
        Fault::ReadDestructive(..) | Fault::DeceptiveRead(..) | Fault::IncorrectRead(..) => {
            "cell read fault"
        }
        Fault::WriteDisturb(..) => "cell write disturb",
        Fault::Retention { .. } => "cell retention",
        Fault::Idempotent { .. } => "coupling, idempotent",
        Fault::Inversion { .. } => "coupling, inversion",
        Fault::State { .. } => "coupling, state",
        Fault::AddressStuck { .. } => "address line stuck",
        Fault::AddressShort { .. } => "address lines shorted",
        Fault::DataStuck(..) => "data line stuck",
        Fault::DataShort { .. } => "data lines shorted",
        Fault::HalfDead { .. } => "half dead",
        Fault::Noise { half: Some(_), .. } => "half reads at random",
        Fault::Noise { half: None, .. } => "bits read at random",
        Fault::Dead(_) => "dead",
        Fault::Row(..) => "row",
        Fault::Column { .. } => "column",
        Fault::LeakyRow { .. } => "leaky row",
        Fault::RowLosesInPause { .. } => "row retention",
        Fault::OtherCell { .. } => "two addresses, one word",
        Fault::NoCell { .. } => "address without cell",
        Fault::ExtraCell { .. } => "address with two cells",
    }
}

/// Every fault of a shape, at all places or, on large ones, at every `step`th.
fn faults(shape: &Shape, step: usize) -> Vec<Fault> {
    let mut all = Vec::new();
    let (bits, words) = (shape.data.len() as u8, shape.words);
    let mask = (u32::from(u16::MAX) >> (16 - bits)) as u16;
    let both = [false, true];
    let sparse = if step == 1 { 3 } else { step * step * 16 };
    let cells: Vec<At> =
        (0..words).flat_map(|address| (0..bits).map(move |bit| (address, bit))).collect();
    for &at in cells.iter().step_by(step) {
        all.extend([Fault::CannotRise(at), Fault::CannotFall(at), Fault::Open(at)]);
        for v in both {
            all.extend([
                Fault::Stuck(at, v),
                Fault::ReadDestructive(at, v),
                Fault::DeceptiveRead(at, v),
                Fault::IncorrectRead(at, v),
                Fault::WriteDisturb(at, v),
                Fault::Retention { at, value: v, after_ms: 50 },
            ]);
        }
    }
    let pairs = cells.iter().flat_map(|&a| cells.iter().map(move |&v| (a, v)));
    for (aggressor, victim) in pairs.filter(|(a, v)| a != v).step_by(sparse) {
        for (rise, to) in both.into_iter().flat_map(|rise| both.map(|to| (rise, to))) {
            all.push(Fault::Idempotent { aggressor, rise, victim, to });
            all.push(Fault::State { aggressor, held: rise, victim, to });
        }
        all.extend(both.map(|rise| Fault::Inversion { aggressor, rise, victim }));
    }
    let used = words.trailing_zeros() as u8;
    let pins = if shape.refresh_rows.is_some() { used / 2 } else { used };
    for line in 0..used {
        for high in both {
            all.push(Fault::AddressStuck { bits: 1 << line, high });
            if pins < used && line < pins {
                all.push(Fault::AddressStuck { bits: 1 << line | 1 << (line + pins), high });
            }
            all.extend([0, mask, 0x3A & mask].map(|word| Fault::HalfDead { line, high, word }));
        }
    }
    for a in 0..pins {
        for b in a + 1..pins {
            for or in both {
                let upper = if pins < used { (a + pins, b + pins) } else { (a, b) };
                all.push(Fault::AddressShort { pairs: [(a, b), upper], or });
            }
        }
    }
    for bit in 0..bits {
        all.extend(both.map(|high| Fault::DataStuck(bit, high)));
        for other in bit + 1..bits {
            all.extend(both.map(|or| Fault::DataShort { one: bit, other, or }));
        }
    }
    all.extend([0, mask, 0x5A & mask].map(Fault::Dead));
    // On fewer cells chance can look like any fault.
    if words >= 256 {
        all.extend((0..bits).map(|bit| Fault::Noise { half: None, bits: 1 << bit }));
        all.push(Fault::Noise { half: None, bits: mask });
        for line in 0..used {
            let halves = both.map(|high| Some((line, high)));
            all.extend(halves.map(|half| Fault::Noise { half, bits: mask }));
        }
    }
    let place = |address| support::row_column(shape, address);
    let (rows, columns) = (0..words)
        .map(place)
        .fold((0, 0), |(r, c), (row, column)| (r.max(row + 1), c.max(column + 1)));
    if rows > 1 {
        for row in 0..rows {
            all.extend([Fault::Row(row, 0), Fault::Row(row, mask)]);
            all.extend(both.map(|value| Fault::RowLosesInPause { row, value }));
            if shape.refresh_rows.is_some() {
                for value in both {
                    let accesses = u64::from(row % 5 + 2);
                    all.push(Fault::LeakyRow { row, value, accesses });
                }
            }
        }
        for column in 0..columns {
            for bit in 0..bits {
                all.extend(both.map(|value| Fault::Column { column, bit, value }));
            }
        }
    }
    let addresses = (0..words).flat_map(|a| (0..words).map(move |b| (a, b)));
    for (from, to) in addresses.filter(|(a, b)| a != b).step_by(sparse) {
        all.push(Fault::OtherCell { from, to });
        all.extend(both.map(|or| Fault::ExtraCell { address: from, other: to, or }));
    }
    for address in (0..words).step_by(step) {
        all.extend([0, mask].map(|word| Fault::NoCell { address, word }));
    }
    all
}

/// Whether everything that is said for certain stays within the cells that take part, and is no
/// more than single cells and couplings.
fn is_modest(found: &Diagnosis, fault: &Fault) -> bool {
    let parts: &[u32] = match fault {
        Fault::NoCell { address, .. } => &[*address],
        Fault::ExtraCell { address, other, .. } => &[*address, *other],
        _ => return false,
    };
    found.findings.iter().all(|finding| match &finding.cause {
        Cause::Cells { cells, .. } => cells.iter().all(|cell| parts.contains(&cell.address)),
        Cause::Coupling { victim, .. } => parts.contains(&victim.address),
        Cause::SharedWord { address, other } => parts.contains(address) && parts.contains(other),
        _ => false,
    })
}

fn judge(tally: &mut Tally, found: &Diagnosis, fault: &Fault, shape: &Shape) -> bool {
    let Some(first) = found.findings.first() else {
        tally.unseen += 1;
        return true;
    };
    if names(&first.cause, fault, shape) {
        tally.right += 1;
    } else if allows(&first.cause, fault, shape)
        || first.or.iter().any(|cause| names(cause, fault, shape))
    {
        tally.compatible += 1;
    } else if matches!(first.cause, Cause::Scattered { .. })
        || found.findings.iter().all(|finding| !finding.certain)
        || is_modest(found, fault)
    {
        tally.open += 1;
    } else {
        tally.wrong += 1;
        return false;
    }
    true
}

const MARCHES: [&str; 6] = [
    "mats+",
    "c-",
    "ss",
    "b",
    "g",
    "any(w0); pause(100ms); any(r0,w1); pause(20ms); any(r1); pause(200ms); any(r1)",
];

fn sweep(shapes: &[(Shape, usize)], extent: Extent) -> BTreeMap<&'static str, Tally> {
    let mut tallies: BTreeMap<&str, Tally> = BTreeMap::new();
    let mut shown: BTreeMap<&str, u32> = BTreeMap::new();
    for (shape, step) in shapes {
        for (number, notation) in MARCHES.iter().enumerate() {
            for any_down in [number % 2 == 1] {
                let run = Run::new(notation, shape.data.len(), any_down);
                for (at, fault) in faults(shape, *step).iter().enumerate() {
                    let seed = (at * 7 + number) as u64;
                    let most = match extent {
                        Extent::Whole => usize::MAX,
                        Extent::Cut => [1, 2, 5, 12, 40][at % 5],
                    };
                    let misses = Array::new(shape, vec![*fault], seed).march(&run, most);
                    let cut = if misses.len() == most { Extent::Cut } else { Extent::Whole };
                    let found = Diagnosis::of(shape, &run.observe(&misses, cut));
                    let found = found.expect("the reads fit");
                    let tally = tallies.entry(class(fault)).or_default();
                    if !judge(tally, &found, fault, shape)
                        && *shown.get(class(fault)).unwrap_or(&0) < 3
                    {
                        *shown.entry(class(fault)).or_default() += 1;
                        let size = (shape.words, shape.data.len());
                        println!("{size:?} {notation} {any_down} {cut:?} {fault:?}");
                        println!("   {}", found.findings[0].sentence(shape));
                    }
                }
            }
        }
    }
    println!("{:<26}{:>8}{:>8}{:>8}{:>8}{:>8}", "", "unseen", "right", "compat.", "open", "wrong");
    for (class, t) in &tallies {
        println!(
            "{class:<26}{:>8}{:>8}{:>8}{:>8}{:>8}",
            t.unseen, t.right, t.compatible, t.open, t.wrong
        );
    }
    tallies
}

fn shapes() -> Vec<(Shape, usize)> {
    vec![
        (fixed(4, 1, false), 1),
        (fixed(5, 4, true), 5),
        (fixed(6, 1, true), 3),
        (fixed(5, 8, false), 11),
        (dynamic(3, 1), 3),
        (fixed(8, 4, true), 53),
        (dynamic(4, 4), 41),
    ]
}

/// By class, in per cent of the faults that their march detects: how many are the first finding at
/// least, and how many are that or listed as not to be told from it. What is left is said to be of
/// no simple kind. MATS+ and the march of pauses are among the marches, which tell few apart.
const LEAST: [(&str, u32, u32); 24] = [
    ("address line stuck", 100, 100),
    ("address lines shorted", 90, 100),
    ("address with two cells", 20, 85),
    ("address without cell", 0, 0),
    ("bits read at random", 90, 90),
    ("cell read fault", 7, 100),
    ("cell retention", 85, 100),
    ("cell stuck", 100, 100),
    ("cell stuck open", 95, 100),
    ("cell transition", 20, 100),
    ("cell write disturb", 75, 100),
    ("column", 65, 100),
    ("coupling, idempotent", 35, 100),
    ("coupling, inversion", 65, 100),
    ("coupling, state", 30, 100),
    ("data line stuck", 85, 100),
    ("data lines shorted", 100, 100),
    ("dead", 100, 100),
    ("half dead", 95, 100),
    ("half reads at random", 90, 90),
    ("leaky row", 50, 100),
    ("row", 65, 100),
    ("row retention", 50, 100),
    ("two addresses, one word", 65, 100),
];

#[test]
fn the_first_finding_is_the_fault() {
    let tallies = sweep(&shapes(), Extent::Whole);
    assert_eq!(tallies.len(), LEAST.len());
    for (class, least_right, least_named) in LEAST {
        let tally = &tallies[class];
        assert_eq!(tally.wrong, 0, "{class}");
        let seen = tally.right + tally.compatible + tally.open;
        assert!(tally.right * 100 >= seen * least_right, "{class} {tally:?}");
        assert!((tally.right + tally.compatible) * 100 >= seen * least_named, "{class} {tally:?}");
    }
}

#[test]
fn a_list_that_was_cut_does_not_lead_to_wrong_claims() {
    let shapes = shapes().into_iter().map(|(shape, step)| (shape, step * 2 + 1));
    let tallies = sweep(&shapes.collect::<Vec<_>>(), Extent::Cut);
    for (class, tally) in &tallies {
        assert_eq!(tally.wrong, 0, "{class}");
    }
}
