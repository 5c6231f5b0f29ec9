//! Progress of long work, where somebody is looking: only if both outputs are a terminal and no JSON
//! is wanted. It goes to standard error, and nothing of it stays.

use crate::output::Output;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, stderr, stdout};
use std::time::Duration;

/// How often a spinner turns.
const TURN_EVERY: Duration = Duration::from_millis(125);

/// A bar of `all` steps behind these words, a template: `{pos} of {len}`, `{msg}`.
pub fn bar(out: &Output, words: &str, all: u64) -> ProgressBar {
    bar_with(out, &format!("  {words} [{{bar:30}}] {{percent}} %"), all)
}

/// A bar of `all` steps by a template of one's own.
pub fn bar_with(out: &Output, template: &str, all: u64) -> ProgressBar {
    shown(out, ProgressBar::new(all), template)
}

/// Something that turns, with the time so far, beside work that does not tell how far it is.
/// `words` may have `{msg}` in them.
pub fn spinner(out: &Output, words: &str) -> ProgressBar {
    let spinner =
        shown(out, ProgressBar::new_spinner(), &format!("  {{spinner}} {words}, {{elapsed}}"));
    if !spinner.is_hidden() {
        spinner.enable_steady_tick(TURN_EVERY);
    }
    spinner
}

fn shown(out: &Output, bar: ProgressBar, template: &str) -> ProgressBar {
    if out.json || !stdout().is_terminal() || !stderr().is_terminal() {
        bar.set_draw_target(ProgressDrawTarget::hidden());
    }
    match ProgressStyle::with_template(template) {
        Ok(style) => bar.with_style(style.progress_chars("#-.").tick_chars("|/-\\ ")),
        Err(_) => bar,
    }
}
