//! Writes papers of an invented evening, to look at: `cargo run -p dipsift-papers --example
//! sample FOLDER`.

#[path = "../tests/common/mod.rs"]
mod common;

use dipsift_ledger::Nature;
use dipsift_papers::{Sheet, label_pages, label_svgs};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("say a folder")?);
    std::fs::create_dir_all(&folder)?;
    std::fs::write(
        folder.join("report.html"),
        common::report_of(&common::evening(Nature::Simulated)),
    )?;
    let labels = common::labels(&common::evening(Nature::Real));
    let usual = Sheet::default();
    std::fs::write(folder.join("labels.html"), label_pages(&labels, &usual, 1, true)?)?;
    let narrow = common::narrow();
    narrow.check()?;
    let simulated = common::labels(&common::evening(Nature::Simulated));
    for (page, svg) in label_svgs(&simulated, &narrow, 0, true)?.iter().enumerate() {
        std::fs::write(folder.join(format!("narrow-{}.svg", page + 1)), svg)?;
    }
    Ok(())
}
