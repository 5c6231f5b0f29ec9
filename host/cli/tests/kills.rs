//! The screening program is killed (SIGKILL) at seeded moments of a run, again and again, and goes
//! on each time: the ledger stays whole, and at most the insertion in progress is lost.

#![cfg(unix)]

mod common;

use common::{Folder, process};
use dipsift_ledger::{Ledger, Verdict};
use std::io::{BufRead, BufReader};
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

const KILLS: u64 = 200;
/// More chips than all rounds together reach.
const CHIPS: u64 = 1_500;

/// A small generator of our own (xorshift64, Marsaglia 2003), so that the moments are the same
/// each time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }
}

#[test]
fn a_killed_evening_goes_on_with_everything_that_was_shown() {
    let folder = Folder::new();
    let text = format!("title = 'tube'\n[[chip]]\nmarking = '7404'\ncount = {CHIPS}\n");
    let batch = folder.file("tube.toml", &text);
    let file = Path::new(&folder.path()).join("ledger.sqlite");
    let file_name = file.to_str().expect("UTF-8");
    let mut dice = Dice(20_261_125);
    let (mut shown, mut recorded, mut in_progress) = (0, 0, 0);
    for round in 0..KILLS {
        let mut child = process()
            .args(["screen", "--batch", &batch, "--resume"])
            .args(["--lot", "tube", "--ledger", file_name])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        // In every tenth round at once, also while the ledger is made or opened; else after some
        // chips, anywhere within the next one.
        let chips = if round % 10 == 0 { 0 } else { 1 + dice.below(3) };
        let mut seen = 0;
        while seen < chips {
            let line = lines.next().expect("a line").expect("UTF-8");
            if let Some(number) = chip_of(&line) {
                (seen, shown) = (seen + 1, number);
            }
        }
        std::thread::sleep(Duration::from_micros(dice.below(20_000)));
        child.kill().expect("killed");
        for line in lines {
            shown = chip_of(&line.expect("UTF-8")).unwrap_or(shown);
        }
        assert_eq!(child.wait().expect("ended").signal(), Some(9), "it had not ended by itself");
        if !file.exists() {
            continue;
        }
        let ledger = Ledger::open(&file).expect("the ledger opens");
        assert!(ledger.check().expect("the ledger is looked at").is_empty(), "round {round}");
        let known = ledger.lot("tube").expect("read").is_some();
        let before = recorded;
        recorded = if known {
            ledger.report(&dipsift_ledger::Selection::lot("tube")).expect("read").chips().total()
        } else {
            0
        };
        assert!(recorded >= shown, "round {round}: {shown} shown, {recorded} recorded");
        assert!(recorded >= before, "round {round}: nothing goes away");
        in_progress += recorded - shown.max(before);
        shown = recorded;
    }
    let ledger = Ledger::open(&file).expect("the ledger opens");
    let all = ledger.last_insertions("tube", CHIPS as u32).expect("a lot");
    assert_eq!(all.len() as u64, recorded);
    assert!(all.iter().all(|insertion| insertion.entry.verdict == Verdict::Go));
    assert!(recorded >= KILLS, "{recorded} chips in {KILLS} rounds");
    println!(
        "{KILLS} runs killed, {recorded} insertions, none of those shown lost; {in_progress} were \
         recorded and not shown any more"
    );
}

/// The number of the chip that a line is about.
fn chip_of(line: &str) -> Option<u64> {
    let mut words = line.split_whitespace();
    let number = words.next()?.parse().ok()?;
    (words.next()? == "7404").then_some(number)
}
