//! The board as the station's hardware: what it holds, its clock, and what it does beside
//! programs.

use super::gpio::{BUTTON_INPUT, Output};
use super::time::Time;
use super::{fmt, safe};
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::map::LAMP_NOT_DECIDED;
use dipsift_pins::{Clock, Nanoseconds, Supply};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin, PinState};

/// The hardware of the station.
pub(crate) struct Board {
    pub(crate) time: Time,
    pub(crate) connected: bool,
    /// When the bleeder was turned on last.
    pub(crate) unpowered: Nanoseconds,
}

impl Board {
    /// The board after start-up, in the safe state.
    pub(crate) fn new(clocking: Clocking) -> Self {
        let mut time = Time::start(clocking);
        let unpowered = time.now();
        Self { time, connected: false, unpowered }
    }

    /// Between messages: what has tripped is switched off wholly, a pressed button trips, and the
    /// blue lamp shows that the socket is powered. The host judges, so the other lamps stay off.
    pub(crate) fn tend(&mut self) {
        // Carries the counter on when nothing else asks for the time.
        self.now();
        let mut button = BUTTON_INPUT;
        if self.connected && button.is_high() == Ok(true) {
            safe::trip();
        }
        if self.connected && self.tripped() {
            fmt::warning!("tripped between messages");
            self.disconnect();
        }
        let _ = Output(LAMP_NOT_DECIDED).set_state(PinState::from(self.connected));
    }
}

impl DelayNs for Board {
    #[inline]
    fn delay_ns(&mut self, ns: u32) {
        self.time.wait(ns);
    }
}

impl Clock for Board {
    fn now(&mut self) -> Nanoseconds {
        self.time.now()
    }
}
