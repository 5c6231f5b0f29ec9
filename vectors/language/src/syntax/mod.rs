//! From text to statements.

pub(crate) mod expression;
pub(crate) mod lines;
pub(crate) mod lists;
pub(crate) mod memory;
pub(crate) mod statement;
pub(crate) mod table;
pub(crate) mod times;
pub(crate) mod token;
pub(crate) mod tree;
pub(crate) mod words;

/// Parentheses, braces and `for` blocks nest at most this deep.
pub(crate) const NESTING: usize = 32;
