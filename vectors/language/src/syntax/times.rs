//! Statements of times and voltages: `grade`, `timing`, `refresh`, `startup`, `supply`.

use super::lines::{self, Line};
use super::lists::{incomplete, quantity};
use super::tree::{Kind, Word};
use super::words::{self, Variables};
use crate::Moment;
use crate::diagnostic::{Sink, Span, did_you_mean};

fn nanoseconds(word: &Word) -> Option<u32> {
    quantity(std::slice::from_ref(word), "ns").filter(|time| *time > 0)
}

/// The place of a list, or of its head where it is empty.
fn place(head: &Word, rest: &[Word]) -> Span {
    match (rest.first(), rest.last()) {
        (Some(first), Some(last)) => first.span.to(last.span),
        _ => head.span,
    }
}

/// `grade MARK TIME …`, or `grade MAKER: MARK TIME …`.
pub(crate) fn grade(head: &Word, rest: &[Word], sink: &mut Sink) -> Option<Kind> {
    let maker = rest.first().and_then(|word| word.text.strip_suffix(':'));
    let pairs = &rest[usize::from(maker.is_some())..];
    if pairs.is_empty() {
        return incomplete(head, "grade MARK TIME …", sink);
    }
    let mut grades: Vec<(String, u32)> = Vec::new();
    for pair in pairs.chunks(2) {
        let mark = match pair[0].text.as_str() {
            "none" => Some(""),
            mark => mark
                .strip_prefix('-')
                .filter(|mark| !mark.is_empty() && mark.bytes().all(|c| c.is_ascii_alphanumeric())),
        };
        let time = pair.get(1).and_then(nanoseconds);
        let (Some(mark), Some(time)) = (mark, time) else {
            sink.error(
                pair[0].span.to(pair[pair.len() - 1].span),
                "the grade is not understood",
                "expected the mark after the dash, or `none`, and nanoseconds, as in `-2 200ns`",
            );
            return None;
        };
        if grades.iter().any(|(earlier, _)| earlier == mark) {
            sink.error(pair[0].span, "the grade is named twice", "expected each mark once");
            return None;
        }
        grades.push((mark.to_owned(), time));
    }
    match maker {
        None => Some(Kind::Grade(grades)),
        Some(maker) if maker.bytes().all(|c| c.is_ascii_uppercase()) && !maker.is_empty() => {
            Some(Kind::MakerGrade(maker.to_owned(), grades))
        }
        Some(_) => {
            sink.error(
                rest[0].span,
                "the maker is not understood",
                "expected the capitals in front of the number, as in `grade HM: -2 120ns`",
            );
            None
        }
    }
}

/// `timing`, and below it lines `WORD TIME …`.
pub(crate) fn timing(
    source: u32,
    text: &str,
    head: &Word,
    lines: &[Line],
    sink: &mut Sink,
) -> Option<Kind> {
    if words::raw(source, text, &lines[..1]).len() > 1 || lines.len() == 1 {
        return incomplete(
            head,
            "timing`, alone, and lines `WORD TIME …` below it, as in `cycle 200ns",
            sink,
        );
    }
    let mut times: Vec<(Moment, Vec<u32>, Span)> = Vec::new();
    let mut rest = &lines[1..];
    let mut good = true;
    while !rest.is_empty() {
        let (statement, after) = lines::statement(rest);
        rest = after;
        let found = words::raw(source, text, statement);
        let (word, values) = found.split_first()?;
        let Some(moment) = Moment::from_word(&word.text) else {
            let known = Moment::ALL.map(Moment::word);
            let expected = format!("expected one of {}", known.join(" "));
            let suggestion = did_you_mean(&word.text, known);
            sink.error_with(
                word.span,
                format!("`{}` is no time of a memory", word.text),
                expected,
                suggestion,
            );
            good = false;
            continue;
        };
        if times.iter().any(|(earlier, ..)| *earlier == moment) {
            sink.error(
                word.span,
                format!("`{}` stands twice", word.text),
                "expected each time once",
            );
            good = false;
            continue;
        }
        let values_read: Option<Vec<u32>> = values.iter().map(nanoseconds).collect();
        match values_read {
            Some(read) if !read.is_empty() => times.push((moment, read, place(word, values))),
            _ => {
                sink.error(
                    place(word, values),
                    format!("the times of `{}` are not understood", word.text),
                    "expected nanoseconds, one time for every grade or one for all, as in `120ns`",
                );
                good = false;
            }
        }
    }
    good.then_some(Kind::Timing(times))
}

