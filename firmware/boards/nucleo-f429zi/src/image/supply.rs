//! Power at the socket.

use super::board::Board;
use super::gpio::{Output, is_high, set};
use super::{adc, power, safe};
use dipsift_nucleo_f429zi::fixture::{
    CURRENT_MAX, DISCHARGE_MICROSECONDS, FINE_MAX, FINE_SETTLE_MICROSECONDS, RAIL_UP_MICROSECONDS,
    SWITCH_MICROSECONDS, current, fine_current, position_voltage, rail_up, threshold,
};
use dipsift_nucleo_f429zi::map::{
    BLEEDER, CURRENT, FEED_POSITIONS, FEEDS, FINE_CURRENT, FINE_RANGE, GROUND_POSITIONS, GROUNDS,
    LIMITER_FAULT, LIMITER_RESET, SUPPLY_5V, SUPPLY_ENABLE,
};
use dipsift_pins::{
    Clock, Connection, Microamps, Millivolts, Nanoseconds, Positions, Supply, SupplyFault, Voltage,
};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::OutputPin;

/// Whether every position has its switch and none has both turned on.
fn connectable(feed: Positions, ground: Positions) -> bool {
    feed.without(FEED_POSITIONS).is_empty()
        && ground.without(GROUND_POSITIONS).is_empty()
        && !feed.overlaps(ground)
        && !feed.is_empty()
}

impl Board {
    /// Waits until the bleeder has emptied the rail, so that 3.3 V do not begin at 5 V.
    fn wait_discharged(&mut self) {
        let needed = Nanoseconds::from_micros(DISCHARGE_MICROSECONDS.into());
        let left = needed.0.saturating_sub(self.now().since(self.unpowered).0);
        self.delay_ns(left as u32);
    }

    /// Waits until the rail is up at the fed positions.
    fn wait_powered(&mut self, feed: Positions, voltage: Voltage) -> Result<(), SupplyFault> {
        let start = self.now();
        let longest = Nanoseconds::from_micros(RAIL_UP_MICROSECONDS.into());
        loop {
            if self.tripped() {
                return Err(SupplyFault::Tripped);
            }
            let up = |millivolts: Option<Millivolts>| {
                millivolts.is_none_or(|millivolts| millivolts >= rail_up(voltage))
            };
            if feed.iter().all(|position| up(self.voltage_at(position))) {
                return Ok(());
            }
            if self.now().since(start) > longest {
                // Something holds it down: the hardware limiter, or there is no input.
                safe::trip();
            }
        }
    }

    fn power_up(&mut self, connection: &Connection) -> Result<(), SupplyFault> {
        let Connection { feed, ground, voltage, limit } = *connection;
        set(SUPPLY_5V, voltage == Voltage::V5);
        set(LIMITER_RESET, true);
        self.delay_us(SWITCH_MICROSECONDS);
        set(LIMITER_RESET, false);
        safe::clear_trip();
        adc::watch(threshold(limit));
        for switched in GROUNDS.iter().filter(|at| ground.contains(at.position)) {
            let _ = Output(switched.switch).set_high();
        }
        self.delay_us(SWITCH_MICROSECONDS);
        set(BLEEDER, false);
        for switched in FEEDS.iter().filter(|at| feed.contains(at.position)) {
            let _ = Output(switched.switch).set_high();
        }
        self.delay_us(SWITCH_MICROSECONDS);
        if power::sagging() {
            safe::trip();
        }
        self.connected = true;
        // Not if something has tripped meanwhile: the handler would have come too early.
        cortex_m::interrupt::free(|_| set(SUPPLY_ENABLE, !safe::tripped()));
        self.wait_powered(feed, voltage)
    }
}

impl Supply for Board {
    fn connect(&mut self, connection: &Connection) -> Result<(), SupplyFault> {
        self.disconnect();
        if !connectable(connection.feed, connection.ground) || connection.limit > CURRENT_MAX {
            return Err(SupplyFault::Unconnectable);
        }
        self.wait_discharged();
        let result = self.power_up(connection);
        if result.is_err() {
            self.disconnect();
        }
        result
    }

    fn disconnect(&mut self) {
        safe::unpower();
        if self.connected {
            self.connected = false;
            self.unpowered = self.now();
        }
    }

    fn connected(&self) -> bool {
        self.connected
    }

    fn tripped(&mut self) -> bool {
        // The limiter's edge may have come while its interrupt was not armed.
        if self.connected && !is_high(LIMITER_FAULT) {
            safe::trip();
        }
        safe::tripped()
    }

    fn current(&mut self) -> Microamps {
        let coarse = current(adc::watched());
        if coarse > FINE_MAX {
            return coarse;
        }
        set(FINE_RANGE, true);
        self.delay_us(FINE_SETTLE_MICROSECONDS);
        let fine = fine_current(adc::measure(FINE_CURRENT));
        set(FINE_RANGE, false);
        if fine > FINE_MAX { coarse.max(FINE_MAX) } else { fine }
    }

    fn voltage_at(&mut self, position: u8) -> Option<Millivolts> {
        let feed = FEEDS.iter().find(|feed| feed.position == position)?;
        Some(position_voltage(adc::measure(feed.voltage)))
    }
}

/// The channel that is watched is the one that `current` reads.
const _: () = assert!(CURRENT.channel == 10);
