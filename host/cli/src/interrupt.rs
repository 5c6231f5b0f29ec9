//! Ctrl-C as a request: the message at hand is answered, the socket is left unpowered, what is
//! unfinished is taken away.

use crossterm::terminal;
use std::io::{ErrorKind, Write, stderr};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// How a shell tells a program that Ctrl-C has ended: 128 and the number of the signal.
const STATUS: i32 = 130;

static ASKED: AtomicBool = AtomicBool::new(false);
static INSTALLED: OnceLock<()> = OnceLock::new();
static UNFINISHED: Mutex<Option<PathBuf>> = Mutex::new(None);

/// What SQLite adds to the name of a database that it is writing (SQLite, Temporary Files Used By
/// SQLite).
const JOURNAL: &str = "-journal";
/// How long files that are made anew are waited for.
const LINGER: Duration = Duration::from_millis(200);

/// Takes Ctrl-C, and the end of the terminal or of the session, as a request from now on. A second
/// one ends the program at once; the station then switches off by itself after 200 ms of silence.
pub fn install() {
    INSTALLED.get_or_init(|| {
        // Where no handler can be set, Ctrl-C keeps its usual meaning.
        let _ = ctrlc::set_handler(|| {
            if let Some(file) = unfinished_file().take() {
                // Half a file may be taken for a whole one later.
                let gone = match remove(&file) {
                    Err(error) if error.kind() != ErrorKind::NotFound => {
                        format!("{} is not whole, and stays: {error}", file.display())
                    }
                    _ => "nothing is written".to_string(),
                };
                let _ = writeln!(stderr(), "\ndipsift: interrupted: {gone}");
                std::process::exit(STATUS);
            }
            if ask() {
                end_now();
            }
        });
    });
}

/// Removes a file, and the journal of a ledger.
fn remove(file: &Path) -> std::io::Result<()> {
    let mut journal = file.as_os_str().to_os_string();
    journal.push(JOURNAL);
    let removed = std::fs::remove_file(file);
    // Whoever writes goes on until the program ends, and SQLite makes its journal, and a file that
    // it has not opened yet, once: they go away, too, when they come.
    let until = Instant::now() + LINGER;
    loop {
        // Most files have none.
        let _ = std::fs::remove_file(&journal);
        if Instant::now() >= until {
            return removed;
        }
        thread::sleep(LINGER / 50);
        let _ = std::fs::remove_file(file);
    }
}

/// Asks the program to end. Says whether that had been asked before.
pub fn ask() -> bool {
    ASKED.swap(true, Ordering::SeqCst)
}

/// Whether the program was asked to end.
pub fn asked() -> bool {
    ASKED.load(Ordering::SeqCst)
}

/// Ends the program, and leaves the terminal as it was.
pub fn end_now() -> ! {
    // Where it was not changed this changes nothing.
    let _ = terminal::disable_raw_mode();
    std::process::exit(STATUS)
}

/// A file that is being written: Ctrl-C removes it and ends the program, as long as the value lives.
pub struct Unfinished;

impl Unfinished {
    /// From now on. A file that is there already is somebody's, and stays.
    pub fn new(file: &Path) -> Self {
        if !file.exists() {
            *unfinished_file() = Some(file.to_path_buf());
            install();
        }
        Self
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        *unfinished_file() = None;
    }
}

fn unfinished_file() -> MutexGuard<'static, Option<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}
