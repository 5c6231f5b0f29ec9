//! How figures and dates are written.

use dipsift_ledger::{DateCode, Type};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A share from 0 to 1 in per cent: whole ones in the middle, with a digit near the ends, where
/// it matters and where 100 would say too much.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if share == 0.0 || share == 1.0 || (10.0..90.0).contains(&percent) {
        format!("{percent:.0} %")
    } else if percent < 90.0 {
        format!("{percent:.1} %")
    } else {
        // Cut, not rounded: 99.96 is not 100.
        format!("{} %", (percent * 10.0).floor() / 10.0)
    }
}

/// An interval of shares in per cent, its ends rounded outwards.
pub fn interval(lower: f64, upper: f64) -> String {
    // What is a rounding error away from a tenth is that tenth.
    const SLACK: f64 = 1e-9;
    let tenths = |share: f64| share * 1000.0;
    let lower = (tenths(lower) + SLACK).floor() / 10.0;
    let upper = (tenths(upper) - SLACK).ceil() / 10.0;
    format!("{lower} to {upper} %")
}

/// A count with its noun.
pub fn count(number: u64, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

/// The day of a moment where the bench stands.
pub fn day(at: Timestamp, zone: &TimeZone) -> Date {
    zone.to_datetime(at).date()
}

/// The moment to the minute where the bench stands: `2026-11-25 19:04`.
pub fn minute(at: Timestamp, zone: &TimeZone) -> String {
    zone.to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string()
}

/// One day, or the first and the last.
pub fn days(first: Date, last: Date) -> String {
    if first == last { first.to_string() } else { format!("{first} to {last}") }
}

/// The weeks of making.
pub fn made(weeks: Option<(DateCode, DateCode)>) -> String {
    match weeks {
        None => String::new(),
        Some((first, last)) if first == last => first.to_string(),
        // `1984-W10 to W29`
        Some((first, last)) if first.year() == last.year() => {
            format!("{first} to W{:02}", last.week())
        }
        Some((first, last)) => format!("{first} to {last}"),
    }
}

/// A type with its package, as it stands beside a bar.
pub fn type_name(chip: &Type) -> String {
    format!("{} {}", chip.name, chip.package).trim_end().to_owned()
}

/// So many characters of a text at most, its end marked where it is cut.
pub fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_say_neither_too_much_nor_too_little() {
        for (share, words) in [
            (0.0, "0 %"),
            (1.0, "100 %"),
            (0.9996, "99.9 %"),
            (0.004, "0.4 %"),
            (0.5, "50 %"),
            (0.934, "93.4 %"),
            (0.9, "90 %"),
        ] {
            assert_eq!(percent(share), words);
        }
    }

    #[test]
    fn an_interval_holds_what_it_rounds() {
        assert_eq!(interval(0.0, 1.0), "0 to 100 %");
        assert_eq!(interval(0.1, 0.7), "10 to 70 %");
        // SciPy, documentation of `BinomTestResult.proportion_ci`: 7 of 50 at 95 %.
        assert_eq!(interval(0.058_191_7, 0.267_396_0), "5.8 to 26.8 %");
    }

    #[test]
    fn weeks_of_one_year_name_it_once() {
        let week = DateCode::new;
        assert_eq!(made(None), "");
        assert_eq!(made(week(1984, 9).zip(week(1984, 9))), "1984-W09");
        assert_eq!(made(week(1984, 9).zip(week(1984, 31))), "1984-W09 to W31");
        assert_eq!(made(week(1984, 9).zip(week(1985, 2))), "1984-W09 to 1985-W02");
    }

    #[test]
    fn a_day_is_that_of_the_bench() {
        let at = "2026-11-25T23:30:00Z".parse().unwrap();
        let east = TimeZone::fixed(jiff::tz::offset(1));
        assert_eq!(day(at, &TimeZone::UTC).to_string(), "2026-11-25");
        assert_eq!(minute(at, &east), "2026-11-26 00:30");
    }

    #[test]
    fn a_long_text_is_cut_visibly() {
        assert_eq!(cut("quad", 4), "quad");
        assert_eq!(cut("quad gate", 6), "quad\u{2026}");
    }
}
