//! Set-ups that are not possible, and what no set-up can do.

mod ideal;

use dipsift_engine::Engine;
use dipsift_wire::{
    Element, MarchFlaw, MarchSetup, Move, Pins, Refresh, Refusal, StartUp, Strobed,
};
use ideal::memory::{C_MINUS, Memory, dynamic_setup, march_header, set, socket, static_setup};
use ideal::{Ideal, capabilities, pins};

fn set_up(setup: &MarchSetup) -> Result<(), Refusal> {
    let mut hardware = Ideal { memory: None, ..socket(Memory::static_ram(false)) };
    let mut engine = Engine::<Ideal, 16>::new();
    engine.begin(&mut hardware, &march_header(), &capabilities()).unwrap();
    let result = engine.march(&mut hardware, setup);
    assert_eq!(engine.is_open(), result.is_ok());
    assert_eq!(hardware.connects, 0);
    assert!(hardware.is_safe());
    result
}

/// What becomes of the static memory's or the dynamic memory's set-up after a change.
fn changed(change: impl FnOnce(&mut MarchSetup)) -> Result<(), Refusal> {
    let mut setup = static_setup(false, C_MINUS);
    change(&mut setup);
    set_up(&setup)
}

fn dynamic(change: impl FnOnce(&mut MarchSetup)) -> Result<(), Refusal> {
    let mut setup = dynamic_setup(C_MINUS);
    change(&mut setup);
    set_up(&setup)
}

fn flaw(flaw: MarchFlaw) -> Result<(), Refusal> {
    Err(Refusal::March(flaw))
}

fn cycle(cycle: u8, index: u8) -> Result<(), Refusal> {
    flaw(MarchFlaw::Cycle { cycle, index })
}

#[test]
fn pins_have_one_role() {
    assert_eq!(changed(|_| {}), Ok(()));
    assert_eq!(dynamic(|_| {}), Ok(()));
    let wrong = flaw(MarchFlaw::Pins);
    assert_eq!(changed(|setup| setup.address[1] = 1), wrong);
    assert_eq!(changed(|setup| setup.address[1] = 0), wrong);
    assert_eq!(changed(|setup| setup.address[1] = 17), wrong);
    assert_eq!(changed(|setup| setup.address[1] = 255), wrong);
    assert_eq!(changed(|setup| setup.address[1] = 5), wrong);
    assert_eq!(changed(|setup| setup.data_in[0] = 4), wrong);
    assert_eq!(changed(|setup| setup.data_out[0] = 6), wrong);
    assert_eq!(changed(|setup| setup.idle = pins(&[5, 6, 7])), wrong);
    assert_eq!(changed(|setup| setup.control = Pins(u64::MAX)), wrong);
    assert_eq!(changed(|setup| setup.data_out.clear()), wrong);
    assert_eq!(changed(|setup| setup.data_in.truncate(3)), wrong);
    for supplied in [8, 16] {
        assert_eq!(changed(|setup| setup.address[1] = supplied), Err(Refusal::Conflict));
        assert_eq!(changed(|setup| setup.data_in[1] = supplied), Err(Refusal::Conflict));
        assert_eq!(changed(|setup| setup.data_out[1] = supplied), Err(Refusal::Conflict));
        let control = pins(&[5, 6, supplied]);
        assert_eq!(changed(|setup| setup.control = control), Err(Refusal::Conflict));
    }
}

#[test]
fn the_march_fits_the_memory() {
    assert_eq!(changed(|setup| setup.words = 0), flaw(MarchFlaw::Words));
    assert_eq!(changed(|setup| setup.words = 17), flaw(MarchFlaw::Words));
    assert_eq!(dynamic(|setup| setup.words = 257), flaw(MarchFlaw::Words));
    let five = Some(Strobed { row_bits: 5, column_bits: 4 });
    assert_eq!(dynamic(|setup| setup.strobed = five), flaw(MarchFlaw::Words));
    let huge = Some(Strobed { row_bits: 255, column_bits: 255 });
    assert_eq!(dynamic(|setup| setup.strobed = huge), flaw(MarchFlaw::Words));
    assert_eq!(changed(|setup| setup.backgrounds.clear()), flaw(MarchFlaw::Backgrounds));
    assert_eq!(changed(|setup| setup.backgrounds[1] = 0x10), flaw(MarchFlaw::Backgrounds));
    // Without elements it can be read out.
    assert_eq!(changed(|setup| setup.elements.clear()), Ok(()));
    let empty = |setup: &mut MarchSetup| {
        if let Element::Each { operations, .. } = &mut setup.elements[1] {
            operations.clear();
        }
    };
    assert_eq!(changed(empty), flaw(MarchFlaw::Elements));
    let read_only = |setup: &mut MarchSetup| {
        setup.data_in.clear();
        setup.write.clear();
    };
    assert_eq!(changed(read_only), flaw(MarchFlaw::Elements));
    assert_eq!(changed(|setup| setup.most_failures = 0), flaw(MarchFlaw::Failures));
}

