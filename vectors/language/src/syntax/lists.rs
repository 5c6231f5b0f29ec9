//! Statements that are lists of words.

use super::tree::{Kind, Word};
use super::words::{self, Variables};
use crate::diagnostic::{Sink, Span, did_you_mean};
use crate::{Family, PackageKind};

pub(super) fn incomplete<T>(head: &Word, form: &str, sink: &mut Sink) -> Option<T> {
    sink.error(head.span, format!("`{}` is incomplete", head.text), format!("expected `{form}`"));
    None
}

/// At least one name.
pub(crate) fn names(
    head: &Word,
    rest: &[Word],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Vec<Word>> {
    if rest.is_empty() {
        return incomplete(head, &format!("{} NAME …", head.text), sink);
    }
    words::names(rest, variables, sink)
}

/// At least one family.
pub(crate) fn families(head: &Word, rest: &[Word], sink: &mut Sink) -> Option<Vec<(Family, Span)>> {
    if rest.is_empty() {
        return incomplete(head, "made FAMILY …", sink);
    }
    let mut found: Vec<(Family, Span)> = Vec::new();
    for word in rest {
        let Some(family) = Family::from_word(&word.text) else {
            let known = Family::ALL.map(Family::word);
            let upper = word.text.to_uppercase();
            let suggestion = match Family::from_word(&upper) {
                Some(family) => Some(format!("did you mean `{}`?", family.word())),
                None => did_you_mean(&upper, known),
            };
            sink.error_with(
                word.span,
                format!("`{}` is not a family", word.text),
                format!("expected one of {}", known.join(" ")),
                suggestion,
            );
            continue;
        };
        if found.iter().any(|(earlier, _)| *earlier == family) {
            sink.error(
                word.span,
                format!("family `{}` is named twice", word.text),
                "expected each family once",
            );
        } else {
            found.push((family, word.span));
        }
    }
    (!found.is_empty()).then_some(found)
}

/// A pinout.
pub(crate) fn package(
    kind: PackageKind,
    head: &Word,
    rest: &[Word],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Kind> {
    let colon = rest.iter().position(|word| word.text.ends_with(':'));
    let (before, pins) = rest.split_at(colon.map_or(0, |at| at + 1));
    let mut before = before.to_vec();
    if let Some(last) = before.last_mut() {
        last.text.pop();
        last.span.end -= 1;
    }
    before.retain(|word| !word.text.is_empty());
    let families = match colon {
        Some(_) => families(head, &before, sink)?,
        None => Vec::new(),
    };
    if pins.is_empty() {
        return incomplete(head, &format!("{} PIN …", head.text), sink);
    }
    let pins = words::names(pins, variables, sink)?;
    Some(Kind::Package { kind, families, pins })
}

/// `load NAME N …`.
pub(crate) fn load(
    head: &Word,
    rest: &[Word],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Kind> {
    if rest.is_empty() {
        return incomplete(head, "load NAME N …", sink);
    }
    let mut loads = Vec::new();
    for pair in rest.chunks(2) {
        let name = words::names(&pair[..1], variables, sink)?;
        let amount = pair.get(1);
        let Some(tenths) = amount.and_then(|word| tenths(&word.text)) else {
            let span = amount.map_or(pair[0].span, |word| word.span);
            sink.error(
                span,
                format!("the load of `{}` is not a number", pair[0].text),
                "expected unit loads from 0.1 to 100 with one decimal at most, as in 2 or 1.3",
            );
            return None;
        };
        loads.extend(name.into_iter().map(|name| (name, tenths)));
    }
    Some(Kind::Load(loads))
}

fn tenths(text: &str) -> Option<u16> {
    let (whole, decimal) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|c| c.is_ascii_digit());
    if !digits(whole) || !digits(decimal) || whole.len() > 3 || decimal.len() != 1 {
        return None;
    }
    let tenths = whole.parse::<u16>().ok()? * 10 + decimal.parse::<u16>().ok()?;
    (1..=1000).contains(&tenths).then_some(tenths)
}

/// `limit N mA`.
pub(crate) fn limit(head: &Word, rest: &[Word], sink: &mut Sink) -> Option<Kind> {
    match quantity(rest, "mA") {
        Some(milliamperes @ 1..=2000) => Some(Kind::Limit(milliamperes)),
        _ => {
            let span =
                rest.first().map_or(head.span, |first| first.span.to(rest[rest.len() - 1].span));
            sink.error(
                span,
                "the current limit is not understood",
                "expected milliamperes from 1 to 2000, as in `limit 250 mA`",
            );
            None
        }
    }
}

/// `250 mA` or `250mA`.
pub(super) fn quantity(words: &[Word], unit: &str) -> Option<u32> {
    let joined: String = words.iter().map(|word| word.text.as_str()).collect();
    let number = joined.strip_suffix(unit)?;
    number.bytes().all(|c| c.is_ascii_digit()).then(|| number.parse().ok())?
}

/// `group NAME = NAME …`.
pub(crate) fn group(
    head: &Word,
    rest: &[Word],
    variables: &Variables,
    sink: &mut Sink,
) -> Option<Kind> {
    let form = "group NAME = NAME …, most significant first";
    let [name, equals, bits @ ..] = rest else { return incomplete(head, form, sink) };
    if equals.text != "=" {
        sink.error(equals.span, format!("unexpected `{}`", equals.text), "expected `=`");
        return None;
    }
    if bits.is_empty() {
        return incomplete(head, form, sink);
    }
    let mut name = words::names(std::slice::from_ref(name), variables, sink)?;
    let bits = words::names(bits, variables, sink)?;
    let name = match (name.pop(), name.is_empty()) {
        (Some(name), true) if !name.text.starts_with('/') => name,
        _ => {
            sink.error(rest[0].span, "this cannot name a group", "expected a name without a slash");
            return None;
        }
    };
    if bits.len() > 64 {
        sink.error(name.span, "the group has too many bits", "expected at most 64");
        return None;
    }
    Some(Kind::Group(name, bits))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loads_in_tenths() {
        assert_eq!(tenths("2"), Some(20));
        assert_eq!(tenths("1.3"), Some(13));
        for text in ["", ".5", "1.", "1.25", "-1", "0", "101", "+2"] {
            assert_eq!(tenths(text), None, "{text}");
        }
    }
}
