//! The typed markings: right, ambiguous, wrong.

use dipsift_language::Library;
use dipsift_marking::{Decoded, Reading, SpeedKind, Week, read_as_of};

const TABLE: &str = include_str!("markings.txt");

/// The day of the table.
const TODAY: Week = Week { year: 2026, week: 47 };

struct Row {
    marking: &'static str,
    fields: Vec<&'static str>,
    also: Vec<&'static str>,
    ambiguous: bool,
}

fn rows() -> Vec<Row> {
    let lines = TABLE.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    let row = |line: &'static str| {
        let fields: Vec<&str> = line.split('|').map(str::trim).collect();
        let [marking, expected, verdict, source] = fields[..] else {
            panic!("four fields: {line}");
        };
        assert!(!source.is_empty(), "{line}");
        let ambiguous = match verdict {
            "sure" => false,
            "ambiguous" => true,
            _ => panic!("no verdict: {line}"),
        };
        let (also, mut fields): (Vec<&str>, Vec<&str>) =
            expected.split_whitespace().partition(|field| field.starts_with("also:"));
        fields.sort_unstable();
        let also = also.into_iter().map(|field| &field["also:".len()..]).collect();
        Row { marking, fields, also, ambiguous }
    };
    lines.map(row).collect()
}

/// The fields of a reading in the words of the table.
fn fields(reading: &Reading) -> Vec<String> {
    let mut fields = Vec::new();
    let mut add = |key: &str, value: Option<&str>| {
        if let Some(value) = value {
            fields.push(format!("{key}:{value}"));
        }
    };
    add("p", reading.prefix.as_deref());
    let known = if reading.title.is_some() { "" } else { "~" };
    let number =
        reading.number.as_ref().map_or("-".to_owned(), |number| format!("{known}{number}"));
    add("n", Some(&number));
    add("t", reading.temperature.as_ref().map(|temperature| temperature.prefix.as_str()));
    add("f", reading.family.as_deref());
    add("r", reading.revision.as_deref());
    add("k", reading.package.as_ref().map(|package| package.letters.as_str()));
    if let Some(speed) = reading.speeds.first() {
        let mark = if speed.mark.is_empty() { "none" } else { &speed.mark };
        let time = match (speed.kind, speed.access_ns) {
            (SpeedKind::Temperature, _) => "temp".to_owned(),
            (_, Some(ns)) => ns.to_string(),
            (_, None) => "?".to_owned(),
        };
        add("s", Some(&format!("{mark}={time}")));
    }
    for code in reading.date_codes.iter().filter(|code| !code.rare) {
        let year = code.year.map_or("?".to_owned(), |year| year.to_string());
        let week = code.week.map_or("?".to_owned(), |week| week.to_string());
        add("d", Some(&format!("{year}-{week}")));
    }
    for military in &reading.military {
        add("m", Some(&military.mark));
    }
    fields.sort_unstable();
    fields
}

/// Whether something is told to be possible as well.
fn told(decoded: &Decoded, also: &str) -> bool {
    decoded
        .readings
        .iter()
        .skip(1)
        .any(|reading| reading.marking.contains(also) || reading.number.as_deref() == Some(also))
        || decoded.readings.iter().any(|reading| {
            reading.could_be.iter().any(|text| text.contains(also))
                || reading.speeds.iter().any(|speed| speed.words.contains(also))
        })
}

#[test]
fn the_typed_markings() {
    let library = Library::builtin();
    let (mut right, mut ambiguous, mut wrong) = (0, 0, Vec::new());
    for row in rows() {
        let decoded = read_as_of(row.marking, &library, TODAY);
        let found = decoded.readings.first().map(fields).unwrap_or_default();
        let unsaid: Vec<&&str> = row.also.iter().filter(|also| !told(&decoded, also)).collect();
        if found != row.fields || !unsaid.is_empty() || decoded.is_ambiguous() != row.ambiguous {
            wrong.push(format!(
                "{}: expected {:?} {}, found {found:?} ambiguous {} unsaid {unsaid:?}",
                row.marking,
                row.fields,
                if row.ambiguous { "ambiguous" } else { "sure" },
                decoded.is_ambiguous(),
            ));
        } else if row.ambiguous {
            ambiguous += 1;
        } else {
            right += 1;
        }
    }
    println!("markings: {right} right, {ambiguous} ambiguous and told so, {} wrong", wrong.len());
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
    assert!(right + ambiguous >= 200);
}

#[test]
fn no_marking_stands_twice() {
    let rows = rows();
    for (at, row) in rows.iter().enumerate() {
        let twice = rows[..at].iter().any(|other| other.marking == row.marking);
        assert!(!twice, "{}", row.marking);
    }
}
