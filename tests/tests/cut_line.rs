//! A line that breaks: whatever the byte, the outcome is trouble and the socket is let go.

use dipsift_bench::{Bench, Outcome};
use dipsift_language::Family;
use dipsift_link::{Link, Memory, Peer};
use dipsift_pins::Nanoseconds;
use dipsift_simulator::{Chip, SimulatedSocket, SimulatedStation};
use dipsift_tests::desk::library;
use std::io;
use std::sync::Arc;
use std::time::Duration;

/// A station on a line that carries so many bytes each way and then none.
struct Breaking {
    station: SimulatedStation,
    to_station: usize,
    to_host: usize,
}

impl Peer for Breaking {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        let carried = bytes.len().min(self.to_station);
        self.to_station -= carried;
        let mut reply = Vec::new();
        self.station.receive(&bytes[..carried], &mut reply);
        let carried = reply.len().min(self.to_host);
        self.to_host -= carried;
        out.extend_from_slice(&reply[..carried]);
        Ok(())
    }

    fn idle(&mut self, time: Duration, _: &mut Vec<u8>) -> io::Result<()> {
        self.station.idle(Nanoseconds(time.as_nanos() as u64));
        Ok(())
    }
}

const ENDLESS: usize = usize::MAX / 2;

/// Checks a good 7400, with sequence numbers of the same length every time, over a line that breaks after so many bytes; returns the outcome and how
/// many bytes went each way, and demands the safe state after the longest powered silence.
fn check(to_station: usize, to_host: usize) -> (Outcome, usize, usize) {
    let part = library().part("7400").expect("a 7400");
    let station = SimulatedStation::new(SimulatedSocket::new(1));
    let peer = Breaking { station, to_station: ENDLESS, to_host: ENDLESS };
    let mut bench = Bench::new(Link::open_from(Memory::new(peer), 1_000).expect("an answer"));
    let prepared = bench.prepare(part, Family::Standard).expect("prepared");
    let chip = Chip::new(Arc::clone(part), Family::Standard, 7)
        .expect("a chip")
        .at_shift(prepared.placement.shift);
    let peer = bench.link().transport_mut().peer_mut();
    peer.station.insert(chip, &[]).expect("inserted");
    peer.to_station = to_station;
    peer.to_host = to_host;
    let outcome = bench.check(&prepared, false).outcome;
    let peer = bench.link().transport_mut().peer_mut();
    let used = (to_station - peer.to_station, to_host - peer.to_host);
    peer.station.idle(Nanoseconds::from_millis(u64::from(dipsift_wire::SILENCE_MS) + 1));
    let socket = peer.station.socket();
    for position in 1..=40 {
        let volts = socket.voltage(position);
        assert!(volts.abs() < 0.3, "position {position} at {volts} V after a break");
    }
    (outcome, used.0, used.1)
}

#[test]
fn a_line_cut_at_any_byte_is_trouble_and_leaves_the_socket_released() {
    let (outcome, to_station, to_host) = check(ENDLESS, ENDLESS);
    assert_eq!(outcome, Outcome::Go);
    println!("a 7400 check takes {to_station} bytes to the station and {to_host} back");
    for bytes in 0..to_station {
        assert_eq!(check(bytes, ENDLESS).0, Outcome::Trouble, "{bytes} bytes to the station");
    }
    for bytes in 0..to_host {
        assert_eq!(check(ENDLESS, bytes).0, Outcome::Trouble, "{bytes} bytes to the host");
    }
    assert_eq!(Outcome::Trouble.exit_status(), 3);
}
