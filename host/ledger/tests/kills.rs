//! Writers are killed (SIGKILL) at seeded moments; the ledger must stay whole and hold everything
//! that was reported as recorded.

#![cfg(unix)]

use dipsift_ledger::{Id, Ledger};
use std::collections::HashSet;
use std::io::{BufRead as _, BufReader, Read as _};
use std::os::unix::process::ExitStatusExt as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const KILLS: u64 = 220;
/// So many rounds share a ledger, then a new one is begun: its making is killed too.
const ROUNDS_A_LEDGER: u64 = 11;

/// SplitMix64, so that the moments are drawn again the same.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % limit
    }
}

/// A kill leaves the page cache as it is, so a file system in memory shows the same as a disk and
/// spares the machine some thousand syncs.
fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap()
}

fn writer(file: &Path, seed: u64, count: Option<u64>) -> Child {
    Command::new(env!("CARGO_BIN_EXE_ledger-writer"))
        .arg(file)
        .arg(seed.to_string())
        .args(count.map(|count| count.to_string()))
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Lets writers write for a while, kills all, and returns the ids that each has reported.
fn write_and_kill(mut writers: Vec<Child>, lines: u64, then: Duration) -> Vec<Id> {
    let mut outputs: Vec<_> =
        writers.iter_mut().map(|child| BufReader::new(child.stdout.take().unwrap())).collect();
    let mut text = String::new();
    for _ in 0..lines {
        outputs[0].read_line(&mut text).unwrap();
    }
    // A moment on the clock is the point here: anywhere within the next record.
    std::thread::sleep(then);
    for child in &mut writers {
        child.kill().unwrap();
    }
    for (child, output) in writers.iter_mut().zip(&mut outputs) {
        output.read_to_string(&mut text).unwrap();
        // It was killed and had not failed by itself before.
        assert_eq!(child.wait().unwrap().signal(), Some(9));
    }
    text.lines().map(|line| line.parse().unwrap()).collect()
}

#[test]
fn a_killed_writer_loses_at_most_the_insertion_in_progress() {
    let folder = folder();
    let mut dice = Dice(20_261_125);
    let begun = Instant::now();
    let mut file = PathBuf::new();
    let mut reported: HashSet<Id> = HashSet::new();
    let (mut writers_killed, mut unreported_but_kept, mut all_reported) = (0, 0, 0);
    for round in 0..KILLS {
        if round % ROUNDS_A_LEDGER == 0 {
            file = folder.path().join(format!("{round}.ledger"));
            reported.clear();
        }
        let before = if file.exists() { count(&file) } else { 0 };
        // Every third round has two writers.
        let seeds = if round % 3 == 0 { vec![round, round + KILLS] } else { vec![round] };
        let children: Vec<_> = seeds.iter().map(|&seed| writer(&file, seed, None)).collect();
        let writers = children.len() as u64;
        // The first round of a ledger kills within its making.
        let lines = if round % ROUNDS_A_LEDGER == 0 { 0 } else { dice.below(6) };
        let then = Duration::from_micros(dice.below(if lines == 0 { 25_000 } else { 6_000 }));
        let new = write_and_kill(children, lines, then);
        writers_killed += writers;
        all_reported += new.len();

        let ledger = Ledger::open(&file).unwrap();
        assert_eq!(ledger.check().unwrap(), [], "after kill {round}");
        reported.extend(&new);
        for id in &reported {
            assert!(ledger.insertion(*id).unwrap().is_some(), "{id} was reported and is lost");
        }
        let extra = count(&file) - before - new.len() as u64;
        assert!(extra <= writers, "{extra} records that no writer can have been at");
        unreported_but_kept += extra;
    }
    println!(
        "{KILLS} kills of {writers_killed} writers, {all_reported} reported insertions, none lost; \
         {unreported_but_kept} were recorded and not yet reported; {:.1} s",
        begun.elapsed().as_secs_f64()
    );
    assert!(all_reported > 400, "the writers hardly wrote: {all_reported}");
}

fn count(file: &Path) -> u64 {
    Ledger::open(file).unwrap().report(&Default::default()).unwrap().insertions
}

#[test]
fn two_processes_write_to_one_new_ledger() {
    let folder = folder();
    for round in 0..5 {
        let file = folder.path().join(format!("{round}.ledger"));
        let children: Vec<_> = (0..3).map(|seed| writer(&file, seed, Some(40))).collect();
        for child in children {
            let output = child.wait_with_output().unwrap();
            assert!(output.status.success());
            assert_eq!(output.stdout.split(|byte| *byte == b'\n').count(), 41);
        }
        let ledger = Ledger::open(&file).unwrap();
        assert_eq!(ledger.check().unwrap(), []);
        assert_eq!(count(&file), 120);
        // One after the other, however they mixed.
        let mut sequences: Vec<_> = ledger
            .last_insertions("cabinet 3", 200)
            .unwrap()
            .iter()
            .map(|insertion| insertion.sequence)
            .collect();
        sequences.reverse();
        assert_eq!(sequences, (1..=120).collect::<Vec<u64>>());
    }
}
