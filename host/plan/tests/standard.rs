//! The master tables against a published transcription.
//!
//! Source of the three tables and of the code letters: function `AAZ14Single` of the R package
//! AQLSchemes 1.7-2 (J. Lawson, 2023), whose vignette states that the central tables of
//! MIL-STD-105E, ANSI/ASQ Z1.4 and ISO 2859-1 are equal. Each entry is `n:Ac/Re` with the arrows
//! followed.

use dipsift_plan::PlanError;
use dipsift_plan::iso2859::{Aql, Level, Severity, letter, plan};

const NORMAL: [&str; 13] = [
    "A  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  2:0/1  5:1/2",
    "B  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  2:0/1  5:1/2",
    "C  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  8:1/2  5:1/2",
    "D  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  13:1/2  8:1/2  8:2/3",
    "E  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  20:1/2  13:1/2  13:2/3  13:3/4",
    "F  50:0/1  32:0/1  20:0/1  13:0/1  32:1/2  20:1/2  20:2/3  20:3/4  20:5/6",
    "G  50:0/1  32:0/1  20:0/1  50:1/2  32:1/2  32:2/3  32:3/4  32:5/6  32:7/8",
    "H  50:0/1  32:0/1  80:1/2  50:1/2  50:2/3  50:3/4  50:5/6  50:7/8  50:10/11",
    "J  50:0/1  125:1/2  80:1/2  80:2/3  80:3/4  80:5/6  80:7/8  80:10/11  80:14/15",
    "K  200:1/2  125:1/2  125:2/3  125:3/4  125:5/6  125:7/8  125:10/11  125:14/15  125:21/22",
    "L  200:1/2  200:2/3  200:3/4  200:5/6  200:7/8  200:10/11  200:14/15  200:21/22  125:21/22",
    "M  315:2/3  315:3/4  315:5/6  315:7/8  315:10/11  315:14/15  315:21/22  200:21/22  125:21/22",
    "N  500:3/4  500:5/6  500:7/8  500:10/11  500:14/15  500:21/22  315:21/22  200:21/22  125:21/22",
];

const TIGHTENED: [&str; 13] = [
    "A  80:0/1  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  8:1/2",
    "B  80:0/1  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  8:1/2",
    "C  80:0/1  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  5:0/1  13:1/2  8:1/2",
    "D  80:0/1  50:0/1  32:0/1  20:0/1  13:0/1  8:0/1  20:1/2  13:1/2  8:1/2",
    "E  80:0/1  50:0/1  32:0/1  20:0/1  13:0/1  32:1/2  20:1/2  13:1/2  13:2/3",
    "F  80:0/1  50:0/1  32:0/1  20:0/1  50:1/2  32:1/2  20:1/2  20:2/3  20:3/4",
    "G  80:0/1  50:0/1  32:0/1  80:1/2  50:1/2  32:1/2  32:2/3  32:3/4  32:5/6",
    "H  80:0/1  50:0/1  125:1/2  80:1/2  50:1/2  50:2/3  50:3/4  50:5/6  50:8/9",
    "J  80:0/1  200:1/2  125:1/2  80:1/2  80:2/3  80:3/4  80:5/6  80:8/9  80:12/13",
    "K  315:1/2  200:1/2  125:1/2  125:2/3  125:3/4  125:5/6  125:8/9  125:12/13  125:18/19",
    "L  315:1/2  200:1/2  200:2/3  200:3/4  200:5/6  200:8/9  200:12/13  200:18/19  125:18/19",
    "M  315:1/2  315:2/3  315:3/4  315:5/6  315:8/9  315:12/13  315:18/19  200:18/19  125:18/19",
    "N  500:2/3  500:3/4  500:5/6  500:8/9  500:12/13  500:18/19  315:18/19  200:18/19  125:18/19",
];

const REDUCED: [&str; 13] = [
    "A  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  2:0/1  2:0/1  2:0/1  2:0/2",
    "B  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  2:0/1  2:0/1  2:0/1  2:0/2",
    "C  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  2:0/1  2:0/1  3:0/2  2:0/2",
    "D  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  2:0/1  5:0/2  3:0/2  3:1/3",
    "E  20:0/1  13:0/1  8:0/1  5:0/1  3:0/1  8:0/2  5:0/2  5:1/3  5:1/4",
    "F  20:0/1  13:0/1  8:0/1  5:0/1  13:0/2  8:0/2  8:1/3  8:1/4  8:2/5",
    "G  20:0/1  13:0/1  8:0/1  20:0/2  13:0/2  13:1/3  13:1/4  13:2/5  13:3/6",
    "H  20:0/1  13:0/1  32:0/2  20:0/2  20:1/3  20:1/4  20:2/5  20:3/6  20:5/8",
    "J  20:0/1  50:0/2  32:0/2  32:1/3  32:1/4  32:2/5  32:3/6  32:5/8  32:7/10",
    "K  80:0/2  50:0/2  50:1/3  50:1/4  50:2/5  50:3/6  50:5/8  50:7/10  50:10/13",
    "L  80:0/2  80:1/3  80:1/4  80:2/5  80:3/6  80:5/8  80:7/10  80:10/13  50:10/13",
    "M  125:1/3  125:1/4  125:2/5  125:3/6  125:5/8  125:7/10  125:10/13  80:10/13  50:10/13",
    "N  200:1/4  200:2/5  200:3/6  200:5/8  200:7/10  200:10/13  125:10/13  80:10/13  50:10/13",
];

