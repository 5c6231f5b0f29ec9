//! What steps do, in which order and for how long.

mod ideal;

use dipsift_engine::Engine;
use dipsift_pins::{Keepers, Positions, Rail as Pull};
use dipsift_wire::{
    Ended, Header, MAX_FIRST, PinCount, Pins, Place, Rail, Ran, Step, Strength, Summary, Window,
    push_step,
};
use ideal::{Ideal, capabilities, header, inputs, pins};

struct Bench {
    hardware: Ideal,
    engine: Engine<Ideal, 256>,
    index: u32,
}

impl Bench {
    fn begin(hardware: Ideal, header: &Header) -> Self {
        let mut bench = Self { hardware, engine: Engine::new(), index: 0 };
        bench.engine.begin(&mut bench.hardware, header, &capabilities()).unwrap();
        bench.hardware.kept.clear();
        bench
    }

    fn window(&mut self, steps: &[Step], last: bool) -> Ran {
        let mut code = heapless::Vec::new();
        steps.iter().for_each(|step| push_step(step, &mut code).unwrap());
        let window = Window { index: self.index, last, code };
        self.index += 1;
        self.engine.window(&mut self.hardware, &window, &capabilities()).unwrap()
    }

    fn finish(&mut self, steps: &[Step]) -> Summary {
        self.window(steps, true).summary.unwrap()
    }
}

fn unpowered() -> Header {
    Header { power: None, ..header() }
}

/// Time that the steps take on the clock.
fn duration(steps: &[Step]) -> u64 {
    let mut bench = Bench::begin(Ideal::default(), &unpowered());
    let start = bench.hardware.now;
    bench.window(steps, false);
    bench.hardware.now - start
}

#[test]
fn steps_wait_as_announced() {
    let drive = Step::Drive { pins: pins(&[1]), high: Pins::NONE };
    let cases = [
        (drive, 1_000),
        (Step::Release { pins: pins(&[1]) }, 1_000),
        (Step::Keep { light: Rail::Low, firm: Rail::Off }, 10_000),
        (Step::Expect { pins: pins(&[3]), high: Pins::NONE }, 0),
        (Step::ExpectReleased { pins: pins(&[3]), keeper: Strength::Light }, 30_000),
        (Step::Pulse { pin: 1, times: 7 }, 7 * 1_000 + 1_000),
        (Step::Wait { ns: 12_345 }, 12_345),
        (Step::Sample, 0),
        (Step::Voltage { pin: 1 }, 0),
        (Step::Current, 0),
    ];
    for (step, ns) in cases {
        assert_eq!(duration(&[drive, step]), 1_000 + ns, "{step:?}");
        assert_eq!(unpowered().wait_ns(&step), ns, "{step:?}");
    }
}

#[test]
fn pulses_go_there_and_back() {
    let mut bench = Bench::begin(Ideal::default(), &header());
    let steps = [
        Step::Drive { pins: pins(&[1, 2]), high: pins(&[1]) },
        Step::Pulse { pin: 2, times: 5 },
        Step::Pulse { pin: 1, times: 0 },
    ];
    bench.window(&steps, false);
    assert_eq!(bench.hardware.applies, 1 + 2 * 5);
    assert_eq!(bench.hardware.driven, Positions::one(1) | Positions::one(2));
    assert_eq!(bench.hardware.high, Positions::one(1));
}

#[test]
fn a_proof_uses_one_keeper_and_puts_both_back() {
    let mut bench = Bench::begin(Ideal::default(), &unpowered());
    let steps = [
        Step::Keep { light: Rail::High, firm: Rail::Low },
        Step::ExpectReleased { pins: pins(&[3]), keeper: Strength::Light },
        Step::ExpectReleased { pins: pins(&[3]), keeper: Strength::Firm },
    ];
    bench.window(&steps, false);
    let before = Keepers { light: Pull::High, firm: Pull::Low };
    let light = |light| Keepers { light, firm: Pull::Off };
    let firm = |firm| Keepers { light: Pull::Off, firm };
    assert_eq!(
        bench.hardware.kept,
        [
            before,
            light(Pull::High),
            light(Pull::Low),
            before,
            firm(Pull::High),
            firm(Pull::Low),
            before
        ]
    );
    assert_eq!(bench.hardware.samples, 4);
}

