//! The text of a march test in pieces.

use std::ops::Range;

/// A kind of piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Letters, digits and dots: `up`, `r0`, `100ms`.
    Word,
    /// One of the arrows.
    Arrow(char),
    /// One of `( ) { } , ;`.
    Mark(char),
    /// Anything else.
    Stranger(char),
}

/// A piece and its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Token {
    pub kind: Kind,
    pub at: Range<usize>,
}

/// Takes a text apart; white space only separates.
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let mut tokens: Vec<Token> = Vec::new();
    for (start, c) in text.char_indices() {
        let end = start + c.len_utf8();
        let kind = match c {
            _ if c.is_whitespace() => continue,
            '(' | ')' | '{' | '}' | ',' | ';' => Kind::Mark(c),
            '⇑' | '⇓' | '⇕' | '↑' | '↓' | '↕' => Kind::Arrow(c),
            '.' => Kind::Word,
            _ if c.is_alphanumeric() => Kind::Word,
            _ => Kind::Stranger(c),
        };
        match tokens.last_mut() {
            Some(last) if last.at.end == start && kind == Kind::Word && last.kind == kind => {
                last.at.end = end;
            }
            _ => tokens.push(Token { kind, at: start..end }),
        }
    }
    tokens
}
