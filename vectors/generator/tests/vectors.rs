//! Vectors for parts put together in code.

mod built;

use built::{flip_flops, nands, ripple_counter, transceiver};
use dipsift_generator::{
    Conditions, Expected, Method, Player, Refuse, Stimulus, Vectors, driven_at, escapes, generate,
    replay, trace,
};
use dipsift_language::{Family, Node, Part};
use dipsift_wire::{Pins, Rail, Step};
use std::sync::Arc;

fn vectors(part: &Arc<Part>, family: Family) -> Vectors {
    generate(part, &part.packages[0], &Conditions::reference(family)).expect("vectors")
}

fn pins(numbers: &[u8]) -> Pins {
    numbers.iter().copied().collect()
}

#[test]
fn sections_with_few_inputs_get_every_combination() {
    let part = nands("nand", "=");
    let made = vectors(&part, Family::Standard);
    assert_eq!(made.methods.len(), 4);
    assert!(made.methods.iter().all(|m| m.method == Method::Exhaustive { inputs: 2 }));
    assert!(made.untested.is_empty(), "{:?}", made.untested);
    let mut seen = [false; 4];
    let mut player =
        Player::new(&part, &part.packages[0], &Conditions::reference(Family::Standard));
    for step in &made.steps {
        player.step(step).expect("legal");
        let (driven, high) = player.driven();
        if driven.contains(1) && driven.contains(2) {
            seen[usize::from(high.contains(1)) * 2 + usize::from(high.contains(2))] = true;
        }
    }
    assert_eq!(seen, [true; 4]);
}

#[test]
fn the_same_part_gets_the_same_vectors() {
    let part = transceiver();
    assert_eq!(vectors(&part, Family::Ls), vectors(&part, Family::Ls));
}

#[test]
fn expectations_are_what_the_part_shows() {
    for part in [nands("oc", "!"), flip_flops(), ripple_counter(4), transceiver()] {
        for family in [Family::Ls, Family::Hc] {
            let made = vectors(&part, family);
            let conditions = Conditions::reference(family);
            let shown = replay(&part, &part.packages[0], &conditions, &made.steps, &[]);
            assert!(!shown.is_empty());
            for shown in shown {
                match made.steps[shown.step as usize] {
                    Step::Expect { pins, high } => {
                        assert_eq!(Pins(pins.0 & !shown.pins.0), Pins::NONE, "{}", part.number);
                        assert_eq!(Pins(shown.high.0 & pins.0), high, "{}", part.number);
                    }
                    Step::ExpectReleased { pins, .. } => assert_eq!(pins, shown.pins),
                    _ => {}
                }
            }
        }
    }
}

#[test]
fn long_counters_go_through_every_stage() {
    let part = ripple_counter(12);
    let made = vectors(&part, Family::B);
    assert!(made.untested.is_empty(), "{:?}", made.untested);
    assert!(made.steps.len() < 3_000, "{}", made.steps.len());
    let clocks: u32 = made
        .steps
        .iter()
        .map(|step| if let Step::Pulse { times, .. } = step { *times } else { 0 })
        .sum();
    assert!(clocks >= 1 << 12, "{clocks}");
}

#[test]
fn a_changed_gate_is_noticed_and_an_unchanged_one_is_not() {
    let part = nands("nand", "=");
    let conditions = Conditions::reference(Family::Standard);
    let made = vectors(&part, Family::Standard);
    assert!(escapes(&part, &part.packages[0], &conditions, &made.steps));
    for index in 0..part.network.nodes.len() {
        if let Node::And(a, b) = part.network.nodes[index] {
            let mut other = (*part).clone();
            other.network.nodes[index] = Node::Xor(a, b);
            let other = Arc::new(other);
            assert!(!escapes(&other, &part.packages[0], &conditions, &made.steps));
        }
    }
}

#[test]
fn an_enabled_pin_is_never_driven() {
    let part = transceiver();
    let conditions = Conditions::reference(Family::Ls);
    let mut player = Player::new(&part, &part.packages[0], &conditions);
    assert_eq!(player.drive(pins(&[2]), Pins::NONE), Err(Refuse::Contention(2)));
    player.drive(pins(&[1, 11]), pins(&[1])).expect("A to B, on");
    assert_eq!(player.drive(pins(&[10]), Pins::NONE), Err(Refuse::Contention(10)));
    player.drive(pins(&[2]), pins(&[2])).expect("A1 is an input now");
    assert_eq!(player.expected(10), Expected::High);
    // Turning it round while A1 is driven would let the chip drive against it.
    assert_eq!(player.drive(pins(&[1]), Pins::NONE), Err(Refuse::Contention(2)));
    assert_eq!(player.drive(pins(&[3, 11]), pins(&[11])), Ok(()));
    assert_eq!(player.expected(10), Expected::Released);
}

