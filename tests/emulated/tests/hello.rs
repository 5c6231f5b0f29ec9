//! The image greets over its emulated serial port.

mod support;

use dipsift_emulated::{Reset, Sources};
use dipsift_link::Link;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::fixture::capabilities;
use dipsift_wire::{Nature, ResetCause, VERSIONS};
use support::line;

#[test]
fn hello() {
    let link = Link::open_from(line(1, Sources::default()), 1).expect("the board answers");
    let hello = link.hello();
    assert_eq!(hello.versions, VERSIONS);
    assert_eq!(hello.nature, Nature::Emulated);
    assert_eq!(hello.reset, ResetCause::PowerOn);
    assert_eq!(hello.capabilities, capabilities(Clocking::External));
    let machine = link.transport().machine();
    assert_eq!(machine.board().core_hertz(), 168_000_000);
    assert_eq!(machine.last_reset(), Reset::PowerOn);
    assert!(machine.board().fixture().is_safe());
    let counts = machine.counts();
    println!("hello after {} ns, {counts:?}", machine.nanoseconds());
    // What a host waits for the first answer, with room.
    assert!(machine.nanoseconds() < 100_000_000);
    assert_eq!((counts.resets, counts.faults, counts.interrupts), (0, 0, 0));
}

/// Without the debug probe's clock, and without the multiplier too.
#[test]
fn a_missing_clock_is_reported() {
    for (external, multiplier, hertz, mark, clocking) in [
        (false, true, 168_000_000, "~hsi", Clocking::Internal),
        (true, false, 16_000_000, "~slow", Clocking::Slow),
        (false, false, 16_000_000, "~slow", Clocking::Slow),
    ] {
        let line = line(1, Sources { external, multiplier });
        let link = Link::open_from(line, 1).expect("the board answers");
        assert_eq!(link.transport().machine().board().core_hertz(), hertz);
        assert!(link.hello().commit.ends_with(mark), "{}", link.hello().commit);
        assert_eq!(link.hello().capabilities, capabilities(clocking));
    }
}
