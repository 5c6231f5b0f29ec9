//! Whole programs over a line without faults.

mod common;

use common::ideal::{Ideal, Trip, header, inputs, pins, truth_table};
use common::{Line, clean};
use dipsift_link::{Link, LinkError, Memory};
use dipsift_pins::Positions;
use dipsift_wire::{
    Ended, Header, PinCount, Pins, Place, Rail, Refusal, SCHEMA, Seen, Step, Strength, VERSIONS,
};
use std::io;

type Clean = Line<fn(common::Way, &[u8], &mut Vec<u8>) -> io::Result<()>>;

fn link(socket: Ideal) -> Link<Memory<Clean>> {
    Link::open(Memory::new(Line::new(socket, clean as _))).unwrap()
}

fn socket(link: &mut Link<Memory<Clean>>) -> &mut Ideal {
    link.transport_mut().peer_mut().station.hardware_mut()
}

#[test]
fn the_hello_tells_of_versions_and_abilities() {
    let mut link = link(Ideal::default());
    assert_eq!(link.hello().versions, VERSIONS);
    assert_eq!(link.hello().schema, SCHEMA);
    assert_eq!(link.hello().capabilities, common::ideal::capabilities());
    assert!(socket(&mut link).is_safe());
}

#[test]
fn a_good_gate_fails_nothing() {
    let mut link = link(Ideal::default());
    let run = link.run(&header(), &truth_table()).unwrap();
    assert_eq!(run.summary.ended, Ended::Complete);
    assert_eq!(run.summary.steps, 9);
    assert_eq!(run.summary.failures, 0);
    assert!(run.summary.pins.is_empty() && run.summary.first.is_empty() && run.seen.is_empty());
    assert_eq!((run.summary.current_min_ua, run.summary.current_max_ua), (8_000, 8_000));
    assert_eq!(socket(&mut link).connects, 1);
    assert!(socket(&mut link).is_safe());
    assert!(!link.status().unwrap().powered);
}

#[test]
fn failures_name_pin_step_and_levels() {
    // Output 2Y, pin 6, stuck high: wrong in the last vector only.
    let mut link = link(Ideal { stuck_high: Positions::one(6), ..Ideal::default() });
    let summary = link.run(&header(), &truth_table()).unwrap().summary;
    assert_eq!(summary.failures, 1);
    assert_eq!(summary.pins, [PinCount { pin: 6, low: 0, high: 1, held: 0 }]);
    let failure = summary.first[0];
    assert_eq!(failure.place, Place::Step(8));
    assert_eq!(failure.pins, pins(&[6]));
    assert_eq!(failure.expected, inputs());
    assert_eq!(failure.seen, Pins(inputs().0 | pins(&[6, 14]).0));
}

#[test]
fn a_trip_ends_the_program_and_unpowers() {
    let steps = truth_table();
    let mut at_once = link(Ideal { trip: Trip::AtOnce, ..Ideal::default() });
    let run = at_once.run(&header(), &steps).unwrap();
    assert_eq!(run.summary.ended, Ended::TrippedAtPowerUp);
    assert_eq!(run.summary.steps, 0);
    assert!(socket(&mut at_once).is_safe());

    let mut later = link(Ideal { trip: Trip::AfterApplies(3), ..Ideal::default() });
    let run = later.run(&header(), &steps).unwrap();
    assert_eq!(run.summary.ended, Ended::Tripped { step: 5 });
    assert_eq!(run.summary.steps, 6);
    assert!(socket(&mut later).is_safe());
    assert_eq!(later.status().unwrap().trips, 1);
}

#[test]
fn captured_records_come_in_the_order_of_the_steps() {
    let mut link = link(Ideal::default());
    let header = Header { capture: true, ..header() };
    let steps = [
        Step::Drive { pins: inputs(), high: Pins::NONE },
        Step::Sample,
        Step::Voltage { pin: 14 },
        Step::Voltage { pin: 2 },
        Step::Current,
        Step::Drive { pins: inputs(), high: inputs() },
        Step::Expect { pins: pins(&[3]), high: Pins::NONE },
    ];
    let run = link.run(&header, &steps).unwrap();
    assert_eq!(run.summary.failures, 0);
    let outputs = pins(&[3, 6, 8, 11, 14]);
    assert_eq!(
        run.seen,
        [
            Seen::Levels(outputs),
            Seen::Voltage(Some(5_000)),
            Seen::Voltage(None),
            Seen::Current(8_000),
            Seen::Levels(Pins(inputs().0 | pins(&[14]).0)),
        ]
    );
}

