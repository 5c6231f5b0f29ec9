//! How the program ends: one table of exit statuses, and errors that carry theirs.

use std::process::ExitCode;
use std::{fmt, io};

/// The table, as the help prints it.
pub const STATUS_TABLE: &str = "\
Exit status:
  0  go; for screen: the batch was completed
  1  no-go
  2  wrong usage, or a file that cannot be used
  3  trouble with the tester or its link, or no single tester found
  4  refused or not supported: the chip was not powered
  5  not decided: neither go nor no-go could be said, or interrupted";

/// The table of the commands that do without a tester, as their help prints it.
pub const DONE_TABLE: &str = "\
Exit status:
  0  done
  2  wrong usage, or a file that cannot be used, damaged ones included";

/// An exit status.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Status {
    /// Go, or done.
    Go = 0,
    /// The chip is bad.
    NoGo = 1,
    /// Wrong usage, or a bad file.
    Usage = 2,
    /// The tester or its link.
    Trouble = 3,
    /// Refused or not supported.
    Refused = 4,
    /// Not decided.
    NotDecided = 5,
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        Self::from(status as u8)
    }
}

/// Why a command stopped.
#[derive(Debug)]
pub enum Failure {
    /// For a reason that can be said in one line or a few; the first is a lower-case fragment.
    Said {
        /// The exit status.
        status: Status,
        /// What went wrong.
        message: String,
    },
    /// Nobody reads the output any more, or it cannot be written.
    Output(io::Error),
}

impl Failure {
    /// Wrong usage, or a bad file: status 2.
    pub fn usage(message: impl Into<String>) -> Self {
        Self::Said { status: Status::Usage, message: message.into() }
    }

    /// The tester or its link: status 3.
    pub fn trouble(message: impl Into<String>) -> Self {
        Self::Said { status: Status::Trouble, message: message.into() }
    }

    /// Ctrl-C, with the tester's answer that it is off: status 5.
    pub fn interrupted() -> Self {
        Self::Said {
            status: Status::NotDecided,
            message: "interrupted: the socket is unpowered; nothing is said about the chip".into(),
        }
    }

    /// Refused or not supported: status 4.
    pub fn refused(message: impl Into<String>) -> Self {
        Self::Said { status: Status::Refused, message: message.into() }
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Self::Output(error)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Said { message, .. } => f.write_str(message),
            Self::Output(error) => write!(f, "failed to write the output: {error}"),
        }
    }
}