#[test]
fn cycles_are_whole() {
    let read = |moves: &[Move]| changed(|setup| setup.read = moves.iter().copied().collect());
    let write = |moves: &[Move]| changed(|setup| setup.write = moves.iter().copied().collect());
    assert_eq!(read(&[Move::Sample]), Ok(()));
    assert_eq!(read(&[]), cycle(0, 0));
    assert_eq!(read(&[Move::Sample, Move::Sample]), cycle(0, 1));
    assert_eq!(read(&[Move::Address, Move::Data, Move::Sample]), cycle(0, 1));
    assert_eq!(read(&[Move::Release, Move::Sample]), cycle(0, 0));
    assert_eq!(read(&[Move::Row, Move::Sample]), cycle(0, 0));
    assert_eq!(read(&[set(&[5], &[]), Move::Sample]), cycle(0, 2));
    assert_eq!(read(&[set(&[4], &[]), Move::Sample]), cycle(0, 0));
    assert_eq!(read(&[set(&[5], &[6]), Move::Sample]), cycle(0, 0));
    assert_eq!(read(&[Move::Wait { ns: 20_001 }, Move::Sample]), cycle(0, 2));
    let endless = [Move::Wait { ns: u32::MAX }, Move::Wait { ns: u32::MAX }, Move::Sample];
    assert_eq!(read(&endless), cycle(0, 3));
    assert_eq!(write(&[Move::Data, Move::Release]), Ok(()));
    assert_eq!(write(&[Move::Data]), cycle(1, 1));
    assert_eq!(write(&[Move::Address]), cycle(1, 1));
    assert_eq!(write(&[Move::Data, Move::Sample, Move::Release]), cycle(1, 1));
    assert_eq!(write(&[Move::Data, set(&[6], &[]), Move::Release]), cycle(1, 3));
    // Inputs that are no outputs may stay driven.
    let mut setup = static_setup(true, C_MINUS);
    setup.write = [Move::Data].into_iter().collect();
    assert_eq!(set_up(&setup), Ok(()));
}

#[test]
fn refresh_is_possible() {
    let refresh =
        |change: fn(&mut Refresh)| dynamic(|setup| change(setup.refresh.as_mut().unwrap()));
    let wrong = flaw(MarchFlaw::Refresh);
    assert_eq!(refresh(|refresh| refresh.rows = 0), wrong);
    assert_eq!(refresh(|refresh| refresh.rows = 17), wrong);
    assert_eq!(refresh(|refresh| refresh.interval_ns = 0), wrong);
    assert_eq!(refresh(|refresh| refresh.interval_ns = 600_000), wrong);
    assert_eq!(
        refresh(|refresh| refresh.cycle = [Move::Column].into_iter().collect()),
        cycle(2, 0)
    );
    assert_eq!(refresh(|refresh| refresh.cycle = [Move::Data].into_iter().collect()), cycle(2, 0));
    assert_eq!(
        refresh(|refresh| refresh.cycle = [set(&[5], &[])].into_iter().collect()),
        cycle(2, 1)
    );
    // A strobe may not stay low for longer than 10 µs.
    let long = |setup: &mut MarchSetup| setup.read[4] = Move::Wait { ns: 8_000 };
    assert_eq!(dynamic(long), cycle(0, 8));
    assert_eq!(dynamic(|setup| setup.start = StartUp { pause_us: 10_001, cycles: 8 }), wrong);
    assert_eq!(
        changed(|setup| {
            setup.refresh = dynamic_setup(C_MINUS).refresh;
        }),
        cycle(2, 0)
    );
}

