//! Ctrl-C while the ledger is at work: it stays whole, and no half file stays.

mod common;

use common::{Folder, dipsift, process};
use std::fmt::Write as _;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// An export of a lot with so many notes (all invented), in the form that `ledger export` writes.
fn notes(count: usize) -> String {
    let folder = Folder::new();
    let ledger = format!("{}/one.sqlite", folder.path());
    assert_eq!(dipsift(&["lot", "begin", "cabinet 3", "--ledger", &ledger]).status, 0);
    assert_eq!(dipsift(&["lot", "note", "cabinet 3", "first", "--ledger", &ledger]).status, 0);
    let export = dipsift(&["ledger", "export", "--ledger", &ledger]).out;
    let lines: Vec<&str> = export.lines().collect();
    let [head, lot, note] = lines[..] else { panic!("three lines: {export}") };
    let mut text = format!("{head}\n{lot}\n");
    // Each with an id and a number of its own: they stand in front of the last three columns.
    let cells: Vec<&str> = note.split(',').collect();
    let columns: Vec<&str> = head.split(',').collect();
    let id = columns.iter().position(|name| *name == "\"id\"").expect("a column of ids");
    let number =
        columns.iter().position(|name| *name == "\"sequence\"").expect("a column of numbers");
    for index in 1..=count {
        let mut cells: Vec<String> = cells.iter().map(|cell| cell.to_string()).collect();
        let kept = &cells[id][..cells[id].len() - 13];
        cells[id] = format!("{kept}{index:012x}\"");
        cells[number] = format!("\"{index}\"");
        writeln!(text, "{}", cells.join(",")).expect("room");
    }
    text
}

fn interrupt(child: &Child) {
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(sent.expect("kill runs").success());
}

/// Files whose names begin with that of a file.
fn beside(file: &str) -> Vec<String> {
    let folder = Path::new(file).parent().expect("a folder");
    let names = std::fs::read_dir(folder)
        .expect("readable")
        .map(|entry| entry.expect("readable").path().to_str().expect("UTF-8").to_string());
    names.filter(|name| name.starts_with(file)).collect()
}

fn is_whole(ledger: &str) {
    let checked = dipsift(&["ledger", "check", "--ledger", ledger]);
    assert_eq!(checked.status, 0, "{}", checked.page());
    assert!(checked.out.contains("whole"), "{}", checked.out);
}

#[test]
fn a_merge_is_taken_over_whole_or_not_at_all() {
    let folder = Folder::new();
    let ledger = format!("{}/l.sqlite", folder.path());
    assert_eq!(dipsift(&["lot", "begin", "cabinet 9", "--ledger", &ledger]).status, 0);
    let export = notes(4_000);
    // A pipe with a name: how far the program has read is known by what it takes.
    let pipe = format!("{}/half.csv", folder.path());
    assert!(Command::new("mkfifo").arg(&pipe).status().expect("mkfifo runs").success());
    let mut child = process()
        .args(["ledger", "merge", &pipe, "--ledger", &ledger])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let mut write = OpenOptions::new().write(true).open(&pipe).expect("the program reads it");
    // All but what the pipe holds has been read when this returns.
    write.write_all(&export.as_bytes()[..export.len() * 3 / 4]).expect("read");
    interrupt(&child);
    assert!(!child.wait().expect("it ends").success());
    drop(write);
    is_whole(&ledger);
    let lots = dipsift(&["lot", "list", "--ledger", &ledger]).out;
    assert!(lots.contains("cabinet 9") && !lots.contains("cabinet 3"), "{lots}");
    // Another time it is taken over whole.
    let file = folder.file("whole.csv", &export);
    let merged = dipsift(&["ledger", "merge", &file, "--ledger", &ledger, "--json"]).json();
    assert_eq!((&merged["remarks"], &merged["known"]), (&4_000.into(), &0.into()));
    is_whole(&ledger);
}

#[test]
fn half_an_export_and_half_a_backup_go_away() {
    let folder = Folder::new();
    let ledger = format!("{}/l.sqlite", folder.path());
    let file = folder.file("in.csv", &notes(20_000));
    assert_eq!(dipsift(&["ledger", "merge", &file, "--ledger", &ledger]).status, 0);
    for (command, name) in [("export", "out.csv"), ("export", "out.json"), ("backup", "b.sqlite")] {
        let to = format!("{}/{name}", folder.path());
        // One that was quicker than Ctrl-C tells nothing.
        let interrupted = (0..20).any(|_| {
            let child = process()
                .args(["ledger", command, &to, "--ledger", &ledger])
                .stdout(Stdio::null())
                .stderr(Stdio::piped())
                .spawn()
                .expect("the program starts");
            while !Path::new(&to).exists() {
                std::thread::sleep(Duration::from_micros(200));
            }
            interrupt(&child);
            let output = child.wait_with_output().expect("it ends");
            let exists = Path::new(&to).exists();
            match output.status.code() {
                Some(0) => {
                    assert!(exists, "{command} says that it has written");
                    std::fs::remove_file(&to).expect("removed");
                    false
                }
                code => {
                    let errors = String::from_utf8_lossy(&output.stderr);
                    assert_eq!(code, Some(130), "{command}: {errors}");
                    assert!(errors.contains("interrupted: nothing is written"), "{errors}");
                    assert!(!exists && beside(&to).is_empty(), "{command}: {:?}", beside(&to));
                    true
                }
            }
        });
        assert!(interrupted, "{command} {name} was always quicker");
        is_whole(&ledger);
        // A file that was there before is not the program's to remove.
        let taken = folder.file(name, "somebody's");
        let refused = dipsift(&["ledger", command, &taken, "--ledger", &ledger]);
        assert_eq!(refused.status, 2, "{}", refused.page());
        assert_eq!(std::fs::read_to_string(&taken).expect("still there"), "somebody's");
        std::fs::remove_file(&taken).expect("removed");
    }
}
