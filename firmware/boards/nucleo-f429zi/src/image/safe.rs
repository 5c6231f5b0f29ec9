//! The safe state: nothing driven, nothing fed, nothing grounded, keepers off, the rail
//! discharged.
//!
//! Plain writes only, in an order that never joins what was apart, callable from everywhere.

use super::gpio::{set, set_modes, set_word};
use core::sync::atomic::{AtomicBool, Ordering};
use dipsift_nucleo_f429zi::map::{
    BLEEDER, FEEDS, FINE_RANGE, FIRM_ENABLE, GROUNDS, LIGHT_ENABLE, LIMITER_RESET, SUPPLY_ENABLE,
};
use dipsift_nucleo_f429zi::words::{PORTS, RELEASED};

/// Set where the supply was cut, cleared by the next connection.
static TRIPPED: AtomicBool = AtomicBool::new(false);

/// Releases every position.
#[inline]
pub(crate) fn release_drivers() {
    for (port, modes) in PORTS.into_iter().zip(RELEASED) {
        set_modes(port, modes);
    }
}

/// Turns both keeper rails off.
#[inline]
pub(crate) fn keepers_off() {
    set_word(LIGHT_ENABLE.port, 1 << LIGHT_ENABLE.bit | 1 << FIRM_ENABLE.bit);
}

/// Removes the supply, the feeds, the grounds, and discharges the rail.
pub(crate) fn unpower() {
    set(SUPPLY_ENABLE, false);
    set(BLEEDER, true);
    for feed in &FEEDS {
        set(feed.switch, false);
    }
    for ground in &GROUNDS {
        set(ground.switch, false);
    }
    set(FINE_RANGE, false);
    set(LIMITER_RESET, false);
}

/// The safe state, from wherever.
pub(crate) fn everything_off() {
    set(SUPPLY_ENABLE, false);
    release_drivers();
    keepers_off();
    unpower();
}

/// Cuts the supply and everything that could feed the chip instead of it, and remembers it. What
/// is in the middle of a step notices after the step.
#[inline]
pub(crate) fn trip() {
    set(SUPPLY_ENABLE, false);
    TRIPPED.store(true, Ordering::Release);
    release_drivers();
    keepers_off();
}

/// Whether the supply was cut.
#[inline]
pub(crate) fn tripped() -> bool {
    TRIPPED.load(Ordering::Acquire)
}

/// The same for a loop that has nothing to order with it.
#[inline(always)]
pub(crate) fn has_tripped() -> bool {
    TRIPPED.load(Ordering::Relaxed)
}

/// Forgets it. Only a new connection may.
pub(crate) fn clear_trip() {
    TRIPPED.store(false, Ordering::Release);
}
