//! The station on registers.
//!
//! Start-up, then one loop: bytes from the line to the station, its hardware tended, the watchdog
//! fed. Interrupts do one thing only, cutting the supply; every way out ends in
//! [`safe::everything_off`].

mod adc;
mod board;
mod clock;
mod faults;
mod fmt;
mod gpio;
mod guard;
mod identity;
mod ports;
mod power;
mod record;
mod safe;
mod serial;
mod socket;
mod supply;
mod time;
mod watchdog;

use board::Board;
use core::mem::MaybeUninit;
use core::ptr::addr_of_mut;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::fixture::WINDOW_STEPS;
use dipsift_nucleo_f429zi::lamps::Shown;
use dipsift_nucleo_f429zi::stored::PROGRAMS;
use dipsift_station::{Press, Station, Stored};
use dipsift_stored::Verdict;
use dipsift_wire::ResetCause;
use record::Record;
use serial::Serial;

type BoardStation = Station<Board, WINDOW_STEPS, Record>;

/// The stored programs, in a section of their own, so that their size can be told from the code's.
#[unsafe(link_section = ".stored")]
static STORED: [u8; PROGRAMS.len()] = {
    let mut bytes = [0; PROGRAMS.len()];
    bytes.copy_from_slice(PROGRAMS);
    bytes
};
/// The loop looks at the stack once in so many turns.
const TURNS: u16 = 0x4000;

/// The station is too large for the stack.
static mut STATION: MaybeUninit<BoardStation> = MaybeUninit::uninit();

/// Starts the board and serves the line for ever.
pub(crate) fn run() -> ! {
    gpio::start();
    let reset = faults::take_cause();
    watchdog::start();
    let clocking = clock::start();
    guard::start();
    power::start();
    adc::start();
    let station = station(clocking, reset);
    let mut serial = Serial::start(clocking);
    fmt::info!("started");
    let mut turns = 0_u16;
    loop {
        serial.serve(station);
        if station.hardware_mut().tend() {
            press(station);
        }
        turns = turns.wrapping_add(1);
        if turns.is_multiple_of(TURNS) {
            station.health_mut().stack_free = Some(guard::unused());
        }
        watchdog::feed();
    }
}

/// The station in its place. Never inlined: what this needs of the stack is given back.
#[inline(never)]
fn station(clocking: Clocking, reset: ResetCause) -> &'static mut BoardStation {
    let identity = identity::identity(clocking, reset);
    let stored = Stored::new(&STORED, Record::new(clocking));
    // SAFETY: this is the only use of the static, and it runs once.
    let place = unsafe { &mut *addr_of_mut!(STATION) };
    place.write(Station::with_stored(Board::new(clocking), identity, stored))
}

/// Runs the armed program. What comes over the line meanwhile waits in the receive buffer.
fn press(station: &mut BoardStation) {
    station.hardware_mut().begin();
    let press = station.press(|board| {
        watchdog::feed();
        board.go_on()
    });
    let shown = match press {
        Press::Ran(Verdict::Go) => Shown::Go,
        Press::Ran(Verdict::NoGo) => Shown::NoGo,
        Press::Ran(Verdict::NotDecided) => Shown::NotDecided,
        Press::Nothing => Shown::Nothing,
        Press::Busy => Shown::Rest,
    };
    station.hardware_mut().show(shown);
}
