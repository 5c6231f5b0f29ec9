//! The host's end of the line to a station.
//!
//! [`Link`] speaks to one station over a [`Transport`]: a [`Serial`] port, which a pseudo terminal
//! is too, or [`Memory`]. [`Link::run`] cuts a program into windows that fit the station, repeats
//! frames that were lost, and puts the results together again under the caller's step numbers.
//!
//! [`Link::march`] sets a march up and asks the station to proceed until it has ended.
//!
//! A damaged, lost or late frame never changes a result: there is the right one or a
//! [`LinkError`]. Of these only refusals speak of the program; all others mean trouble with the
//! tester or the line.
//!
//! ```
//! use dipsift_link::{Link, LinkError, Memory};
//!
//! // Nobody at the other end: a closure that never answers.
//! let line = Memory::new(|_: &[u8], _: &mut Vec<u8>| {});
//! assert!(matches!(Link::open(line), Err(LinkError::NoAnswer)));
//! ```

mod error;
mod exchange;
mod link;
mod march;
mod memory;
mod ports;
mod serial;
mod stored;
mod transport;
mod windows;

pub use error::LinkError;
pub use link::{Link, Run};
pub use march::{MarchProgress, MarchRun, ReadOut};
pub use memory::{Memory, Peer};
pub use ports::{Found, Port, ports, testers};
pub use serial::Serial;
pub use transport::Transport;
pub use windows::windows;
