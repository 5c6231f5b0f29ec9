//! Each file in `tests/mistakes` holds a mistake; the whole message is compared.

use dipsift_language::read;
use std::{fs, path::Path};

/// Mistakes that must be there, so that an emptied folder is noticed.
const LEAST: usize = 55;

#[test]
fn mistakes_are_explained() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/mistakes");
    let mut files: Vec<_> = fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "part"))
        .collect();
    files.sort();
    assert!(files.len() >= LEAST, "{} files", files.len());
    for file in files {
        let name = file.file_stem().unwrap().to_str().unwrap().to_owned();
        let reading = read(&format!("{name}.part"), &fs::read_to_string(&file).unwrap());
        assert!(!reading.diagnostics.is_empty(), "{name} is not a mistake");
        let said: Vec<_> = reading.diagnostics.iter().map(|said| said.render(false)).collect();
        insta::with_settings!({
            snapshot_path => "mistakes",
            prepend_module_to_snapshot => false,
            omit_expression => true,
        }, {
            insta::assert_snapshot!(name, said.join("\n\n"));
        });
    }
}

#[test]
fn colour_is_an_addition_only() {
    let reading = read("x.part", "tilte a\n");
    let plain = reading.diagnostics[0].render(false);
    let mut colored = reading.diagnostics[0].render(true);
    assert_ne!(plain, colored);
    while let Some(start) = colored.find('\u{1b}') {
        let end = start + colored[start..].find('m').unwrap();
        colored.replace_range(start..=end, "");
    }
    assert_eq!(plain, colored);
}

#[test]
fn places_count_characters() {
    let text = "part 7400\ntitle é\n   é = é\n";
    let reading = read("x.part", text);
    let said = &reading.diagnostics;
    // A line that starts with white space continues the title above it.
    assert!(said.iter().all(|said| said.line == 1), "{said:?}");
    let reading = read("x.part", "part 7400\ntitle t\nÄÖ Ü = A\n");
    assert!(reading.diagnostics.iter().any(|said| (said.line, said.column) == (3, 1)));
    assert!(reading.diagnostics.iter().all(|said| said.line != 3 || said.column <= 4));
}