#[test]
fn drivers_keepers_and_supply_carry_over_windows() {
    let mut bench = Bench::begin(Ideal::default(), &header());
    bench.window(
        &[
            Step::Keep { light: Rail::High, firm: Rail::Off },
            Step::Drive { pins: inputs(), high: inputs() },
        ],
        false,
    );
    let low = pins(&[1]);
    bench.window(&[Step::Drive { pins: low, high: Pins::NONE }], false);
    assert_eq!(bench.hardware.driven.count(), 8);
    assert_eq!(bench.hardware.high.count(), 7);
    assert!(bench.hardware.connection.is_some());
    // Pin 2 is driven by the first window, so the third may pulse it.
    let summary = bench.finish(&[
        Step::Pulse { pin: 2, times: 1 },
        Step::Expect { pins: pins(&[3, 6]), high: pins(&[3]) },
    ]);
    assert_eq!((summary.failures, summary.steps), (0, 5));
    assert!(bench.hardware.is_safe());
    assert_eq!(bench.hardware.connects, 1);
}

#[test]
fn failures_are_counted_by_pin_and_level_and_the_first_kept() {
    let hardware = Ideal { stuck_low: Positions::one(3), ..Ideal::default() };
    let mut bench = Bench::begin(hardware, &unpowered());
    let mut steps = vec![Step::Keep { light: Rail::High, firm: Rail::Off }];
    steps.extend([Step::Expect { pins: pins(&[3, 6]), high: pins(&[3]) }; 12]);
    steps.push(Step::ExpectReleased { pins: pins(&[3, 6]), keeper: Strength::Firm });
    let summary = bench.finish(&steps);
    assert_eq!(summary.failures, 13);
    assert_eq!(
        summary.pins[..],
        [
            PinCount { pin: 3, low: 12, high: 0, held: 1 },
            PinCount { pin: 6, low: 0, high: 12, held: 0 }
        ]
    );
    assert_eq!(summary.first.len(), MAX_FIRST);
    let places: Vec<Place> = summary.first.iter().map(|failure| failure.place).collect();
    assert_eq!(places, (1..=8).map(Place::Step).collect::<Vec<_>>());
    assert_eq!(summary.first[0].pins, pins(&[3, 6]));
    assert_eq!(summary.first[0].expected, pins(&[3]));
}

#[test]
fn counts_saturate() {
    let mut bench = Bench::begin(Ideal::default(), &unpowered());
    let failing = [Step::Expect { pins: pins(&[3]), high: Pins::NONE }; 200];
    for _ in 0..330 {
        bench.window(&failing, false);
    }
    let summary = bench.finish(&[]);
    assert_eq!(summary.failures, 66_000);
    assert_eq!(summary.pins[0], PinCount { pin: 3, low: 0, high: u16::MAX, held: 0 });
}

#[test]
fn the_currents_range_is_kept() {
    let mut bench = Bench::begin(Ideal::default(), &header());
    bench.hardware.current_ua = 9_000;
    bench.window(&[Step::Current], false);
    bench.hardware.current_ua = 5_000;
    bench.window(&[Step::Current], false);
    bench.hardware.current_ua = 7_000;
    let summary = bench.finish(&[]);
    assert_eq!((summary.current_min_ua, summary.current_max_ua), (5_000, 9_000));

    let summary = Bench::begin(Ideal::default(), &unpowered()).finish(&[Step::Current]);
    assert_eq!((summary.current_min_ua, summary.current_max_ua), (0, 0));
}

#[test]
fn an_unpowered_program_connects_nothing() {
    let mut bench = Bench::begin(Ideal::default(), &unpowered());
    let all = Step::Drive { pins: Pins::all(14), high: Pins::all(14) };
    let summary = bench.finish(&[all, Step::Expect { pins: Pins::all(14), high: Pins::all(14) }]);
    assert_eq!((summary.ended, summary.failures), (Ended::Complete, 0));
    assert_eq!(bench.hardware.connects, 0);
}

#[test]
fn an_empty_program_completes() {
    let mut bench = Bench::begin(Ideal::default(), &header());
    let summary = bench.finish(&[]);
    assert_eq!((summary.ended, summary.steps, summary.failures), (Ended::Complete, 0, 0));
    assert_eq!(bench.hardware.connects, 1);
    assert!(bench.hardware.is_safe());
}
