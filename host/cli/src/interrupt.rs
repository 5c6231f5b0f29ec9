//! Ctrl-C as a request: the check at hand ends, the socket is left unpowered, the tally is printed.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

static ASKED: AtomicBool = AtomicBool::new(false);
static INSTALLED: OnceLock<()> = OnceLock::new();

/// Takes Ctrl-C as a request from now on. A second one ends the program at once; the station then
/// switches off by itself after 200 ms of silence.
pub fn install() {
    INSTALLED.get_or_init(|| {
        // Where no handler can be set, Ctrl-C keeps its usual meaning.
        let _ = ctrlc::set_handler(|| {
            if ASKED.swap(true, Ordering::SeqCst) {
                std::process::exit(130);
            }
        });
    });
}

/// Whether Ctrl-C was pressed.
pub fn asked() -> bool {
    ASKED.load(Ordering::SeqCst)
}