/// `refresh N rows in TIME`.
pub(crate) fn refresh(head: &Word, rest: &[Word], sink: &mut Sink) -> Option<Kind> {
    if let [rows, word, within, time @ ..] = rest
        && word.text == "rows"
        && within.text == "in"
        && let Ok(rows @ 1..) = rows.text.parse::<u32>()
        && let Some(micro @ 1..) = microseconds(time)
    {
        return Some(Kind::Refresh(rows, micro));
    }
    let span = place(head, rest);
    sink.error(span, "the refresh is not understood", "expected `refresh 128 rows in 2ms`");
    None
}

fn microseconds(time: &[Word]) -> Option<u32> {
    let milli = quantity(time, "ms").and_then(|milli| milli.checked_mul(1000));
    quantity(time, "us").or(milli)
}

/// `startup TIME`, or `startup TIME N cycles`.
pub(crate) fn startup(head: &Word, rest: &[Word], sink: &mut Sink) -> Option<Kind> {
    let (time, cycles) = match rest {
        [time @ .., number, word] if word.text == "cycles" => {
            (time, number.text.parse::<u32>().ok())
        }
        _ => (rest, Some(0)),
    };
    if let (Some(micro @ 1..), Some(cycles @ 0..=1000)) = (microseconds(time), cycles) {
        return Some(Kind::Startup(micro, cycles));
    }
    sink.error(
        place(head, rest),
        "the start-up is not understood",
        "expected a pause and the cycles after it, as in `startup 200us 8 cycles`",
    );
    None
}

/// `supply NAME VOLTS …`.
pub(crate) fn supply(
    head: &Word,
    rest: &[Word],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Kind> {
    if rest.is_empty() {
        return incomplete(head, "supply NAME VOLTS …", sink);
    }
    let mut supplies = Vec::new();
    for pair in rest.chunks(2) {
        let name = words::names(&pair[..1], variables, sink)?;
        let Some(millivolts) = pair.get(1).and_then(|word| millivolts(&word.text)) else {
            sink.error(
                pair[0].span.to(pair[pair.len() - 1].span),
                format!("the voltage of `{}` is not understood", pair[0].text),
                "expected volts with their sign and one decimal at most, as in `-5V` or `+12V`",
            );
            return None;
        };
        supplies.extend(name.into_iter().map(|name| (name, millivolts)));
    }
    Some(Kind::Supply(supplies))
}

fn millivolts(text: &str) -> Option<i32> {
    let number = text.strip_suffix('V')?;
    let (sign, size) = match number.strip_prefix('-') {
        Some(size) => (-1, size),
        None => (1, number.strip_prefix('+').unwrap_or(number)),
    };
    let (whole, decimal) = size.split_once('.').unwrap_or((size, "0"));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|c| c.is_ascii_digit());
    if !digits(whole) || !digits(decimal) || whole.len() > 2 || decimal.len() != 1 {
        return None;
    }
    Some(sign * (whole.parse::<i32>().ok()? * 1000 + decimal.parse::<i32>().ok()? * 100))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn voltages() {
        for (text, expected) in [("-5V", -5000), ("+12V", 12000), ("5V", 5000), ("-5.2V", -5200)] {
            assert_eq!(millivolts(text), Some(expected), "{text}");
        }
        for text in ["", "V", "5", "--5V", "5.25V", "123V", "-V", "+-5V"] {
            assert_eq!(millivolts(text), None, "{text}");
        }
    }
}
