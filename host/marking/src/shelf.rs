//! The markings that the library can explain, to complete what is worn or being typed.

use crate::prefix;
use dipsift_language::{Family, Library, marking};
use std::cmp::Reverse;

/// A marking that the library can explain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entry {
    /// The marking, without a maker's prefix where the series is marked by all: `74LS00`.
    pub marking: String,
    /// How often its part is likely met: in how many families it was made and how many makers'
    /// markings are listed for it.
    pub common: usize,
    /// The place of its family, that of mixed salvage first (common practice).
    pub family: usize,
    /// `t`, `c` or `m`, as in the table of prefixes; `-` for a marking with a prefix of its own.
    pub series: char,
}

/// The families in the order in which mixed salvage has them (common practice).
const FAMILIES: [Family; 16] = [
    Family::Ls,
    Family::Standard,
    Family::Hc,
    Family::Hct,
    Family::S,
    Family::F,
    Family::Als,
    Family::B,
    Family::Ub,
    Family::As,
    Family::Ac,
    Family::Act,
    Family::H,
    Family::L,
    Family::C,
    Family::Nmos,
];

/// All markings that the library can explain.
pub(crate) fn entries(library: &Library) -> Vec<Entry> {
    let mut entries = Vec::new();
    let aliases: Vec<_> = library.aliases().iter().collect();
    for part in library.iter() {
        let makers = aliases.iter().filter(|alias| alias.part == part.number).count();
        let common = part.made.len() + makers;
        let mut add = |marking: String, family: usize, series: char| {
            entries.push(Entry { marking, common, family, series });
        };
        let bare = part.number.trim_end_matches("RAM").to_owned();
        let cmos = part.made.iter().any(|family| matches!(family, Family::B | Family::Ub));
        for &family in &part.made {
            let place =
                FAMILIES.iter().position(|known| *known == family).unwrap_or(FAMILIES.len());
            let marked = marking(&part.number, family);
            let series = if marked.starts_with("74") {
                't'
            } else if cmos {
                'c'
            } else {
                'm'
            };
            if let Some(rest) = marked.strip_prefix("74") {
                add(format!("54{rest}"), place + FAMILIES.len(), 't');
            }
            if part.number.ends_with("RAM") {
                add(bare.clone(), place, 'm');
            } else {
                add(marked, place, series);
            }
        }
        if cmos {
            add(bare, FAMILIES.len(), 'c');
        }
    }
    for alias in aliases {
        let makers = library.aliases().iter().filter(|other| other.part == alias.part).count();
        let made = library.part(&alias.part).map_or(0, |part| part.made.len());
        entries.push(Entry {
            marking: alias.marking.clone(),
            common: made + makers,
            family: FAMILIES.len() - 1,
            series: '-',
        });
    }
    entries.sort_by_key(|entry| {
        (Reverse(entry.common), entry.family, entry.marking.len(), entry.marking.clone())
    });
    let mut seen = std::collections::HashSet::new();
    entries.retain(|entry| seen.insert(entry.marking.clone()));
    entries
}

/// Characters of a marking that is being typed, at most.
const MOST_TYPED: usize = 24;

/// Completions of a marking that is being typed, `?` for a character that is worn: markings that
/// the library can explain, `most` at most. The parts made in the most families and listed with
/// the most makers' markings come first. A known maker's prefix in front is kept as typed.
pub fn complete(prefix: &str, library: &Library, most: usize) -> Vec<String> {
    let typed = prefix.trim().replace(['\u{b5}', '\u{3bc}'], "U").to_ascii_uppercase();
    if typed.is_empty() || typed.len() > MOST_TYPED || !typed.is_ascii() {
        return Vec::new();
    }
    let entries = entries(library);
    let mut found: Vec<String> = Vec::new();
    let mut add = |text: String| {
        if found.len() < most && !found.contains(&text) {
            found.push(text);
        }
    };
    for entry in entries.iter().filter(|entry| begins(&entry.marking, &typed)) {
        add(entry.marking.clone());
    }
    let letters = typed.find(|c: char| !c.is_ascii_uppercase()).unwrap_or(0);
    if let Some(known) = prefix::find(&typed[..letters]) {
        let rest = &typed[letters..];
        for entry in &entries {
            if known.series.contains(entry.series) && begins(&entry.marking, rest) {
                add(format!("{}{}", known.letters, entry.marking));
            }
        }
    }
    found
}

/// Whether a marking begins as typed, `?` standing for any character.
pub(crate) fn begins(marking: &str, typed: &str) -> bool {
    marking.len() >= typed.len()
        && marking.bytes().zip(typed.bytes()).all(|(c, typed)| typed == b'?' || c == typed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_completed() {
        let library = Library::builtin();
        let found = complete("74ls13", &library, 10);
        assert_eq!(found, ["74LS138", "74LS139"]);
        assert_eq!(complete("SN74LS13", &library, 10), ["SN74LS138", "SN74LS139"]);
        assert_eq!(complete("HM62", &library, 1).len(), 1);
        assert!(complete("HM62", &library, 10).contains(&"HM6264".to_owned()));
        assert!(complete("6?64", &library, 9).contains(&"6264".to_owned()));
        for nothing in ["", "é", "ZZZZ", &"7".repeat(100)] {
            assert!(complete(nothing, &library, 10).is_empty(), "{nothing}");
        }
        assert!(complete("74", &library, 0).is_empty());
        assert!(complete("74", &Library::empty(), 9).is_empty());
    }
}
