//! What the literature says that each march finds and misses, and the traps in it.

use dipsift_march::{
    CATALOGUE, Class, Coverage, Direction, Element, Group, March, Operation, detects_at, faults,
    find,
};

fn march(key: &str) -> March {
    find(key).expect("in the catalogue").march()
}

fn coverage(key: &str) -> Coverage {
    Coverage::of(&march(key))
}

/// The columns of [`VAN_DE_GOOR`].
const COLUMNS: [Class; 6] = [
    Class::StuckAt,
    Class::Address,
    Class::Transition,
    Class::StuckOpen,
    Class::CouplingInversion,
    Class::CouplingIdempotent,
];

/// Which faults are found completely: van de Goor, "Using March Tests to Test SRAMs", IEEE Design
/// & Test of Computers 10(1), 1993, pp. 8-14; from memory.
const VAN_DE_GOOR: [(&str, [bool; 6]); 8] = [
    ("mats", [true, false, false, false, false, false]),
    ("mats+", [true, true, false, false, false, false]),
    ("mats++", [true, true, true, true, false, false]),
    ("x", [true, true, true, false, true, false]),
    ("y", [true, true, true, true, true, false]),
    ("c-", [true, true, true, false, true, true]),
    ("a", [true, true, true, false, true, true]),
    ("b", [true, true, true, true, true, true]),
];

#[test]
fn classical_faults_are_found_as_van_de_goor_says() {
    for (key, found) in VAN_DE_GOOR {
        let coverage = coverage(key);
        for (class, found) in COLUMNS.into_iter().zip(found) {
            let share = coverage.share(class);
            assert_eq!(share.is_full(), found, "{class} of {key}: {share}");
        }
    }
}

/// The remark at `StdMemCheckMarchA` in `StdMemCheck.h` of PsiControl: linked CFid, "but not linked
/// with TFs". What it misses are TF linked with CFin; TF linked with CFid it finds, though the
/// remark at `StdMemCheckMarchB` lets these be the difference between the two.
#[test]
fn march_a_misses_transitions_that_an_inversion_hides() {
    let coverage = coverage("a");
    assert!(coverage.share(Class::LinkedIdempotent).is_full());
    assert!(!coverage.share(Class::LinkedTransitionInversion).is_full());
    assert!(coverage.share(Class::LinkedTransition).is_full());
}

/// The remark at `StdMemCheckMarchB` in `StdMemCheck.h` of PsiControl: all that March A finds, and
/// CFid linked with TF.
#[test]
fn march_b_finds_linked_transitions() {
    let coverage = coverage("b");
    for class in
        [Class::LinkedIdempotent, Class::LinkedTransition, Class::LinkedTransitionInversion]
    {
        assert!(coverage.share(class).is_full(), "{class}");
    }
}

/// The remark at `StdMemCheckMarchA` also names CFst. Its table gives March B, which "detects all
/// faults of March A", 6/8: the table is right for a coupling that shows while the aggressor holds
/// its value, and March A is no better.
#[test]
fn march_a_misses_state_couplings() {
    assert_eq!(coverage("a").share(Class::CouplingState).to_string(), "6/8");
    assert_eq!(coverage("b").share(Class::CouplingState).to_string(), "6/8");
}

/// Microchip's data sheets of SAM controllers, section "Testing of On-Board Memories (MBIST)": March
/// LR finds AF, SAF, TF, CF and linked CF.
#[test]
fn march_lr_finds_what_its_users_say() {
    let coverage = coverage("lr");
    for class in [
        Class::Address,
        Class::StuckAt,
        Class::Transition,
        Class::CouplingInversion,
        Class::CouplingIdempotent,
        Class::CouplingState,
        Class::LinkedIdempotent,
    ] {
        assert!(coverage.share(class).is_full(), "{class}");
    }
}

/// The remark at `StdMemCheckMarchLA` in `StdMemCheck.h` of PsiControl: all simple faults, and all
/// linked ones. Its simple faults are the classical ones without retention: the classes that need a
/// write of the value already held came with the static simple faults, after March LA, which has no
/// such write.
#[test]
fn march_la_finds_simple_and_linked_faults_of_its_time() {
    let coverage = coverage("la");
    for share in coverage.shares() {
        let later = [
            Class::WriteDestructive,
            Class::DisturbNonTransition,
            Class::CoupledWriteDestructive,
            Class::Retention,
        ]
        .contains(&share.class);
        assert_eq!(share.is_full(), !later, "{}: {share}", share.class);
    }
}

/// The static simple faults of Hamdioui, van de Goor and Rodgers.
fn is_static(class: Class) -> bool {
    class.group() == Group::StaticSimple
        || [Class::Transition, Class::CouplingState].contains(&class)
}

/// Hamdioui, van de Goor and Rodgers, MTDT 2002, abstract: March SS detects all realistic simple
/// static faults, and no march test in industrial use then did.
#[test]
fn march_ss_finds_all_static_simple_faults_and_none_before_it_does() {
    let all = |key: &str| {
        coverage(key).shares().iter().filter(|share| is_static(share.class)).all(|s| s.is_full())
    };
    assert!(all("ss"));
    // March RAW is of the same year and the same authors.
    for test in CATALOGUE.iter().filter(|test| !["ss", "raw"].contains(&test.key)) {
        assert!(!all(test.key), "{}", test.name);
    }
}

