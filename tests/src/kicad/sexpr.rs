//! Symbolic expressions, as far as symbol libraries use them.

/// An atom or a list.
#[derive(Clone, Debug, PartialEq)]
pub enum Expression {
    /// A word or a quoted text.
    Atom(String),
    /// A list in parentheses.
    List(Vec<Expression>),
}

impl Expression {
    /// The text of an atom.
    pub fn text(&self) -> Option<&str> {
        match self {
            Self::Atom(text) => Some(text),
            Self::List(_) => None,
        }
    }

    /// The elements of a list that starts with `head`.
    pub fn list(&self, head: &str) -> Option<&[Expression]> {
        match self {
            Self::List(items) if items.first()?.text() == Some(head) => Some(items),
            _ => None,
        }
    }
}

/// Reads one expression.
pub fn parse(text: &str) -> Result<Expression, String> {
    let mut open: Vec<Vec<Expression>> = vec![Vec::new()];
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '(' => open.push(Vec::new()),
            ')' => {
                let list = open.pop().unwrap_or_default();
                open.last_mut().ok_or("a parenthesis too many")?.push(Expression::List(list));
            }
            '"' => {
                let mut atom = String::new();
                loop {
                    match characters.next().ok_or("an open quotation")? {
                        '"' => break,
                        '\\' => atom.extend(characters.next()),
                        other => atom.push(other),
                    }
                }
                open.last_mut().ok_or("a parenthesis too many")?.push(Expression::Atom(atom));
            }
            space if space.is_whitespace() => {}
            first => {
                let mut atom = String::from(first);
                while let Some(next) =
                    characters.next_if(|next| !next.is_whitespace() && !"()\"".contains(*next))
                {
                    atom.push(next);
                }
                open.last_mut().ok_or("a parenthesis too many")?.push(Expression::Atom(atom));
            }
        }
    }
    match (open.pop(), open.is_empty()) {
        (Some(mut items), true) if items.len() == 1 => Ok(items.remove(0)),
        _ => Err("expected one expression".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::{Expression, parse};

    #[test]
    fn nests_and_quotes() {
        let atom = |text: &str| Expression::Atom(text.into());
        let list = Expression::List(vec![atom("b"), atom("c \"d")]);
        assert_eq!(parse("(a (b \"c \\\"d\"))"), Ok(Expression::List(vec![atom("a"), list])));
        assert!(parse("(a").is_err());
        assert!(parse("a)").is_err());
    }
}
