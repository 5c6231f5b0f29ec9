//! Lines: comments cut off, blank ones left out, white space in front measured.

/// A line that says something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Line {
    /// Columns of white space in front; a tab counts up to the next multiple of eight.
    pub indent: usize,
    /// The first byte of what it says.
    pub start: usize,
    /// The byte after what it says.
    pub end: usize,
}

/// Splits a text.
pub(crate) fn split(text: &str) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let code = line.find('#').map_or(line, |comment| &line[..comment]).trim_end();
        let said = code.trim_start();
        if !said.is_empty() {
            let start = at + code.len() - said.len();
            lines.push(Line { indent: indent(&text[at..start]), start, end: at + code.len() });
        }
        at += line.len();
    }
    lines
}

/// The lines of a statement: itself and those below it that are indented further.
pub(crate) fn statement(lines: &[Line]) -> (&[Line], &[Line]) {
    let Some(first) = lines.first() else { return (lines, lines) };
    let more = lines[1..].iter().take_while(|line| line.indent > first.indent).count();
    lines.split_at(1 + more)
}

fn indent(white: &str) -> usize {
    white.chars().fold(0, |column, c| if c == '\t' { (column / 8 + 1) * 8 } else { column + 1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_without_comments() {
        let text = "a b # c\n\n\t x\n # only\ny";
        let lines = split(text);
        let said: Vec<_> = lines.iter().map(|line| &text[line.start..line.end]).collect();
        assert_eq!(said, ["a b", "x", "y"]);
        assert_eq!(lines[1].indent, 9);
        assert_eq!(statement(&lines).0.len(), 2);
    }
}
