//! Prints how fast checks are without a serial port, and how many bytes they take on the wire.
//!
//! `cargo run --release -p dipsift-tests --example figures`

use dipsift_bench::{Bench, Outcome};
use dipsift_language::Family;
use dipsift_link::{Link, Memory, Peer};
use dipsift_simulator::{Chip, SimulatedSocket, SimulatedStation};
use dipsift_tests::desk::library;
use std::io;
use std::sync::Arc;
use std::time::Instant;

struct Counting {
    station: SimulatedStation,
    to_station: usize,
    to_host: usize,
}

impl Peer for Counting {
    fn receive(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> io::Result<()> {
        self.to_station += bytes.len();
        let before = out.len();
        self.station.receive(bytes, out);
        self.to_host += out.len() - before;
        Ok(())
    }
}

fn main() {
    for (number, family) in
        [("7400", Family::Standard), ("74181", Family::Standard), ("4040", Family::B)]
    {
        let part = library().part(number).expect("in the library");
        let station = SimulatedStation::new(SimulatedSocket::new(1));
        let peer = Counting { station, to_station: 0, to_host: 0 };
        let link = Link::open(Memory::new(peer)).expect("an answer");
        let mut bench = Bench::new(link);
        let start = Instant::now();
        let prepared = bench.prepare(part, family).expect("prepared");
        let prepare = start.elapsed();
        let chip = Chip::new(Arc::clone(part), family, 1)
            .expect("a chip")
            .at_shift(prepared.placement.shift);
        bench.link().transport_mut().peer_mut().station.insert(chip, &[]).expect("inserted");
        let peer = bench.link().transport_mut().peer_mut();
        (peer.to_station, peer.to_host) = (0, 0);
        assert_eq!(bench.check(&prepared, false).outcome, Outcome::Go);
        let peer = bench.link().transport_mut().peer_mut();
        let (to_station, to_host) = (peer.to_station, peer.to_host);
        let mut times: Vec<f64> = (0..50)
            .map(|_| {
                let start = Instant::now();
                bench.check(&prepared, false);
                start.elapsed().as_secs_f64()
            })
            .collect();
        times.sort_by(f64::total_cmp);
        println!(
            "{number}: {} steps, {to_station} bytes to the station, {to_host} back; prepared in \
             {prepare:.1?}; median check {:.2} ms, {:.0} a second",
            prepared.vectors.steps.len(),
            times[25] * 1e3,
            1.0 / times[25]
        );
    }
}
