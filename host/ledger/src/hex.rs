//! Bytes that are written as hexadecimal digits in texts.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::fmt::Write as _;
use std::str::FromStr;

/// Bytes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Hex(pub Vec<u8>);

/// A text that is not made of pairs of hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not pairs of hexadecimal digits")]
pub struct NotHex;

impl fmt::Display for Hex {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl FromStr for Hex {
    type Err = NotHex;

    fn from_str(text: &str) -> Result<Self, NotHex> {
        if !text.bytes().all(|byte| byte.is_ascii_hexdigit()) || !text.len().is_multiple_of(2) {
            return Err(NotHex);
        }
        let pair = |at| u8::from_str_radix(&text[at..at + 2], 16).map_err(|_| NotHex);
        (0..text.len()).step_by(2).map(pair).collect::<Result<_, _>>().map(Self)
    }
}

impl TryFrom<String> for Hex {
    type Error = NotHex;

    fn try_from(text: String) -> Result<Self, NotHex> {
        text.parse()
    }
}

impl From<Hex> for String {
    fn from(bytes: Hex) -> Self {
        let mut text = Self::with_capacity(2 * bytes.0.len());
        // Writing to a string does not fail.
        let _ = write!(text, "{bytes}");
        text
    }
}
