//! A line that damages, repeats, loses or invents frames during a check: the report is the one of
//! a good line, or tester trouble, never another verdict; and the socket does not stay powered.

use dipsift_bench::{Bench, Outcome, Prepared, Report};
use dipsift_language::Family;
use dipsift_link::{Link, Memory, Peer};
use dipsift_pins::Nanoseconds;
use dipsift_simulator::{Chip, Defect, SimulatedSocket, SimulatedStation};
use dipsift_tests::desk::{Desk, library};
use std::io;
use std::sync::Arc;
use std::time::Duration;

/// What happens to a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fault {
    /// One bit differs.
    Corrupt,
    /// It comes twice.
    Repeated,
    /// It does not come.
    Lost,
    /// Its end does not come.
    Cut,
    /// The frame before it comes again, after it.
    Late,
    /// Bytes that are no frame come before it.
    Noise,
    /// It comes behind more bytes than any frame has.
    TooLong,
}

const FAULTS: [Fault; 7] = [
    Fault::Corrupt,
    Fault::Repeated,
    Fault::Lost,
    Fault::Cut,
    Fault::Late,
    Fault::Noise,
    Fault::TooLong,
];

/// Which frames suffer: counted over both directions, or by chance one in so many.
#[derive(Clone, Copy, Debug)]
enum When {
    Never,
    At(usize, Fault),
    OneIn(u64),
}

struct Line {
    station: SimulatedStation,
    when: When,
    seed: u64,
    frames: usize,
    faults: usize,
    /// The last frame of each direction.
    last: [Vec<u8>; 2],
}

impl Line {
    /// The next number of a linear congruential generator (Knuth, "The Art of Computer
    /// Programming", volume 2, the multiplier of MMIX).
    fn random(&mut self, below: u64) -> u64 {
        self.seed = self.seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (self.seed >> 33) % below
    }

    /// Carries what one side sends.
    fn carry(&mut self, way: usize, bytes: &[u8], out: &mut Vec<u8>) {
        // A lone zero byte only ends what came before.
        if bytes.len() < 2 {
            out.extend_from_slice(bytes);
            return;
        }
        let fault = match self.when {
            When::Never => None,
            When::At(frame, fault) => (frame == self.frames).then_some(fault),
            When::OneIn(rarity) => {
                (self.random(rarity) == 0).then(|| FAULTS[self.random(7) as usize])
            }
        };
        self.frames += 1;
        self.faults += usize::from(fault.is_some());
        match fault {
            None => out.extend_from_slice(bytes),
            Some(Fault::Corrupt) => {
                let mut bad = bytes.to_vec();
                let at = self.random(bad.len() as u64) as usize;
                bad[at] ^= 1 << self.random(8);
                out.extend(bad);
            }
            Some(Fault::Repeated) => out.extend([bytes, bytes].concat()),
            Some(Fault::Lost) => {}
            Some(Fault::Cut) => {
                let kept = self.random(bytes.len() as u64) as usize;
                out.extend_from_slice(&bytes[..kept]);
            }
            Some(Fault::Late) => {
                out.extend_from_slice(bytes);
                out.extend_from_slice(&self.last[way]);
            }
            Some(Fault::Noise) => {
                let count = 1 + self.random(40);
                let noise: Vec<u8> = (0..count).map(|_| self.random(256) as u8).collect();
                out.extend(noise);
                out.extend_from_slice(bytes);
            }
            Some(Fault::TooLong) => {
                out.extend(std::iter::repeat_n(0x55, 2 * dipsift_wire::MAX_FRAME));
                out.extend_from_slice(bytes);
            }
        }
        self.last[way] = bytes.to_vec();
    }
}

impl Peer for Line {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        let (mut arrived, mut reply) = (Vec::new(), Vec::new());
        self.carry(0, bytes, &mut arrived);
        self.station.receive(&arrived, &mut reply);
        if !reply.is_empty() {
            self.carry(1, &reply, out);
        }
        Ok(())
    }

    fn idle(&mut self, time: Duration, _: &mut Vec<u8>) -> io::Result<()> {
        self.station.idle(Nanoseconds(time.as_nanos() as u64));
        Ok(())
    }
}

