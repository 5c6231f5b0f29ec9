//! Letters behind a number: revision, low power, package.

use crate::prefix;
use crate::reading::{Package, Reading};
use crate::table::rows;

struct Row {
    letters: &'static str,
    series: &'static str,
    prefixes: &'static str,
    meaning: &'static str,
}

fn table() -> impl Iterator<Item = Row> {
    rows(include_str!("../tables/packages.txt"))
        .map(|[letters, series, prefixes, meaning, _]| Row { letters, series, prefixes, meaning })
}

/// What package letters mean behind a number of a series with a prefix. Without a prefix that
/// decides, all meanings.
fn meanings(letters: &str, series: char, prefix: &str) -> Vec<String> {
    let of = |wanted: &str| {
        let rows = table().filter(|row| row.letters == letters && row.series.contains(series));
        let rows = rows.filter(|row| row.prefixes.split_whitespace().any(|word| word == wanted));
        rows.map(|row| row.meaning.to_owned()).collect::<Vec<_>>()
    };
    let own = if prefix.is_empty() { Vec::new() } else { of(prefix) };
    if !own.is_empty() {
        return own;
    }
    let any = of("*");
    if !any.is_empty() {
        return any;
    }
    // `-` marks those that are met without a prefix, or with one that is not known: a known one
    // without a line of its own for the letters says nothing.
    if prefix.is_empty() || prefix::find(prefix).is_none() { of("-") } else { Vec::new() }
}

/// A suffix, understood.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Suffix {
    pub revision: Option<String>,
    pub low_power: bool,
    pub package: Option<Package>,
    pub reel: bool,
}

/// All ways to read a suffix whole, the likeliest first; one empty way for an empty suffix, none
/// where it is not understood.
pub(crate) fn read(suffix: &str, series: char, prefix: &str) -> Vec<Suffix> {
    let mut found: Vec<Suffix> = Vec::new();
    let whole = if suffix.is_empty() { Vec::new() } else { meanings(suffix, series, prefix) };
    if !whole.is_empty() {
        let package = Some(Package { letters: suffix.to_owned(), meanings: whole });
        found.push(Suffix { package, ..Suffix::default() });
        // An A alone may be the first revision as well.
        if suffix == "A" {
            found.push(Suffix { revision: Some(suffix.to_owned()), ..Suffix::default() });
        }
        return found;
    }
    let mut add = |one: Suffix| {
        if !found.contains(&one) {
            found.push(one);
        }
    };
    // In the 4000 series the letters of revisions name the family and were read with the number.
    let revised = match series {
        'c' => false,
        't' => suffix.starts_with(['A', 'B', 'C']),
        _ => suffix.starts_with(['A', 'B', 'C', 'D']),
    };
    let revisions: &[usize] = if revised { &[0, 1] } else { &[0] };
    for &revision in revisions {
        let (revision, rest) = suffix.split_at(revision);
        let revision = (!revision.is_empty()).then(|| revision.to_owned());
        for (body, reel) in reels(rest, series) {
            for (letters, low_power) in powers(body, series) {
                let package = match letters {
                    "" => None,
                    _ => match meanings(letters, series, prefix) {
                        meanings if meanings.is_empty() => continue,
                        meanings => Some(Package { letters: letters.to_owned(), meanings }),
                    },
                };
                if package.is_none() && reel {
                    continue;
                }
                add(Suffix { revision: revision.clone(), low_power, package, reel });
            }
        }
    }
    found
}

/// A suffix with and without the marks of reels and of lead-free finish behind it.
fn reels(rest: &str, series: char) -> Vec<(&str, bool)> {
    let mut ways = vec![(rest, false)];
    let bare = rest.trim_end_matches("G4").trim_end_matches("E4");
    let tube = bare.len() < rest.len();
    if tube {
        ways.push((bare, false));
    }
    if series != 'm' {
        for end in ["R", "X", "T"] {
            if let Some(body) = bare.strip_suffix(end).filter(|body| !body.is_empty()) {
                ways.push((body, true));
            }
        }
    }
    ways
}

/// A suffix of a memory with and without the letters of low power around the package.
fn powers(body: &str, series: char) -> Vec<(&str, bool)> {
    let mut ways = vec![(body, false)];
    if series == 'm' {
        for low in ["SL", "LL", "L"] {
            if let Some(rest) = body.strip_prefix(low) {
                ways.push((rest, true));
            }
            if let Some(rest) = body.strip_suffix(low) {
                ways.push((rest, true));
            }
        }
    }
    ways
}

/// Reads a suffix into a reading. What is not understood is kept as unread; what is ambiguous is
/// told.
pub(crate) fn enter(reading: &mut Reading, suffix: &str, series: char) {
    let prefix = reading.prefix.clone().unwrap_or_default();
    let ways = read(suffix, series, &prefix);
    let Some(first) = ways.first() else {
        if !suffix.is_empty() {
            reading.unread = Some(suffix.to_owned());
        }
        return;
    };
    reading.revision = first.revision.clone();
    reading.package = first.package.clone();
    if first.low_power {
        reading.remarks.push("L behind the number: low power".to_owned());
    }
    if first.reel {
        reading.remarks.push("the last letter stands for a reel".to_owned());
    }
    for other in &ways[1..] {
        let mut words = Vec::new();
        if let Some(revision) = &other.revision {
            words.push(format!("revision {revision}"));
        }
        if other.low_power {
            words.push("low power".to_owned());
        }
        if let Some(package) = &other.package {
            words.push(format!("package {}: {}", package.letters, package.meanings.join(" or ")));
        }
        reading.could_be.push(format!("{suffix} could be {}", words.join(", ")));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(suffix: &str, series: char, prefix: &str) -> Vec<String> {
        let one = |way: &Suffix| {
            let package = way.package.as_ref();
            format!(
                "{}{}/{}",
                way.revision.as_deref().unwrap_or(""),
                if way.low_power { "+L" } else { "" },
                package.map_or("", |package| package.letters.as_str()),
            )
        };
        read(suffix, series, prefix).iter().map(one).collect()
    }

    #[test]
    fn revisions_and_packages() {
        assert_eq!(words("N", 't', "SN"), ["/N"]);
        assert_eq!(words("AN", 't', "SN"), ["A/N"]);
        assert_eq!(words("A", 't', "N"), ["/A", "A/"]);
        assert_eq!(words("DWR", 't', "SN"), ["/DW"]);
        assert_eq!(words("LP", 'm', "HM"), ["+L/P"]);
        assert_eq!(words("", 't', ""), ["/"]);
        assert!(words("QQ", 't', "SN").is_empty());
    }

    #[test]
    fn makers_differ() {
        assert_eq!(meanings("D", 't', "SN"), ["small outline"]);
        assert_eq!(meanings("D", 't', "F"), ["ceramic dual in-line"]);
        assert_eq!(meanings("D", 't', "").len(), 2);
    }

    #[test]
    fn every_row_has_all_fields() {
        for row in table() {
            assert!(!row.meaning.is_empty() && !row.prefixes.is_empty(), "{}", row.letters);
            assert!(row.series.chars().all(|c| "tcm".contains(c)), "{}", row.letters);
        }
    }
}