#[test]
fn data_and_clock_at_once_depend_on_the_order() {
    let part = flip_flops();
    let conditions = Conditions::reference(Family::Ls);
    let mut player = Player::new(&part, &part.packages[0], &conditions);
    player.drive(pins(&[1, 2, 3]), pins(&[3])).expect("first levels");
    player.pulse(2, 1).expect("takes a low");
    assert_eq!(player.expected(4), Expected::Low);
    let (both, none) = (pins(&[1, 2]), Pins::NONE);
    assert_eq!(player.drive(both, both), Err(Refuse::OrderDependent));
    player.drive_in_any_order(both, both).expect("taken as unknown");
    assert_eq!(player.expected(4), Expected::Unknown);
    // The other flip-flop's data is no race, and neither is its clock.
    player.drive(pins(&[1, 2]), none).expect("falling edges do nothing");
    player.drive(pins(&[2, 7, 8, 9]), pins(&[2, 7])).expect("independent sections");
    assert_eq!(player.expected(4), Expected::Low);
}

#[test]
fn a_forced_input_explains_what_is_seen() {
    let part = nands("nand", "=");
    let conditions = Conditions::reference(Family::Standard);
    let steps = [
        conditions.keep(Rail::High),
        Step::Drive { pins: pins(&[1, 2]), high: pins(&[2]) },
        Step::Sample,
    ];
    let shown = replay(&part, &part.packages[0], &conditions, &steps, &[]);
    assert!(shown[0].high.contains(3));
    let shown = replay(&part, &part.packages[0], &conditions, &steps, &[(1, true)]);
    assert!(shown[0].pins.contains(3) && !shown[0].high.contains(3));
    assert!(!shown[0].pins.contains(1));
    assert_eq!(driven_at(&steps, 2), (pins(&[1, 2]), pins(&[2])));
    assert_eq!(driven_at(&steps, 0), (Pins::NONE, Pins::NONE));
}

#[test]
fn a_trace_expects_what_rows_leave_known() {
    use Stimulus::{Float, High, Low};
    let part = transceiver();
    let conditions = Conditions::reference(Family::Hc);
    let rows = vec![
        vec![(11, High), (1, High)],
        vec![(11, Low), (2, High)],
        vec![(2, Low)],
        vec![(11, High), (2, Float)],
    ];
    let made = trace(&part, &part.packages[0], &conditions, &rows).expect("a trace");
    let samples = made.steps.iter().filter(|step| **step == Step::Sample).count();
    assert_eq!(samples, 2 * rows.len());
    let b1 = made.pins.iter().position(|&pin| pin == 10).expect("B1");
    let seen: Vec<Expected> = made.expected.iter().map(|row| row[b1]).collect();
    assert_eq!(seen, [Expected::Released, Expected::High, Expected::Low, Expected::Released]);

    let refused = vec![rows[0].clone(), vec![(2, High)], vec![(1, Low), (11, Low)]];
    let error = trace(&part, &part.packages[0], &conditions, &refused).expect_err("contention");
    assert_eq!(error.row, 2);
    assert_eq!(error.to_string(), "row 3 cannot be played: the chip drives pin 2 or may do so");
}

#[test]
fn the_longest_trace_is_planned_quickly() {
    let part = flip_flops();
    let row = |index: usize| {
        let level = |bit: usize| if index >> bit & 1 == 1 { Stimulus::High } else { Stimulus::Low };
        vec![
            (1, level(1)),
            (2, level(0)),
            (3, if index == 0 { Stimulus::Low } else { Stimulus::High }),
        ]
    };
    let rows: Vec<_> = (0..100_000).map(row).collect();
    let start = std::time::Instant::now();
    let made = trace(&part, &part.packages[0], &Conditions::reference(Family::Ls), &rows);
    let made = made.expect("a trace");
    assert_eq!(made.expected.len(), 100_000);
    // Row 2 moves data while the clock falls, row 3 is the edge that takes it.
    let q = made.pins.iter().position(|&pin| pin == 4).expect("1Q");
    assert_eq!(made.expected[2][q], Expected::Low);
    assert_eq!(made.expected[3][q], Expected::High);
    assert!(start.elapsed().as_secs() < 30, "{:?}", start.elapsed());
}