/// A chip to check.
struct Case {
    prepared: Arc<Prepared>,
    defect: Option<Defect>,
}

/// A good one, a bad one, and one that is run again before its verdict.
fn cases() -> [Case; 3] {
    [
        ("7490", None),
        ("7400", Some(Defect::Stuck { pin: 6, high: true })),
        ("7475", Some(Defect::Weak { pin: 16, ohms: 20_000 })),
    ]
    .map(|(number, defect)| {
        let part = library().part(number).expect("one of the library's");
        let prepared = Desk::new(0).bench.prepare(part, Family::Standard).expect("prepared");
        Case { prepared, defect }
    })
}

/// Checks a chip over a line; returns the report, the frames and the faults, and demands that
/// nothing stays powered beyond the longest powered silence.
fn check(case: &Case, when: When, seed: u64) -> (Report, usize, usize) {
    let Case { prepared, defect } = case;
    let line = Line {
        station: SimulatedStation::new(SimulatedSocket::new(1)),
        when: When::Never,
        seed,
        frames: 0,
        faults: 0,
        last: [Vec::new(), Vec::new()],
    };
    let link = Link::open_from(Memory::new(line), 1_000).expect("a good line at first");
    let mut bench = Bench::new(link);
    let chip = Chip::new(Arc::clone(&prepared.part), prepared.family, 7)
        .expect("a chip")
        .at_shift(prepared.placement.shift);
    let line = bench.link().transport_mut().peer_mut();
    line.station.insert(chip, defect.as_slice()).expect("inserted");
    (line.when, line.frames) = (when, 0);
    let report = bench.check(prepared, false);
    let line = bench.link().transport_mut().peer_mut();
    line.station.idle(Nanoseconds::from_millis(u64::from(dipsift_wire::SILENCE_MS) + 1));
    let socket = line.station.socket();
    for position in 1..=40 {
        let volts = socket.voltage(position);
        assert!(
            volts.abs() < 0.3,
            "{} {when:?} {seed}: position {position} at {volts} V",
            prepared.name
        );
    }
    (report, line.frames, line.faults)
}

#[test]
fn one_bad_frame_anywhere_changes_no_report() {
    for case in cases() {
        let (right, frames, _) = check(&case, When::Never, 0);
        assert_eq!(right.outcome, if case.defect.is_some() { Outcome::NoGo } else { Outcome::Go });
        println!("{} {:?}: {frames} frames", case.prepared.name, case.defect);
        assert!(frames >= 8, "{frames} frames");
        for frame in 0..frames {
            for fault in FAULTS {
                for seed in 0..4 {
                    let (report, _, faults) = check(&case, When::At(frame, fault), seed);
                    assert_eq!(faults, 1);
                    // An old request ends the program: the check is lost, but not its truth.
                    if fault == Fault::Late && report.outcome == Outcome::Trouble {
                        continue;
                    }
                    let name = &case.prepared.name;
                    assert_eq!(report, right, "{name} frame {frame} {fault:?} {seed}");
                }
            }
        }
    }
}

#[test]
fn many_bad_frames_end_in_the_same_report_or_in_trouble() {
    for case in cases() {
        let (right, ..) = check(&case, When::Never, 0);
        let (mut same, mut trouble) = (0, 0);
        for seed in 0..300 {
            let rarity = [2, 4, 8][seed as usize % 3];
            let (report, _, faults) = check(&case, When::OneIn(rarity), seed);
            if report.outcome == Outcome::Trouble {
                assert!(faults > 0, "{} seed {seed}: trouble without a fault", case.prepared.name);
                trouble += 1;
            } else {
                assert_eq!(report, right, "{} seed {seed}", case.prepared.name);
                same += 1;
            }
        }
        println!(
            "{} {:?}: {same} reports as on a good line, {trouble} in trouble",
            case.prepared.name, case.defect
        );
        assert!(
            same > 0 && trouble > 0,
            "{}: {same} the same, {trouble} in trouble",
            case.prepared.name
        );
    }
}
