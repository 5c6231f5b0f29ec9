#![no_std]
//! Runs programs on a socket.
//!
//! Everything is checked at the edge and only once: a header becomes a [`Program`], a window's
//! code becomes a [`Checked`] list of operations in the socket's own port words. Only those run,
//! so that nothing can be wrong, and no mask is computed, while a chip is powered. A march set-up
//! becomes tables and stages in the same way.
//!
//! [`Engine`] ties them together and owns the safe state: released, keepers off, nothing fed or
//! grounded. It is entered before a program, after its last window, after a supply trip and after
//! every refusal.
//!
//! Nothing here allocates or panics. Time comes from the [`Clock`] alone.

mod engine;
mod march;
mod operation;
mod package;
mod program;
mod run;
mod tally;
mod window;

pub use engine::{Engine, safe};
pub use march::STALL_NS;
pub use operation::Operation;
pub use package::Package;
pub use program::Program;
pub use window::{Carried, Checked, Prepared};

use dipsift_pins::{Clock, Moves, Supply};

/// The hardware of a station: every type that is a socket, a supply and a clock.
pub trait Hardware: Moves + Supply + Clock {}
impl<T: Moves + Supply + Clock> Hardware for T {}
