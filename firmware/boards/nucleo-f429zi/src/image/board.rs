//! The board as the station's hardware: what it holds, its clock, and what it does beside
//! programs.

use super::gpio::{BUTTON_INPUT, Output};
use super::time::Time;
use super::{fmt, safe};
use dipsift_nucleo_f429zi::button::Button;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::lamps::{BLINK, Shown};
use dipsift_nucleo_f429zi::map::{LAMP_GO, LAMP_NO_GO, LAMP_NOT_DECIDED};
use dipsift_pins::{Clock, Nanoseconds, Supply};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin, PinState};

/// The hardware of the station.
pub(crate) struct Board {
    pub(crate) time: Time,
    pub(crate) connected: bool,
    /// When the bleeder was turned on last.
    pub(crate) unpowered: Nanoseconds,
    button: Button,
    shown: Shown,
}

impl Board {
    /// The board after start-up, in the safe state.
    pub(crate) fn new(clocking: Clocking) -> Self {
        let mut time = Time::start(clocking);
        let unpowered = time.now();
        Self { time, connected: false, unpowered, button: Button::default(), shown: Shown::Rest }
    }

    /// Between messages: what has tripped is switched off wholly, a button pressed while the socket
    /// is powered trips, and the lamps show what there is. Whether the button asks for a check.
    pub(crate) fn tend(&mut self) -> bool {
        let mut button = BUTTON_INPUT;
        let high = button.is_high() == Ok(true);
        // Carries the counter on when nothing else asks for the time.
        let now = self.now();
        let pressed = self.button.look(high, now) && !self.connected;
        if self.connected {
            // A verdict was about the chip before this.
            self.shown = Shown::Rest;
            if high {
                safe::trip();
                self.button.spend();
            }
            if self.tripped() {
                fmt::warning!("tripped between messages");
                self.disconnect();
            }
        }
        let shown = if self.connected { Shown::Busy } else { self.shown };
        light(shown, now);
        pressed
    }

    /// A stored check begins: the blinking begins lit, so that a short check shows it too.
    pub(crate) fn begin(&mut self) {
        self.shown = Shown::Rest;
        light(Shown::Busy, BLINK);
    }

    /// Between the windows of a stored check. A second press breaks it off: then `false`.
    pub(crate) fn go_on(&mut self) -> bool {
        let mut button = BUTTON_INPUT;
        let now = self.now();
        light(Shown::Busy, now);
        !self.button.look(button.is_high() == Ok(true), now)
    }

    /// What the lamps show from now on.
    pub(crate) fn show(&mut self, shown: Shown) {
        self.shown = shown;
    }
}

fn light(shown: Shown, now: Nanoseconds) {
    let lamps = shown.lamps(now);
    for (pin, lit) in
        [(LAMP_GO, lamps.go), (LAMP_NO_GO, lamps.no_go), (LAMP_NOT_DECIDED, lamps.not_decided)]
    {
        let _ = Output(pin).set_state(PinState::from(lit));
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
