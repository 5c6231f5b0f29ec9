//! Letters in front of a number.

use crate::table::rows;

/// Letters in front of a number.
pub(crate) struct Prefix {
    /// The letters.
    pub letters: &'static str,
    /// The series marked so: `t` 54/74, `c` 4000, `m` memories.
    pub series: &'static str,
    /// Whether chips of several makers carry them.
    pub shared: bool,
}

/// All prefixes that are known.
pub(crate) fn all() -> impl Iterator<Item = Prefix> {
    rows(include_str!("../tables/prefixes.txt")).map(|[letters, series, shared, _]| Prefix {
        letters,
        series,
        shared: !shared.is_empty(),
    })
}

/// The prefix with these letters.
pub(crate) fn find(letters: &str) -> Option<Prefix> {
    all().find(|prefix| prefix.letters == letters)
}

/// Whether a series is marked with these letters; with none it is.
pub(crate) fn marks(letters: &str, series: char) -> bool {
    letters.is_empty() || find(letters).is_some_and(|prefix| prefix.series.contains(series))
}

/// The known prefixes that worn letters can be.
pub(crate) fn fitting(worn: &str, series: char) -> Vec<&'static str> {
    let fits = |letters: &str| {
        letters.len() == worn.len()
            && worn.bytes().zip(letters.bytes()).all(|(c, letter)| c == b'?' || c == letter)
    };
    let known = all().filter(|prefix| prefix.series.contains(series));
    known.map(|prefix| prefix.letters).filter(|letters| fits(letters)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_prefix_stands_once_and_has_series_and_source() {
        let table = include_str!("../tables/prefixes.txt");
        let mut known: Vec<&str> = Vec::new();
        for [letters, series, shared, source] in rows(table) {
            assert!(!known.contains(&letters), "{letters}");
            assert!(!series.is_empty() && series.chars().all(|c| "tcm".contains(c)), "{letters}");
            assert!(matches!(shared, "" | "shared") && !source.is_empty(), "{letters}");
            known.push(letters);
        }
        let lines = table.lines().filter(|line| !line.starts_with('#')).count();
        assert_eq!(known.len(), lines);
    }

    #[test]
    fn worn_prefixes() {
        assert_eq!(fitting("?N", 't'), ["SN", "ZN"]);
        assert!(fitting("?N", 'x').is_empty());
        assert!(marks("", 't') && marks("SN", 't') && !marks("SN", 'c') && !marks("XX", 't'));
    }
}
