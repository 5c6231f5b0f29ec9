//! March tests of memories: their notation, the published ones, and what each can find.
//!
//! A march test walks all addresses up or down, several times, and at each address reads and
//! writes a few times before it goes on. The notation is described in `REFERENCE.md` beside this
//! crate. Pure computation: no memory is touched here.
//!
//! ```
//! use dipsift_march::{Class, Coverage, March};
//!
//! let march = March::read("any(w0); up(r0,w1); down(r1,w0)").expect("MATS+ is sound");
//! assert_eq!(march.length().to_string(), "5n");
//! let coverage = Coverage::of(&march);
//! assert!(coverage.share(Class::StuckAt).is_full());
//! assert_eq!(coverage.share(Class::Transition).to_string(), "1/2");
//! ```

mod catalogue;
mod class;
mod coverage;
mod fault;
mod march;
mod memory;
mod mistake;
mod notation;

pub use catalogue::{CATALOGUE, Published, find, names_near};
pub use class::{Class, Group};
pub use coverage::{Coverage, Share, detects, detects_at};
pub use fault::{Fault, Placed, faults};
pub use march::{Direction, Element, Length, March, Operation};
pub use memory::CELLS;
pub use mistake::Mistake;
pub use notation::{MOST_BYTES, MOST_ELEMENTS, MOST_OPERATIONS, PAUSE_MAX, PAUSE_USUAL};
