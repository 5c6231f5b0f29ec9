//! A terminal of 80 columns and 24 lines with a person in front of it.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::io::{Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// How long anything may take; machines can be slow.
const DEADLINE: Duration = Duration::from_secs(30);
const SOON: Duration = Duration::from_millis(10);

/// A terminal on which `dipsift` runs.
pub struct Terminal {
    master: Box<dyn MasterPty + Send>,
    keys: Box<dyn Write + Send>,
    child: Box<dyn Child + Send + Sync>,
    seen: Arc<Mutex<Seen>>,
    looks_away: Arc<AtomicBool>,
    before: String,
}

struct Seen {
    bytes: Vec<u8>,
    screen: vt100::Parser,
}

impl Terminal {
    /// Runs `dipsift` with these arguments and variables.
    pub fn run(args: &[&str], variables: &[(&str, &str)]) -> Self {
        Self::sized(80, args, variables)
    }

    /// The same on another width.
    pub fn sized(columns: u16, args: &[&str], variables: &[(&str, &str)]) -> Self {
        let size = PtySize { rows: 24, cols: columns, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).expect("a pseudo terminal");
        let before = attributes(pair.master.as_ref());
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_dipsift"));
        command.args(args);
        command.env_remove("NO_COLOR");
        command.env_remove("CLICOLOR_FORCE");
        command.env("TERM", "xterm-256color");
        command.env("XDG_CONFIG_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/no-settings"));
        for (name, value) in variables {
            command.env(name, value);
        }
        let child = pair.slave.spawn_command(command).expect("the program starts");
        drop(pair.slave);
        let seen = Seen { bytes: Vec::new(), screen: vt100::Parser::new(24, columns, 0) };
        let seen = Arc::new(Mutex::new(seen));
        let looks_away = Arc::new(AtomicBool::new(false));
        let mut reader = pair.master.try_clone_reader().expect("a reader");
        let (shared, away) = (Arc::clone(&seen), Arc::clone(&looks_away));
        thread::spawn(move || {
            let mut bytes = [0; 1024];
            while let Ok(count @ 1..) = reader.read(&mut bytes) {
                let mut seen = shared.lock().expect("nobody has failed with it");
                seen.bytes.extend(&bytes[..count]);
                seen.screen.process(&bytes[..count]);
                drop(seen);
                while away.load(Ordering::SeqCst) {
                    thread::sleep(SOON);
                }
            }
        });
        let keys = pair.master.take_writer().expect("a writer");
        Self { master: pair.master, keys, child, seen, looks_away, before }
    }

    /// Presses keys.
    pub fn press(&mut self, keys: &str) {
        self.keys.write_all(keys.as_bytes()).expect("the terminal takes keys");
        self.keys.flush().expect("the terminal takes keys");
    }

    /// Stops reading what the program writes, or goes on with it.
    pub fn look_away(&self, away: bool) {
        self.looks_away.store(away, Ordering::SeqCst);
    }

    /// What is on the screen.
    pub fn screen(&self) -> String {
        let seen = self.seen.lock().expect("nobody has failed with it");
        seen.screen.screen().contents()
    }

    /// All that was ever written.
    pub fn written(&self) -> String {
        let seen = self.seen.lock().expect("nobody has failed with it");
        String::from_utf8_lossy(&seen.bytes).into_owned()
    }

    /// How often the bell rang.
    pub fn bells(&self) -> usize {
        self.written().matches('\u{7}').count()
    }

    /// Waits until something holds.
    pub fn until(&self, what: &str, holds: impl Fn(&Self) -> bool) {
        let begun = Instant::now();
        while !holds(self) {
            assert!(begun.elapsed() < DEADLINE, "never {what}:\n{}", self.screen());
            thread::sleep(SOON);
        }
    }

    /// Waits until the last line is this question with nothing typed behind it, and looks at the
    /// whole screen then: no line is too long for it.
    pub fn asked(&self, question: &str) {
        let wanted = format!("> {question}");
        self.until(&wanted, |it| {
            it.screen().trim_end().lines().last().map(str::trim_end) == Some(&wanted)
        });
        let seen = self.seen.lock().expect("nobody has failed with it");
        let screen = seen.screen.screen();
        let (lines, _) = screen.size();
        for line in 0..lines {
            assert!(!screen.row_wrapped(line), "line {line} goes on:\n{}", screen.contents());
        }
    }

    /// Waits until these words are on the screen.
    pub fn shows(&self, words: &str) {
        self.until(words, |it| it.screen().contains(words));
    }

    /// Waits for the end of the program; gives its status. The terminal is as it was before.
    pub fn ends(&mut self) -> u32 {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().expect("the program can be waited for") {
                assert_eq!(attributes(self.master.as_ref()), self.before);
                return status.exit_code();
            }
            assert!(begun.elapsed() < DEADLINE, "it does not end:\n{}", self.screen());
            thread::sleep(SOON);
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.look_away(false);
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The attributes of a terminal, as words.
fn attributes(master: &dyn MasterPty) -> String {
    format!("{:?}", master.get_termios().expect("the attributes of the terminal"))
}
