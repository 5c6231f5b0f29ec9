//! Says what is wrong in descriptions: `lint FILE…`. Variants may take over parts of the library
//! and of other files in the same folder. Ends with status 2 where there are errors.

use dipsift_language::{Library, Severity};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

fn main() -> ExitCode {
    let files: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let mut folders: Vec<PathBuf> = Vec::new();
    for file in &files {
        // A folder called `parts` holds the whole library.
        let library = file.ancestors().find(|folder| folder.file_name() == Some("parts".as_ref()));
        let beside = file.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = library.or(beside).unwrap_or(Path::new(".")).to_path_buf();
        if !folders.contains(&folder) {
            folders.push(folder);
        }
    }
    let (library, diagnostics) = match Library::builtin_with(&folders) {
        Ok(read) => read,
        Err(error) => {
            eprintln!("failed to read the descriptions: {error}");
            return ExitCode::from(2);
        }
    };
    let mut failed = false;
    let replaces = |message: &str| message.ends_with("replaces a part that was known before");
    for diagnostic in diagnostics {
        let path = Path::new(&diagnostic.file);
        let named = files.iter().any(|file| file == path || Path::new(".").join(file) == path);
        if named && !replaces(&diagnostic.message) {
            failed |= diagnostic.severity == Severity::Error;
            println!("{}\n", diagnostic.render(false));
        }
    }
    for file in files.iter().filter(|file| !file.exists()) {
        eprintln!("there is no file {}", file.display());
        failed = true;
    }
    println!("{} parts known", library.len());
    ExitCode::from(if failed { 2 } else { 0 })
}
