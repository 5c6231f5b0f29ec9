//! One file for each command.

pub mod check;
pub mod fixture;
pub mod help;
mod lines;
pub mod lint;
pub mod parts;
pub mod screen;
pub mod selftest;
pub mod show;
pub mod simulate;
pub mod stored;
pub mod testers;
pub mod trace;
