//! The line at the bottom: a question, and behind it what is being typed.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// What the line at the bottom is made of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bottom {
    /// What is asked, or goes on.
    pub question: String,
    /// What is being typed.
    pub typed: String,
    /// Where the cursor stands in it, in characters from its beginning.
    pub cursor: usize,
}

impl Bottom {
    /// The line in so many columns, its last one free, and how many columns before its end the
    /// cursor stands. Where not all fits, what is being typed goes before the question.
    pub fn set(&self, columns: usize) -> (String, usize) {
        let room = columns.saturating_sub(1).max(4);
        let before: String = self.typed.chars().take(self.cursor).collect();
        let whole = format!("> {} {}", self.question, self.typed);
        if whole.width() <= room {
            return (whole, self.typed.width() - before.width());
        }
        if self.typed.is_empty() {
            return (beginning(&whole, room), 0);
        }
        let kept = ending(&before, room - 2);
        let start = before.len() - kept.len();
        let shown = beginning(&self.typed[start..], room - 2);
        let back = shown.width() - kept.width();
        (format!("> {shown}"), back)
    }
}

/// As much of a text's beginning as fits.
fn beginning(text: &str, room: usize) -> String {
    let mut width = 0;
    text.chars()
        .take_while(|letter| {
            width += letter.width().unwrap_or(0);
            width <= room
        })
        .collect()
}

/// As much of a text's end as fits.
fn ending(text: &str, room: usize) -> String {
    let turned: String = text.chars().rev().collect();
    beginning(&turned, room).chars().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::Bottom;

    fn set(question: &str, typed: &str, cursor: usize, columns: usize) -> (String, usize) {
        Bottom { question: question.into(), typed: typed.into(), cursor }.set(columns)
    }

    #[test]
    fn a_question_and_what_is_typed_stand_on_one_line() {
        assert_eq!(set("marking?", "", 0, 80), ("> marking? ".into(), 0));
        assert_eq!(set("marking?", "7400", 4, 80), ("> marking? 7400".into(), 0));
        assert_eq!(set("marking?", "7400", 1, 80), ("> marking? 7400".into(), 3));
    }

    #[test]
    fn a_narrow_terminal_shows_the_cursor_and_keeps_the_last_column() {
        assert_eq!(set("insert chip 12", "", 0, 10), ("> insert ".into(), 0));
        assert_eq!(set("insert chip 12", "SN74LS00N 8412", 14, 10), ("> 0N 8412".into(), 0));
        assert_eq!(set("insert chip 12", "SN74LS00N", 0, 10), ("> SN74LS0".into(), 7));
    }

    #[test]
    fn wide_letters_take_two_columns() {
        assert_eq!(set("?", "日本", 1, 80), ("> ? 日本".into(), 2));
        assert_eq!(set("marking?", "日本日本", 4, 8), ("> 日本".into(), 0));
    }
}
