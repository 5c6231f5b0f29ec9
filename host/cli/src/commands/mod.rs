//! One file for each command.

pub mod check;
pub mod completions;
pub mod decode;
pub mod fixture;
pub mod help;
pub mod labels;
pub mod ledger;
pub mod lint;
pub mod lot;
pub mod manuals;
pub mod march;
pub mod parts;
pub mod plan;
pub mod report;
pub mod screen;
pub mod selftest;
pub mod settings;
pub mod show;
pub mod simulate;
pub mod stored;
pub mod testers;
pub mod trace;