#[test]
fn a_long_program_runs_in_windows_and_counts_on() {
    // The table 1000 times, then a long train and a long wait before the step that fails.
    let mut steps: Vec<Step> = (0..1_000).flat_map(|_| truth_table()).collect();
    steps.push(Step::Pulse { pin: 1, times: 700_000 });
    steps.push(Step::Wait { ns: 1_500_000_000 });
    let failing = steps.len() as u32;
    steps.push(Step::Expect { pins: pins(&[3]), high: pins(&[3]) });
    let mut link = link(Ideal::default());
    let run = link.run(&header(), &steps).unwrap();
    assert_eq!(run.summary.ended, Ended::Complete);
    assert_eq!(run.summary.steps, steps.len() as u32);
    assert_eq!(run.summary.failures, 1);
    assert_eq!(run.summary.first[0].place, Place::Step(failing));
    let socket = socket(&mut link);
    assert_eq!(socket.connects, 1, "windows carry the supply");
    assert_eq!(socket.applies, 4 * 1_000 + 2 * 700_000);
    assert!(socket.is_safe());
    assert!(socket.now >= 2_200_000_000);
    assert_eq!(link.status().unwrap().silences, 0);
}

#[test]
fn released_pins_are_proven_and_rails_put_back() {
    let header = Header { power: None, ..header() };
    let steps = [
        Step::Keep { light: Rail::Low, firm: Rail::Off },
        Step::ExpectReleased { pins: pins(&[3, 6]), keeper: Strength::Firm },
        Step::Sample,
    ];
    let mut good = link(Ideal::default());
    let run = good.run(&header, &steps).unwrap();
    assert_eq!(run.summary.failures, 0);
    assert_eq!(run.seen, [Seen::Levels(Pins::NONE)]);

    let mut held = link(Ideal { stuck_low: Positions::one(6), ..Ideal::default() });
    let summary = held.run(&header, &steps).unwrap().summary;
    assert_eq!(summary.failures, 1);
    assert_eq!(summary.pins, [PinCount { pin: 6, low: 0, high: 0, held: 1 }]);
    assert_eq!(summary.first[0].expected, pins(&[3, 6]));
    assert_eq!(summary.first[0].place, Place::Step(1));
}

#[test]
fn refusals_count_as_the_caller_does() {
    let mut steps: Vec<Step> = (0..200).flat_map(|_| truth_table()).collect();
    let wrong = steps.len() as u32;
    steps.push(Step::Pulse { pin: 3, times: 1 });
    let mut link = link(Ideal::default());
    match link.run(&header(), &steps) {
        Err(LinkError::RefusedStep { step }) => assert_eq!(step, wrong),
        other => panic!("{other:?}"),
    }
    assert!(socket(&mut link).is_safe());
    // And the station is ready again.
    assert_eq!(link.run(&header(), &truth_table()).unwrap().summary.failures, 0);
    let conflict = [Step::Drive { pins: pins(&[14]), high: pins(&[14]) }];
    assert!(matches!(link.run(&header(), &conflict), Err(LinkError::Refused(Refusal::Conflict))));
    let too_long = Header { settle_ns: 300_000_000, ..header() };
    assert!(matches!(link.run(&too_long, &[]), Err(LinkError::Refused(Refusal::TooLong))));
}

#[test]
fn off_is_answered_and_leaves_the_socket_unpowered() {
    let mut link = link(Ideal::default());
    link.off().unwrap();
    assert!(socket(&mut link).is_safe());
}

#[test]
fn whoever_waits_can_stop_it_before_any_request() {
    let mut link = link(Ideal::default());
    link.stop_when(|| false);
    link.run(&header(), &truth_table()).unwrap();
    assert!(!link.stopped());
    link.stop_when(|| true);
    let stopped = link.run(&header(), &truth_table());
    assert!(matches!(stopped, Err(LinkError::Stopped)), "{stopped:?}");
    assert!(link.stopped());
    // The first program alone was powered.
    assert_eq!(socket(&mut link).connects, 1);
    assert!(socket(&mut link).is_safe());
    // To switch off is never stopped.
    link.off().unwrap();
}
