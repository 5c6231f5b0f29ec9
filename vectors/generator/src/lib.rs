//! Vectors from a part's model.
//!
//! [`generate`] turns a description into the steps of a program with expectations that the model
//! knows, free of races and of contention; [`trace`] does the same for a person's own stimulus.
//! [`Player`] steps a model as the socket would and refuses what a socket must not do; [`replay`]
//! and [`escapes`] say what a program would show on another or a disturbed model.

mod chip;
mod conditions;
#[cfg(test)]
mod coverage;
mod expect;
mod faults;
mod generate;
mod isolation;
mod mover;
mod order;
mod player;
mod random;
mod replay;
mod search;
mod section;
mod structure;
mod trace;
mod walk;

pub use conditions::Conditions;
pub use generate::{Method, SectionMethod, Unsupported, Vectors, generate};
pub use player::{Expected, Player, Refuse};
pub use replay::{Shown, driven_at, escapes, replay};
pub use trace::{Stimulus, Trace, TraceRefused, trace};