/// xorshift, Marsaglia 2003, triple 13 7 17.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 >> 16
    }

    fn below(&mut self, bound: u64) -> u64 {
        self.next() % bound
    }

    fn pins(&mut self) -> Pins {
        let pin = |random: &mut Self| 1_u64 << random.below(18);
        Pins((0..self.below(4)).fold(0, |set, _| set | pin(self)))
    }

    fn step(&mut self) -> Move {
        match self.below(8) {
            0 => {
                let pins = self.pins();
                Move::Set { pins, high: Pins(pins.0 & self.next()) }
            }
            1 => Move::Address,
            2 => Move::Row,
            3 => Move::Column,
            4 => Move::Data,
            5 => Move::Release,
            6 => Move::Wait { ns: self.below(9_000) as u32 },
            _ => Move::Sample,
        }
    }

    fn spoil(&mut self, setup: &mut MarchSetup) {
        let pin = self.below(18) as u8;
        let change = self.below(4) as usize;
        let step = self.step();
        let put = |cycle: &mut heapless::Vec<Move, 16>, random: &mut Self| {
            let at = random.below(cycle.len() as u64 + 1) as usize;
            match random.below(3) {
                0 if at < cycle.len() => {
                    let _ = cycle.remove(at);
                }
                1 if at < cycle.len() => cycle[at] = step,
                _ => {
                    // Where there is no room, nothing is spoilt.
                    let _ = cycle.insert(at, step);
                }
            }
        };
        match self.below(12) {
            0 => setup.address[change] = pin,
            1 => {
                let at = change % setup.data_in.len();
                setup.data_in[at] = pin;
            }
            2 => {
                let at = change % setup.data_out.len();
                setup.data_out[at] = pin;
            }
            3 => setup.control.0 ^= self.pins().0,
            4 => setup.idle.0 ^= self.pins().0,
            5 => put(&mut setup.read, self),
            6 => put(&mut setup.write, self),
            7 => {
                if let Some(refresh) = &mut setup.refresh {
                    put(&mut refresh.cycle, self);
                }
            }
            8 => setup.words = self.below(300) as u32,
            9 => setup.backgrounds[0] = self.below(40) as u16,
            10 => {
                setup.strobed = (self.below(2) == 0).then(|| Strobed {
                    row_bits: self.below(6) as u8,
                    column_bits: self.below(6) as u8,
                });
            }
            _ => setup.any_down ^= true,
        }
    }
}

/// Spoilt set-ups either are refused without a pin moving, or run to their end without driving a
/// supplied pin, which the socket asserts, or one that is none of theirs.
#[test]
fn no_set_up_drives_a_supplied_pin() {
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let (mut ran, mut refused) = (0, 0);
    for round in 0..6_000 {
        let mut setup = match round % 3 {
            0 => static_setup(false, C_MINUS),
            1 => static_setup(true, "any(w0);up(r0,w1);pause(1);down(r1)"),
            _ => dynamic_setup("any(w0);up(r0,w1);rest(3);down(r1)"),
        };
        for _ in 0..=random.below(4) {
            random.spoil(&mut setup);
        }
        let mut hardware = Ideal { memory: None, ..socket(Memory::static_ram(false)) };
        let mut engine = Engine::<Ideal, 16>::new();
        engine.begin(&mut hardware, &march_header(), &capabilities()).unwrap();
        if engine.march(&mut hardware, &setup).is_err() {
            assert!(hardware.is_safe() && hardware.connects == 0);
            refused += 1;
            continue;
        }
        let numbers = setup.address.iter().chain(&setup.data_in).copied();
        let own = Pins(numbers.collect::<Pins>().0 | setup.control.0);
        ran += 1;
        for piece in 0.. {
            let marched = engine.proceed(&mut hardware).unwrap();
            let package = dipsift_engine::Package::new(16, 0).unwrap();
            assert_eq!(package.at(hardware.driven).0 & !own.0, 0);
            if marched.summary.is_some() {
                break;
            }
            engine.tend(&mut hardware);
            assert!(piece < 10_000, "it does not end: {setup:?}");
        }
        assert!(hardware.is_safe());
    }
    assert!(ran > 500 && refused > 500, "{ran} ran, {refused} were refused");
}
