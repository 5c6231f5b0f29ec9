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
mod power;
mod safe;
mod serial;
mod socket;
mod supply;
mod time;
mod watchdog;

use board::Board;
use core::mem::MaybeUninit;
use core::ptr::addr_of_mut;
use dipsift_nucleo_f429zi::fixture::WINDOW_STEPS;
use dipsift_station::Station;
use serial::Serial;

type BoardStation = Station<Board, WINDOW_STEPS>;

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
    let identity = identity::identity(clocking, reset);
    // SAFETY: this is the only use of the static, and it runs once.
    let place = unsafe { &mut *addr_of_mut!(STATION) };
    let station = place.write(Station::new(Board::new(clocking), identity));
    let mut serial = Serial::start(clocking);
    fmt::info!("started");
    loop {
        serial.serve(station);
        station.hardware_mut().tend();
        watchdog::feed();
    }
}
