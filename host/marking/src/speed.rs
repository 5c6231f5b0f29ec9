//! Marks after the dash, decided for each part by its description.

use crate::reading::{Speed, SpeedKind};
use dipsift_language::Memory;

/// Makers' prefixes whose marks after the dash are temperature ranges (Intersil HM-65162 data
/// sheet, ordering information), with the ranges.
const TEMPERATURE_PREFIXES: [&str; 3] = ["HM", "HD", "IM"];
const TEMPERATURES: [(&str, &str); 4] = [
    ("2", "-55 to 125 °C"),
    ("5", "0 to 70 °C"),
    ("8", "-55 to 125 °C, processed to MIL-STD-883"),
    ("9", "-40 to 85 °C"),
];

/// What a mark means on a memory, with the letters in front of its number.
pub(crate) fn of_memory(memory: &Memory, prefix: &str, mark: &str) -> Vec<Speed> {
    let mut readings = memory.readings(mark);
    // A maker's own reading counts for its chips and no others; the usual one for all else.
    let elsewhere = readings.clone();
    if !prefix.is_empty() {
        let own = readings.iter().any(|(maker, _)| *maker == Some(prefix));
        readings.retain(|(maker, _)| {
            // D alone is a package or short for UPD: both are told.
            prefix == "D" && *maker == Some("UPD")
                || if own { *maker == Some(prefix) } else { maker.is_none() }
        });
    }
    if readings.is_empty() && !mark.is_empty() {
        let speed = time(memory, mark).or_else(|| temperature(prefix, mark));
        return vec![speed.unwrap_or_else(|| not_of_the_part(memory, prefix, mark, &elsewhere))];
    }
    let many = readings.iter().any(|(_, ns)| *ns != readings[0].1);
    if !many {
        readings.truncate(1);
    }
    let speeds = readings.iter().map(|(maker, ns)| {
        let kind = kind(mark, *ns);
        let depends = if many { maker.map(str::to_owned) } else { None };
        let mut words = match kind {
            SpeedKind::Unmarked => format!("no mark: {ns} ns"),
            SpeedKind::Nanoseconds => format!("-{mark}: {ns} ns"),
            SpeedKind::TensOfNanoseconds => format!("-{mark}: {ns} ns, marked in tens"),
            _ => format!("-{mark}: grade of {ns} ns"),
        };
        if let Some(maker) = &depends {
            words += &format!(", with the prefix {maker}");
        } else if many {
            words += ", with other prefixes";
        }
        let (mark, access_ns) = (mark.to_owned(), Some(*ns));
        Speed { mark, grade: None, kind, access_ns, prefix: depends, words }
    });
    speeds.collect()
}

/// A mark that is the time itself of one of the part's grades, marked otherwise there: `27C256-150`
/// beside `27256-15`.
fn time(memory: &Memory, mark: &str) -> Option<Speed> {
    let number: u32 = mark.parse().ok().filter(|_| mark.len() >= 2)?;
    let usual = |mark: &str| {
        memory.readings(mark).into_iter().find_map(|(maker, ns)| maker.is_none().then_some(ns))
    };
    let marks: Vec<&str> = memory.marks().into_iter().chain([""]).collect();
    let of = |wanted: u32| marks.iter().find(|mark| usual(mark) == Some(wanted));
    let (grade, None) = (of(number)?, number.checked_mul(10).and_then(of)) else { return None };
    Some(Speed {
        mark: mark.to_owned(),
        grade: Some((*grade).to_owned()),
        kind: SpeedKind::Nanoseconds,
        access_ns: Some(number),
        prefix: None,
        words: format!("-{mark}: {number} ns"),
    })
}

/// A mark that the part is not described with, at least not for this prefix.
fn not_of_the_part(
    memory: &Memory,
    prefix: &str,
    mark: &str,
    elsewhere: &[(Option<&str>, u32)],
) -> Speed {
    let others: Vec<String> = elsewhere
        .iter()
        .filter_map(|(maker, ns)| Some(format!("{ns} ns with the prefix {}", (*maker)?)))
        .collect();
    if !others.is_empty() {
        let others = others.join(", ");
        return unknown(mark, &format!("not recorded for the prefix {prefix}; {others}"));
    }
    let usual = |mark: &&str| memory.readings(mark).iter().any(|(maker, _)| maker.is_none());
    let marks = memory.marks();
    let known: Vec<String> =
        marks.iter().filter(|mark| usual(mark)).map(|m| format!("-{m}")).collect();
    let known = match known[..] {
        [] => "it has no marked grades".to_owned(),
        _ => format!("its marks are {}", known.join(" ")),
    };
    unknown(mark, &format!("not a mark of the part as described: {known}"))
}

