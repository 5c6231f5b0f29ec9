//! `march`: march tests of memories, and what each can find.

mod coverage;
mod list;

use crate::args::{March, MarchCommand};
use crate::exit::{Failure, Status};
use crate::output::Output;
use dipsift_march::{Length, find, names_near};
use serde_json::{Value, json};

/// The notation in short, below the help.
pub const NOTATION: &str = "\
Notation:
  any(w0); up(r0,w1); down(r1,w0); pause(100ms)
  up, down, any  the order of the addresses; the arrows of the literature will
                 do, and so will braces around the whole
  r0, r1         read, and expect 0 or 1
  w0, w1         write
  pause(100ms)   access nothing for so long: us, ms or s";

/// Runs a subcommand.
pub fn run(args: &March, out: &mut Output) -> Result<Status, Failure> {
    match &args.command {
        MarchCommand::List => list::run(out),
        MarchCommand::Coverage(args) => coverage::run(args, out),
    }
}

/// A march test that was asked for.
pub struct Asked {
    /// The test.
    pub march: dipsift_march::March,
    /// Where it comes from, if it is one in print.
    pub published: Option<&'static dipsift_march::Published>,
}

/// Reads a name or a test.
pub fn read(text: &str) -> Result<Asked, Failure> {
    if let Some(published) = find(text) {
        return Ok(Asked { march: published.march(), published: Some(published) });
    }
    // No name has one of these, and no test that makes sense goes without.
    if !text.contains(['(', ')', ';', '{', '}', ',', '⇑', '⇓', '⇕', '↑', '↓', '↕']) {
        let hint = match names_near(text) {
            Some(near) => format!("did you mean `{}`?", near.key),
            None => "`dipsift march list` names them".into(),
        };
        return Err(Failure::usage(format!("no march test is called {text:?}: {hint}")));
    }
    match dipsift_march::March::read(text) {
        Ok(march) => Ok(Asked { march, published: None }),
        Err(mistakes) => {
            let rendered: Vec<String> =
                mistakes.iter().map(|mistake| mistake.render(false)).collect();
            Err(Failure::usage(format!("failed to read the march test\n{}", rendered.join("\n\n"))))
        }
    }
}

/// A length as an object.
fn length(length: Length) -> Value {
    json!({
        "operations_per_address": length.operations_per_address,
        "pauses": length.pauses,
        "paused_us": length.paused.as_micros() as u64,
    })
}

/// A publication, and whether the elements were recalled.
fn publication(test: &dipsift_march::Published) -> String {
    let memory = if test.from_memory { " (from memory)" } else { "" };
    format!("{}{memory}", test.publication)
}
