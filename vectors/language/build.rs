//! Embeds the descriptions in `vectors/parts`, so that the binary needs no files beside it.

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let manifest = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default());
    let parts = manifest.join("../parts");
    println!("cargo::rerun-if-changed={}", parts.display());
    let mut files = Vec::new();
    gather(&parts, &mut files)?;
    files.sort();
    let mut list = String::from("[\n");
    for file in files {
        let name = file.strip_prefix(&parts).unwrap_or(&file).display().to_string();
        let path = fs::canonicalize(&file)?.display().to_string();
        writeln!(list, "    ({name:?}, include_str!({path:?})),").map_err(io::Error::other)?;
    }
    list.push_str("]\n");
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default());
    fs::write(out.join("parts.rs"), list)
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    if !folder.is_dir() {
        return Ok(());
    }
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(&path, files)?;
        } else if path.extension().is_some_and(|extension| extension == "part") {
            files.push(path);
        }
    }
    Ok(())
}
