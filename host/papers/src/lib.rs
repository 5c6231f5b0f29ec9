//! What a bench prints: the report of a lot as one HTML file, and sheets of labels.
//!
//! Everything is in the file itself: drawings are inline SVG, photographs data, and there are no scripts and nothing
//! from elsewhere, so a report can be kept for as long as there are browsers. Pure functions: the
//! caller reads the ledger and writes the file.

mod chart;
mod chips;
mod geometry;
mod label;
mod map;
mod matrix;
mod page;
mod photo;
mod report;
mod sheet;
mod typeset;
mod words;

pub use geometry::{GeometryError, Sheet};
pub use label::{Label, LabelError, labels_of};
pub use photo::Photo;
pub use report::{Lists, LotPaper, lot_report};
pub use sheet::{label_pages, label_svgs};
