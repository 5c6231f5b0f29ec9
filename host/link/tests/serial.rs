//! The real serial path, on a pseudo terminal.
#![cfg(unix)]

mod common;

use common::ideal::{Ideal, header, truth_table};
use common::station;
use dipsift_link::{Link, LinkError, Serial};
use dipsift_pins::Positions;
use dipsift_wire::{Nature, Step};
use serialport::{SerialPort, TTYPort};
use std::io::{Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// A station that serves a pseudo terminal until it is told to stop; yields its socket then.
struct Served {
    path: String,
    stop: Arc<AtomicBool>,
    thread: JoinHandle<Ideal>,
}

impl Served {
    fn new(socket: Ideal) -> Self {
        let (mut master, slave) = TTYPort::pair().unwrap();
        let path = slave.name().unwrap();
        drop(slave);
        master.set_timeout(Duration::from_millis(5)).unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = stop.clone();
        let thread = std::thread::spawn(move || {
            let mut station = station(socket);
            let mut bytes = [0; 4096];
            while !stopped.load(Ordering::Relaxed) {
                // Without anybody at the other end a read fails at once.
                match master.read(&mut bytes) {
                    Ok(count) => {
                        let mut out = Vec::new();
                        station.receive(&bytes[..count], &mut |reply| out.extend(reply));
                        let _ = master.write_all(&out);
                    }
                    Err(_) => std::thread::yield_now(),
                }
            }
            station.hardware().clone()
        });
        Self { path, stop, thread }
    }

    fn stop(self) -> Ideal {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.join().unwrap()
    }
}

#[test]
fn a_program_runs_over_a_pseudo_terminal() {
    let served = Served::new(Ideal { stuck_high: Positions::one(6), ..Ideal::default() });
    let mut link = Link::open(Serial::open(&served.path).unwrap()).unwrap();
    assert_eq!(link.hello().nature, Nature::Simulated);
    let steps: Vec<Step> = (0..200).flat_map(|_| truth_table()).collect();
    let summary = link.run(&header(), &steps).unwrap().summary;
    assert_eq!((summary.failures, summary.steps), (200, 1_800));
    // A second process cannot come between; a second link after the first can.
    drop(link);
    let mut link = Link::open(Serial::open(&served.path).unwrap()).unwrap();
    assert_eq!(link.run(&header(), &steps).unwrap().summary.failures, 200);
    assert!(served.stop().is_safe());
}

#[test]
fn a_port_that_vanishes_is_gone() {
    let served = Served::new(Ideal::default());
    let mut link = Link::open(Serial::open(&served.path).unwrap()).unwrap();
    served.stop();
    assert!(matches!(link.run(&header(), &truth_table()), Err(LinkError::Gone(_))));
    assert!(matches!(link.status(), Err(LinkError::Gone(_))));
}

#[test]
fn a_port_that_is_not_there_cannot_be_opened() {
    for path in ["/nonexistent/tty", "/dev/null"] {
        assert!(matches!(Serial::open(path), Err(LinkError::Open { .. })), "{path}");
    }
}
