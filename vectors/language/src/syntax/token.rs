//! Tokens of expressions and assignments.

use super::lines::Line;
use super::tree::Word;
use super::words::{RESERVED, Variables, bad_name, is_name};
use crate::diagnostic::{Sink, Span};

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Token {
    /// A name, with its slash.
    Name(String),
    /// A reserved word.
    Reserved(&'static str),
    Number {
        value: u64,
        width: Option<u32>,
    },
    Sign(&'static str),
    /// A word that is not a name; it has been reported.
    Wrong,
}

#[derive(Clone, Debug)]
pub(crate) struct Placed {
    pub token: Token,
    pub span: Span,
}

/// Longest first.
const SIGNS: [&str; 22] = [
    ":=", "==", "!=", "<=", ">=", "~", "&", "|", "^", "+", "-", "<", ">", "=", "?", ":", "(", ")",
    "{", "}", "[", "]",
];

/// Splits lines into tokens.
pub(crate) fn tokens(
    source: u32,
    text: &str,
    lines: &[Line],
    variables: &Variables,
    sink: &mut Sink,
) -> Vec<Placed> {
    let mut found = Vec::new();
    for line in lines {
        let mut at = line.start;
        while at < line.end {
            let rest = &text[at..line.end];
            let first = rest.chars().next().map_or(' ', |c| c);
            if first.is_whitespace() {
                at += first.len_utf8();
                continue;
            }
            let (token, length) = token(source, at, rest, variables, sink);
            let span = Span { source, start: at as u32, end: (at + length) as u32 };
            found.push(Placed { token, span });
            at += length;
        }
    }
    found
}

fn token(
    source: u32,
    at: usize,
    rest: &str,
    variables: &Variables,
    sink: &mut Sink,
) -> (Token, usize) {
    let word_length = |text: &str| {
        text.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(text.len())
    };
    let span = |length: usize| Span { source, start: at as u32, end: (at + length) as u32 };
    if let Some(after) = rest.strip_prefix('/') {
        let length = 1 + word_length(after);
        let word = Word { text: variables.fill(&rest[..length]), span: span(length) };
        return if is_name(&word.text) {
            (Token::Name(word.text), length)
        } else {
            bad_name(&word, variables, sink);
            (Token::Wrong, length)
        };
    }
    let length = word_length(rest);
    if length > 0 {
        if let Some(digits) = rest[length..].strip_prefix('\'') {
            let whole = length + 1 + word_length(digits);
            let token = sized(&rest[..whole]).unwrap_or_else(|| {
                sink.error(
                    span(whole),
                    format!("`{}` is not a number", &rest[..whole]),
                    "expected a width up to 64, then 'b, 'd or 'h, then a value that fits, as \
                     in 4'b1010",
                );
                Token::Wrong
            });
            return (token, whole);
        }
        return (word(&rest[..length], span(length), variables, sink), length);
    }
    if let Some(double) = ["&&", "||"].into_iter().find(|double| rest.starts_with(double)) {
        sink.error_with(
            span(2),
            format!("`{double}` has no meaning here"),
            "expected a name, a number or an operator",
            Some(format!("did you mean `{}`?", &double[1..])),
        );
        return (Token::Wrong, 2);
    }
    if let Some(sign) = SIGNS.into_iter().find(|sign| rest.starts_with(sign)) {
        return (Token::Sign(sign), sign.len());
    }
    if rest.starts_with(',') {
        return (Token::Sign(","), 1);
    }
    let c = rest.chars().next().unwrap_or(' ');
    let suggestion = match c {
        '!' => Some("inversion is written `~`".to_owned()),
        '*' => Some("conjunction is written `&`".to_owned()),
        _ => None,
    };
    sink.error_with(
        span(c.len_utf8()),
        format!("`{c}` has no meaning here"),
        "expected a name, a number or an operator",
        suggestion,
    );
    (Token::Wrong, c.len_utf8())
}

fn word(text: &str, span: Span, variables: &Variables, sink: &mut Sink) -> Token {
    if let Some(reserved) = RESERVED.into_iter().find(|reserved| *reserved == text) {
        return Token::Reserved(reserved);
    }
    let filled = variables.fill(text);
    if filled.bytes().all(|c| c.is_ascii_digit()) {
        if let Ok(value) = filled.parse() {
            return Token::Number { value, width: None };
        }
        sink.error(span, "the number is too large", "expected at most 64 bits");
        return Token::Wrong;
    }
    if is_name(&filled) {
        Token::Name(filled)
    } else {
        bad_name(&Word { text: filled, span }, variables, sink);
        Token::Wrong
    }
}

/// `4'b1010`.
fn sized(text: &str) -> Option<Token> {
    let (width, digits) = text.split_once('\'')?;
    let width: u32 = width.parse().ok().filter(|width| (1..=64).contains(width))?;
    let radix = match digits.chars().next()? {
        'b' => 2,
        'd' => 10,
        'h' => 16,
        _ => return None,
    };
    let value = u64::from_str_radix(digits.get(1..)?, radix).ok()?;
    let fits = width == 64 || value >> width == 0;
    fits.then_some(Token::Number { value, width: Some(width) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sized_numbers() {
        let number = |value, width| Some(Token::Number { value, width: Some(width) });
        assert_eq!(sized("4'b1010"), number(10, 4));
        assert_eq!(sized("4'hA"), number(10, 4));
        assert_eq!(sized("64'hFFFFFFFFFFFFFFFF"), number(u64::MAX, 64));
        for text in ["3'd8", "0'b0", "65'b0", "4'o7", "4'", "4'b", "4'bé"] {
            assert_eq!(sized(text), None, "{text}");
        }
    }
}
