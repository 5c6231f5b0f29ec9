//! Who this station is.

use super::{guard, power};
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::fixture::capabilities;
use dipsift_station::Identity;
use dipsift_wire::{Health, Nature, ResetCause};
use stm32f4::stm32f429 as pac;

/// The commit, from `firmware/build`.
const COMMIT: &str = match option_env!("DIPSIFT_COMMIT") {
    Some(commit) => commit,
    None => "unknown",
};

/// The maker's number of this controller (ST RM0090, DBGMCU_IDCODE).
const DEVICE: u32 = 0x419;

/// A controller with another number, as an emulated one has, is not the real one: its verdicts
/// must not pass for real.
fn nature() -> Nature {
    // SAFETY: reading has no effect.
    let code = unsafe { &*pac::DBGMCU::PTR }.idcode().read().bits();
    if code & 0xfff == DEVICE { Nature::Real } else { Nature::Emulated }
}

/// The identity, with a clock fallback marked behind the commit.
pub(crate) fn identity(clocking: Clocking, reset: ResetCause) -> Identity {
    let mut commit = Default::default();
    append(&mut commit, COMMIT);
    append(&mut commit, clocking.mark());
    let health = Health {
        clock: clocking.clock(),
        brown_out: Some(power::brown_out_level() as u8),
        stack_free: Some(guard::unused()),
    };
    Identity { commit, nature: nature(), reset, capabilities: capabilities(clocking), health }
}

/// Appends what fits.
fn append<T: core::fmt::Write>(text: &mut T, addition: &str) {
    for character in addition.chars() {
        let _ = text.write_char(character);
    }
}
