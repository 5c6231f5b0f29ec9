//! Date codes.
//!
//! Four digits, the last two of the year and then the week, are the rule of MIL-PRF-38535,
//! appendix A.3.6.3.2, which most makers follow, with a letter behind it for lots of one code. The
//! other forms are from memory.

use serde::Serialize;

/// The first year of which chips with date codes are met (from memory).
const FIRST_YEAR: u16 = 1964;

/// A week of a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Week {
    /// The year, in full.
    pub year: u16,
    /// The week, 1 to 53.
    pub week: u8,
}

/// The form of a date code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DateForm {
    /// Two digits of the year, two of the week.
    YearWeek,
    /// Two digits of the week, two of the year; rare.
    WeekYear,
    /// Two digits of the year, two of the month; rare.
    YearMonth,
    /// The last digit of the year, two digits of the week.
    DigitWeek,
}

/// A meaning of a date code.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DateCode {
    /// As marked: `7825`, `8412A`.
    pub text: String,
    /// Its form.
    pub form: DateForm,
    /// The year in full; `None` where a digit is worn or only the last digit is marked.
    pub year: Option<u16>,
    /// The week, where the form has one and it is legible.
    pub week: Option<u8>,
    /// The month, where the form has one.
    pub month: Option<u8>,
    /// The letter that tells lots of one code apart.
    pub lot: Option<String>,
    /// Whether it is a rarer meaning of a code that has a usual one.
    pub rare: bool,
}

impl DateCode {
    /// It in words: `week 25 of 1978`.
    pub fn words(&self) -> String {
        let year = match (self.year, self.form) {
            (Some(year), _) => format!("of {year}"),
            (None, DateForm::DigitWeek) => {
                format!("of a year that ends in {}", self.text.chars().next().unwrap_or('?'))
            }
            (None, _) => "of a year that is not legible".to_owned(),
        };
        let mut words = match (self.week, self.month) {
            (Some(week), _) => format!("week {week} {year}"),
            (None, Some(month)) => {
                format!("{} {year}", MONTHS.get(usize::from(month) - 1).unwrap_or(&""))
            }
            (None, None) => format!("a week {year}"),
        };
        if let Some(lot) = &self.lot {
            words += &format!(", lot {lot} of that week");
        }
        words
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// The year in full of its last two digits, as late as `today` at most.
fn year(digits: u16, today: Week) -> Option<u16> {
    let year = if digits >= FIRST_YEAR % 100 { 1900 + digits } else { 2000 + digits };
    (year <= today.year).then_some(year)
}

/// The meanings of a date code, the usual one first; none where it is not a date.
pub(crate) fn read(token: &str, today: Week) -> Vec<DateCode> {
    let end = token.find(|c: char| !c.is_ascii_digit() && c != '?').unwrap_or(token.len());
    let (digits, lot) = token.split_at(end);
    if lot.len() > 1 || !lot.bytes().all(|c| c.is_ascii_uppercase()) {
        return Vec::new();
    }
    let code = |form, year, week, month, rare| DateCode {
        text: token.to_owned(),
        form,
        year,
        week,
        month,
        lot: (!lot.is_empty()).then(|| lot.to_owned()),
        rare,
    };
    let number = |text: &str| text.parse::<u16>().ok();
    match digits.len() {
        3 if lot.is_empty() && !digits.contains('?') => {
            let week = number(&digits[1..]).filter(|week| (1..=53).contains(week));
            let week = week.map(|week| week as u8);
            week.map(|week| code(DateForm::DigitWeek, None, Some(week), None, false))
                .into_iter()
                .collect()
        }
        4 if digits.contains('?') => worn(digits, today)
            .map(|(year, week)| code(DateForm::YearWeek, year, week, None, false))
            .into_iter()
            .collect(),
        4 => {
            let (Some(first), Some(second)) = (number(&digits[..2]), number(&digits[2..])) else {
                return Vec::new();
            };
            let mut codes = Vec::new();
            let mut add = |form, of: u16, part: u16, most: u16| {
                let Some(year) = year(of, today).filter(|_| (1..=most).contains(&part)) else {
                    return;
                };
                let part = part as u8;
                // A month is compared by its first week.
                let week = if form == DateForm::YearMonth { part * 4 } else { part };
                if (Week { year, week }) > today {
                    return;
                }
                let (week, month) = match form {
                    DateForm::YearMonth => (None, Some(part)),
                    _ => (Some(part), None),
                };
                codes.push(code(form, Some(year), week, month, !codes.is_empty()));
            };
            add(DateForm::YearWeek, first, second, 53);
            add(DateForm::WeekYear, second, first, 53);
            add(DateForm::YearMonth, first, second, 12);
            codes
        }
        _ => Vec::new(),
    }
}

/// A code with worn digits: what is left of year and week; `None` where too little is left.
fn worn(digits: &str, today: Week) -> Option<(Option<u16>, Option<u8>)> {
    if digits.bytes().filter(|c| *c == b'?').count() > 2 {
        return None;
    }
    let (first, second) = digits.split_at(2);
    let year = match first.parse() {
        Ok(digits) => Some(year(digits, today)?),
        Err(_) => None,
    };
    let week = match second.parse::<u8>() {
        Ok(week) if (1..=53).contains(&week) => Some(week),
        Ok(_) => return None,
        Err(_) if second.as_bytes()[0] > b'5' && second.as_bytes()[0] != b'?' => return None,
        Err(_) => None,
    };
    Some((year, week))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TODAY: Week = Week { year: 2026, week: 47 };

    fn words(token: &str) -> Vec<String> {
        read(token, TODAY).iter().map(DateCode::words).collect()
    }

    /// The form of MIL-PRF-38535, A.3.6.3.2; limits of the calendar.
    #[test]
    fn year_and_week() {
        assert_eq!(words("7825"), ["week 25 of 1978"]);
        assert_eq!(words("9153"), ["week 53 of 1991"]);
        assert_eq!(words("8425B"), ["week 25 of 1984, lot B of that week"]);
        assert_eq!(words("6401")[0], "week 1 of 1964");
        for no in ["7800", "7854", "6352", "782", "78255", "7825AB", "", "????", "2748"] {
            assert!(words(no).is_empty(), "{no}");
        }
    }

    #[test]
    fn nothing_is_made_after_today() {
        assert_eq!(words("2647")[0], "week 47 of 2026");
        assert!(words("2648").is_empty());
    }

    #[test]
    fn rarer_forms_come_after_the_usual_one() {
        assert_eq!(words("8205"), ["week 5 of 1982", "May of 1982"]);
        assert_eq!(words("3785"), ["week 37 of 1985"]);
        assert_eq!(words("1285"), ["week 12 of 1985"]);
        assert_eq!(words("825"), ["week 25 of a year that ends in 8"]);
        assert!(read("8205", TODAY)[1].rare && !read("3785", TODAY)[0].rare);
    }

    #[test]
    fn worn_digits() {
        assert_eq!(words("78?5"), ["a week of 1978"]);
        assert_eq!(words("7?25"), ["week 25 of a year that is not legible"]);
        assert!(words("78?").is_empty() && words("7???").is_empty() && words("787?").is_empty());
    }
}