/// Trap: all simple static faults are not all faults.
#[test]
fn march_ss_misses_cut_off_cells_and_linked_faults() {
    let coverage = coverage("ss");
    for class in [Class::StuckOpen, Class::LinkedIdempotent, Class::Retention] {
        assert!(!coverage.share(class).is_full(), "{class}");
    }
}

/// Pauses are for retention (Dekker, Beenker and Thijssen, ITC 1988; from memory), and without one
/// nothing can be lost.
#[test]
fn retention_needs_pauses() {
    for test in CATALOGUE {
        let march = test.march();
        let share = Coverage::of(&march).share(Class::Retention).clone();
        let expected = if march.length().pauses > 0 { 2 } else { 0 };
        assert_eq!(share.detected, expected, "{}", test.name);
    }
}

/// The operations of all sweeps that may run in a direction.
fn sweeps(march: &March, wanted: Direction) -> impl Iterator<Item = &[Operation]> {
    march.elements().iter().filter_map(move |element| match element {
        Element::Sweep { direction, operations } if *direction == wanted => {
            Some(operations.as_slice())
        }
        _ => None,
    })
}

/// Whether an element begins with a read of a value and leaves the other.
fn turns(operations: &[Operation], from: bool) -> bool {
    let last = operations.iter().rev().find_map(|operation| match operation {
        Operation::Write(value) => Some(*value),
        Operation::Read(_) => None,
    });
    operations.first() == Some(&Operation::Read(from)) && last == Some(!from)
}

/// Van de Goor's condition for address faults (*Testing Semiconductor Memories*, from memory): an
/// ascending element (rx, …, w!x) and a descending one (r!x, …, wx). March SR has neither, which is
/// easily overlooked.
#[test]
fn address_faults_are_found_where_the_condition_holds() {
    for test in CATALOGUE {
        let march = test.march();
        let condition = [false, true].into_iter().any(|value| {
            sweeps(&march, Direction::Up).any(|operations| turns(operations, value))
                && sweeps(&march, Direction::Down).any(|operations| turns(operations, !value))
        });
        let share = Coverage::of(&march).share(Class::Address).clone();
        assert_eq!(share.is_full(), condition, "{}: {share}", test.name);
    }
    assert!(!coverage("sr").share(Class::Address).is_full());
}

/// A cut-off cell repeats what was read last, so that only an element with both values read shows
/// it whatever came before (van de Goor, IEEE Design & Test 10(1), 1993; from memory). March C- and
/// March SS have none, which is easily overlooked.
#[test]
fn cut_off_cells_are_found_where_an_element_reads_both_values() {
    for test in CATALOGUE {
        let march = test.march();
        let both = [Direction::Up, Direction::Down, Direction::Any].into_iter().any(|direction| {
            sweeps(&march, direction).any(|operations| {
                [false, true].iter().all(|value| operations.contains(&Operation::Read(*value)))
            })
        });
        let share = Coverage::of(&march).share(Class::StuckOpen).clone();
        assert_eq!(share.is_full(), both, "{}: {share}", test.name);
    }
    for key in ["c-", "ss"] {
        assert!(!coverage(key).share(Class::StuckOpen).is_full(), "{key}");
    }
}

/// How many faults each class has. The twelve primitives of one cell and 36 of two, 72 with their
/// orders, are those of Hamdioui, van de Goor and Rodgers (from memory); the others are counted by
/// hand: two CFid of opposite effect have 2 x 2 triggers in six orders of three cells, or two
/// triggers in two orders of two cells.
#[test]
fn each_class_has_its_number_of_faults() {
    let count = |wanted: &dyn Fn(Class) -> bool| -> usize {
        Class::ALL.into_iter().filter(|class| wanted(*class)).map(|c| faults(c).len()).sum()
    };
    assert_eq!(count(&|class| is_static(class) && faults(class).len() == 2), 12);
    assert_eq!(count(&|class| is_static(class) && faults(class).len() > 2), 72);
    assert_eq!(count(&|class| class == Class::LinkedIdempotent), 4 * 6 + 2 * 2);
    // No cell: 2; borrowed: 2 x 2; another cell: 2; an extra cell: 2 x 2.
    assert_eq!(count(&|class| class == Class::Address), 12);
}

/// Counted place by place on four cells there are 120 pairs of linked CFid: 24 ordered choices of
/// three cells with four pairs of triggers, 12 of two cells with two. A march that finds a fault at
/// all its places finds all of them.
#[test]
fn linked_faults_place_by_place() {
    let places: Vec<_> =
        faults(Class::LinkedIdempotent).iter().flat_map(|fault| fault.placements()).collect();
    assert_eq!(places.len(), 24 * 4 + 12 * 2);
    for key in ["a", "b", "lr", "la"] {
        assert!(places.iter().all(|place| detects_at(&march(key), place)), "{key}");
    }
}