/// What a mark means on a part that is not described, or that has no grades.
pub(crate) fn of_unknown(prefix: &str, mark: &str) -> Vec<Speed> {
    let speed = temperature(prefix, mark).unwrap_or_else(|| {
        let words = match mark.parse::<u32>() {
            Ok(ns) if mark.len() == 2 => {
                format!("not decided without the part: {ns} ns or {} ns", ns * 10)
            }
            _ => "not decided without the part".to_owned(),
        };
        unknown(mark, &words)
    });
    vec![speed]
}

fn unknown(mark: &str, words: &str) -> Speed {
    Speed {
        mark: mark.to_owned(),
        grade: None,
        kind: SpeedKind::Unknown,
        access_ns: None,
        prefix: None,
        words: format!("-{mark}: {words}"),
    }
}

fn temperature(prefix: &str, mark: &str) -> Option<Speed> {
    if !TEMPERATURE_PREFIXES.contains(&prefix) {
        return None;
    }
    let (_, range) = TEMPERATURES.iter().find(|(known, _)| *known == mark)?;
    Some(Speed {
        mark: mark.to_owned(),
        grade: None,
        kind: SpeedKind::Temperature,
        access_ns: None,
        prefix: Some(prefix.to_owned()),
        words: format!(
            "-{mark}: no speed but a temperature range, {range}, with the prefix {prefix}"
        ),
    })
}

/// How a mark came to stand for a time: as itself, in tens, or as the number of a grade.
fn kind(mark: &str, ns: u32) -> SpeedKind {
    match mark.parse::<u32>() {
        _ if mark.is_empty() => SpeedKind::Unmarked,
        Ok(number) if number == ns => SpeedKind::Nanoseconds,
        Ok(number) if number.checked_mul(10) == Some(ns) => SpeedKind::TensOfNanoseconds,
        _ => SpeedKind::Grade,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dipsift_language::Library;

    fn speeds(part: &str, prefix: &str, mark: &str) -> Vec<(SpeedKind, Option<u32>)> {
        let library = Library::builtin();
        let memory = library.part(part).unwrap().memory.clone().unwrap();
        let speeds = of_memory(&memory, prefix, mark);
        speeds.into_iter().map(|speed| (speed.kind, speed.access_ns)).collect()
    }

    #[test]
    fn each_part_decides() {
        assert_eq!(speeds("4164", "TMS", "15"), [(SpeedKind::TensOfNanoseconds, Some(150))]);
        assert_eq!(speeds("4164", "HM", "2"), [(SpeedKind::Grade, Some(150))]);
        assert_eq!(speeds("62256", "HM", "70"), [(SpeedKind::Nanoseconds, Some(70))]);
        assert_eq!(speeds("6514", "HM", "9"), [(SpeedKind::Temperature, None)]);
        assert_eq!(speeds("2716", "D", ""), [(SpeedKind::Unmarked, Some(450))]);
        assert_eq!(speeds("2716", "D", "77"), [(SpeedKind::Unknown, None)]);
        assert_eq!(speeds("27256", "AM", "150"), [(SpeedKind::Nanoseconds, Some(150))]);
        assert_eq!(speeds("2147", "MBM", "55"), [(SpeedKind::Nanoseconds, Some(55))]);
        assert_eq!(speeds("27256", "AM", "155"), [(SpeedKind::Unknown, None)]);
    }

    #[test]
    fn without_a_prefix_makers_who_differ_are_listed() {
        let both = [(SpeedKind::Grade, Some(200)), (SpeedKind::Grade, Some(250))];
        assert_eq!(speeds("2114", "", "2"), both);
        assert_eq!(speeds("2114", "UPD", "2"), both[1..]);
        assert_eq!(speeds("2114", "MCM", "2"), both[..1]);
        assert_eq!(speeds("2114", "D", "2"), both);
        // NEC alone marks 64 kbit chips -2 so that it is 200 ns; a prefix without a line says none.
        assert_eq!(speeds("4164", "UPD", "2"), [(SpeedKind::Grade, Some(200))]);
        assert_eq!(speeds("4164", "MSM", "2"), [(SpeedKind::Unknown, None)]);
    }
}
