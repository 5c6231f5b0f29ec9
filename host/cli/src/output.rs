//! Standard output: text with optional colour, or one JSON object.

use crate::args::{Color, General};
use crate::exit::Status;
use anstream::{AutoStream, ColorChoice};
use anstyle::{AnsiColor, Style};
use serde_json::{Map, Value, json};
use std::io::{self, Stdout, Write};

/// The version of the JSON objects. It changes when a field changes its meaning or goes away.
pub const SCHEMA: &str = "dipsift/1";

/// Something good.
pub const GOOD: Style = Style::new().fg_color(Some(anstyle::Color::Ansi(AnsiColor::Green))).bold();
/// Something bad.
pub const BAD: Style = Style::new().fg_color(Some(anstyle::Color::Ansi(AnsiColor::Red))).bold();
/// Something to look at.
pub const LOOK: Style = Style::new().fg_color(Some(anstyle::Color::Ansi(AnsiColor::Yellow))).bold();
/// A heading.
pub const HEAD: Style = Style::new().bold();

/// How wide text is set.
pub const WIDTH: usize = 80;

/// Where a command prints.
pub struct Output {
    stream: Stream,
    /// Whether one JSON object is wanted instead of text.
    pub json: bool,
    command: &'static str,
}

/// Where the text goes.
enum Stream {
    Standard(AutoStream<Stdout>),
    /// It is kept, for somebody else to show.
    Page(AutoStream<Vec<u8>>),
}

impl Output {
    /// Standard output for a command.
    pub fn new(general: &General, command: &'static str) -> Self {
        let choice = match general.color {
            Color::Auto => AutoStream::choice(&io::stdout()),
            Color::Always => ColorChoice::Always,
            Color::Never => ColorChoice::Never,
        };
        let stream = Stream::Standard(AutoStream::new(io::stdout(), choice));
        Self { stream, json: general.json, command }
    }

    /// An empty page, set as this output is, that keeps what is printed on it.
    pub fn page(&self) -> Self {
        let coloured = match &self.stream {
            Stream::Standard(stream) => stream.current_choice(),
            Stream::Page(stream) => stream.current_choice(),
        };
        let choice = match coloured {
            ColorChoice::Never => ColorChoice::Never,
            _ => ColorChoice::AlwaysAnsi,
        };
        let stream = Stream::Page(AutoStream::new(Vec::new(), choice));
        Self { stream, json: self.json, command: self.command }
    }

    /// Takes what was printed on a page.
    pub fn take(self) -> String {
        match self.stream {
            Stream::Standard(_) => String::new(),
            Stream::Page(stream) => String::from_utf8_lossy(&stream.into_inner()).into_owned(),
        }
    }

    /// Prints the command's JSON object: the envelope, then the fields of `body`.
    pub fn object(&mut self, status: Status, body: Value) -> io::Result<()> {
        let mut object = Map::new();
        object.insert("schema".into(), json!(SCHEMA));
        object.insert("command".into(), json!(self.command));
        object.insert("status".into(), json!(status as u8));
        if let Value::Object(fields) = body {
            object.extend(fields);
        }
        let text = serde_json::to_string_pretty(&Value::Object(object))?;
        writeln!(self, "{text}")?;
        self.flush()
    }

    /// Prints a paragraph, folded at word ends, each line after the first below `indent` spaces.
    pub fn paragraph(&mut self, first: &str, indent: usize, text: &str) -> io::Result<()> {
        for line in fold(first, indent, text, WIDTH) {
            writeln!(self, "{line}")?;
        }
        Ok(())
    }

    /// Prints a heading.
    pub fn heading(&mut self, text: &str) -> io::Result<()> {
        writeln!(self, "{HEAD}{text}{HEAD:#}")
    }

    /// Prints a labelled paragraph: the label in a column of its own.
    pub fn labelled(&mut self, label: &str, text: &str) -> io::Result<()> {
        self.paragraph(&format!("{label:<10}"), 10, text)
    }

    /// Prints items, one paragraph each.
    pub fn items<'a>(&mut self, items: impl IntoIterator<Item = &'a str>) -> io::Result<()> {
        items.into_iter().try_for_each(|item| self.paragraph("  - ", 4, item))
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.stream {
            Stream::Standard(stream) => stream.write(bytes),
            Stream::Page(stream) => stream.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.stream {
            Stream::Standard(stream) => stream.flush(),
            Stream::Page(stream) => stream.flush(),
        }
    }
}

/// Folds text at word ends into lines of at most `width` characters. The first line begins with
/// `first`, the others with `indent` spaces.
pub fn fold(first: &str, indent: usize, text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = first.to_string();
    let mut empty = true;
    for word in text.split_whitespace() {
        let needed = line.chars().count() + usize::from(!empty) + word.chars().count();
        if !empty && needed > width {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent)));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    lines.push(line.trim_end().to_string());
    lines
}

#[cfg(test)]
mod tests {
    use super::fold;

    #[test]
    fn text_folds_at_word_ends_below_its_indent() {
        assert_eq!(fold("- ", 2, "one two three", 9), ["- one two", "  three"]);
        assert_eq!(fold("", 0, "unbreakable", 4), ["unbreakable"]);
        assert_eq!(fold("label ", 6, "", 80), ["label"]);
    }
}
