//! Ctrl-C as a request: the check at hand ends, the socket is left unpowered, the tally is printed.

use crossterm::terminal;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

static ASKED: AtomicBool = AtomicBool::new(false);
static INSTALLED: OnceLock<()> = OnceLock::new();

/// Takes Ctrl-C, and the end of the terminal or of the session, as a request from now on. A second
/// one ends the program at once; the station then switches off by itself after 200 ms of silence.
pub fn install() {
    INSTALLED.get_or_init(|| {
        // Where no handler can be set, Ctrl-C keeps its usual meaning.
        let _ = ctrlc::set_handler(|| {
            if ask() {
                end_now();
            }
        });
    });
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
    std::process::exit(130)
}