/// The largest lot of each code letter at level II.
const LOTS: [u64; 13] = [8, 15, 25, 50, 90, 150, 280, 500, 1_200, 3_200, 10_000, 35_000, 150_000];

fn compare(table: &[&str; 13], severity: Severity) {
    for (row, &lot) in table.iter().zip(&LOTS) {
        let mut cells = row.split_whitespace();
        let name = cells.next().unwrap();
        let cells: Vec<_> = cells.collect();
        assert_eq!(cells.len(), Aql::ALL.len(), "{row}");
        for (cell, aql) in cells.into_iter().zip(Aql::ALL) {
            let plan = plan(lot, Level::II, aql, severity).unwrap();
            let sample: u64 = cell.split(':').next().unwrap().parse().unwrap();
            // The package does not know the lot: a sample that is larger means all of it.
            let expected = format!("{}:{}", sample.min(lot), cell.split(':').nth(1).unwrap());
            let got = format!("{}:{}/{}", plan.sample, plan.accept, plan.reject);
            assert_eq!(plan.letter.to_string(), name);
            assert_eq!(got, expected, "{severity:?} {name} {} %", aql.percent());
        }
    }
}

#[test]
fn normal_inspection() {
    compare(&NORMAL, Severity::Normal);
}

#[test]
fn tightened_inspection() {
    compare(&TIGHTENED, Severity::Tightened);
}

#[test]
fn reduced_inspection() {
    compare(&REDUCED, Severity::Reduced);
}

#[test]
fn code_letters_at_both_ends_of_each_size() {
    // Levels S-1 S-2 S-3 S-4 I II III.
    let table: [(u64, u64, &str); 14] = [
        (2, 8, "A A A A A A B"),
        (9, 15, "A A A A A B C"),
        (16, 25, "A A B B B C D"),
        (26, 50, "A B B C C D E"),
        (51, 90, "B B C C C E F"),
        (91, 150, "B B C D D F G"),
        (151, 280, "B C D E E G H"),
        (281, 500, "B C D E F H J"),
        (501, 1_200, "C C E F G J K"),
        (1_201, 3_200, "C D E G H K L"),
        (3_201, 10_000, "C D F G J L M"),
        (10_001, 35_000, "C D F H K M N"),
        (35_001, 150_000, "D E G J L N P"),
        (150_001, 500_000, "D E G J M P Q"),
    ];
    let levels = [Level::S1, Level::S2, Level::S3, Level::S4, Level::I, Level::II, Level::III];
    for (low, high, letters) in table {
        for (level, expected) in levels.into_iter().zip(letters.split(' ')) {
            for lot in [low, high] {
                assert_eq!(letter(lot, level).unwrap().to_string(), expected, "{lot} {level:?}");
            }
        }
    }
}

#[test]
fn single_plans_printed_elsewhere() {
    // A. Birolini, Reliability Engineering, 2007, figure 7.4: AQL 0.65 %, letters F, J, N.
    let aql = Aql::of_percent(0.65).unwrap();
    for (lot, sample, accept) in [(150, 20, 0), (1_200, 80, 1), (150_000, 500, 7)] {
        let plan = plan(lot, Level::II, aql, Severity::Normal).unwrap();
        assert_eq!((plan.sample, plan.accept), (sample, accept));
    }
    // Vignette of AQLSchemes: 3201 to 10000, level II, AQL 1.5: n = 200, c = 7, r = 8.
    let plan = plan(5_000, Level::II, Aql::of_percent(1.5).unwrap(), Severity::Normal).unwrap();
    assert_eq!((plan.sample, plan.accept, plan.reject), (200, 7, 8));
}

#[test]
fn what_the_table_lacks_is_said() {
    let aql = Aql::of_percent(1.0).unwrap();
    assert_eq!(Aql::of_percent(1.2), None);
    for lot in [0, 1, 150_001, 600_000] {
        assert_eq!(plan(lot, Level::II, aql, Severity::Normal), Err(PlanError::Lot(lot)));
    }
    let beyond = plan(40_000, Level::III, aql, Severity::Normal);
    assert_eq!(beyond, Err(PlanError::Lot(40_000)));
}
