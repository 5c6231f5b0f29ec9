//! What a lot, or an evening, comes to.

use crate::write::lot_key;
use crate::{DateCode, Ledger, LedgerError, Tester, Type, Verdict};
use jiff::Timestamp;
use rusqlite::{Connection, ToSql, params_from_iter};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};

/// Which insertions a report is about.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Selection {
    /// Of this lot only.
    pub lot: Option<String>,
    /// Not earlier.
    pub from: Option<Timestamp>,
    /// Earlier.
    pub until: Option<Timestamp>,
}

impl Selection {
    /// A whole lot.
    pub fn lot(name: &str) -> Self {
        Self { lot: Some(name.into()), ..Self::default() }
    }
}

/// Counts of verdicts, one for each chip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Good chips.
    pub go: u64,
    /// Bad chips.
    pub no_go: u64,
    /// Chips about which nothing could be said.
    pub not_decided: u64,
    /// Chips that were not powered.
    pub refused: u64,
    /// Chips lost to tester trouble.
    pub trouble: u64,
}

impl Counts {
    /// All chips.
    pub const fn total(&self) -> u64 {
        self.decided() + self.not_decided + self.refused + self.trouble
    }

    /// Chips of which it is known whether they are good: what a yield is computed from.
    pub const fn decided(&self) -> u64 {
        self.go + self.no_go
    }

    const fn add(&mut self, verdict: Verdict, chips: u64) {
        match verdict {
            Verdict::Go => self.go += chips,
            Verdict::NoGo => self.no_go += chips,
            Verdict::NotDecided => self.not_decided += chips,
            Verdict::Refused => self.refused += chips,
            Verdict::Trouble => self.trouble += chips,
        }
    }
}

/// The chips of one type.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TypeCounts {
    /// The type.
    #[serde(flatten)]
    pub chip: Type,
    /// How they ended.
    pub counts: Counts,
    /// The earliest and the latest week of making, of those that show one.
    pub made: Option<(DateCode, DateCode)>,
    /// The same of the good ones.
    pub good_made: Option<(DateCode, DateCode)>,
    /// When the first and the last of the good ones were checked.
    pub good_between: Option<(Timestamp, Timestamp)>,
}

/// How a pin failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Failure {
    /// It was low where it should have been high.
    StaysLow,
    /// It was high where it should have been low.
    StaysHigh,
    /// It drove where it should have been released.
    StillDrives,
    /// It was low at times and high at others, each where it should not.
    Wrong,
    /// It had no contact.
    Open,
}

/// How often a pin of a type failed in one way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PinCount {
    /// The type.
    #[serde(flatten)]
    pub chip: Type,
    /// The pin's number.
    pub pin: u8,
    /// Its name in the pin list.
    pub pin_name: String,
    /// How it failed.
    pub failure: Failure,
    /// On how many chips.
    pub chips: u64,
}

/// How many good chips of a type reached a speed grade.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SpeedCount {
    /// The type.
    #[serde(flatten)]
    pub chip: Type,
    /// The grade.
    pub speed_grade: String,
    /// How many chips.
    pub chips: u64,
}

/// How many chips a tester has decided on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TesterCount {
    /// The tester.
    #[serde(flatten)]
    pub tester: Tester,
    /// How many chips.
    pub chips: u64,
}

/// What the selected insertions come to. A chip counts once: with its last insertion that was not
/// undone.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LotReport {
    /// All insertions, those that do not count included.
    pub insertions: u64,
    /// Insertions that were undone.
    pub undone: u64,
    /// Insertions that a later one of the same chip replaces.
    pub replaced: u64,
    /// The time of the first insertion that counts.
    pub first: Option<Timestamp>,
    /// The time of the last.
    pub last: Option<Timestamp>,
    /// Counts by type, in the order of the names.
    pub types: Vec<TypeCounts>,
    /// Failing pins, the most frequent first.
    pub pins: Vec<PinCount>,
    /// Speed grades of good chips by type, the smallest number first.
    pub speeds: Vec<SpeedCount>,
    /// Testers, in the order of their names.
    pub testers: Vec<TesterCount>,
}

impl LotReport {
    /// Counts of all types together.
    pub fn chips(&self) -> Counts {
        self.types.iter().fold(Counts::default(), |sum, line| Counts {
            go: sum.go + line.counts.go,
            no_go: sum.no_go + line.counts.no_go,
            not_decided: sum.not_decided + line.counts.not_decided,
            refused: sum.refused + line.counts.refused,
            trouble: sum.trouble + line.counts.trouble,
        })
    }
}

/// A condition on the insertion `i`, and its values.
struct Condition {
    text: String,
    values: Vec<Box<dyn ToSql>>,
}

impl Condition {
    fn new(connection: &Connection, selection: &Selection) -> Result<Self, LedgerError> {
        let mut condition = Self { text: "1".into(), values: Vec::new() };
        if let Some(lot) = &selection.lot {
            condition.and("i.lot = ?", lot_key(connection, lot)?);
        }
        if let Some(from) = selection.from {
            condition.and("i.at_us >= ?", from.as_microsecond());
        }
        if let Some(until) = selection.until {
            condition.and("i.at_us < ?", until.as_microsecond());
        }
        Ok(condition)
    }

    fn and(&mut self, text: &str, value: i64) {
        self.text = format!("{} AND {text}", self.text);
        self.values.push(Box::new(value));
    }

    /// How many of the insertions that a query names meet the condition.
    fn count(&self, connection: &Connection, of: &str) -> Result<u64, LedgerError> {
        let select = format!(
            "SELECT count(*) FROM ({of}) AS named CROSS JOIN insertion AS i ON i.key = named.key
             WHERE {}",
            self.text
        );
        let count = connection
            .query_row(&select, params_from_iter(&self.values), |row| row.get::<_, i64>(0))?;
        Ok(count.cast_unsigned())
    }
}

/// Notes what does not count in a table of this connection's own. It is worked out once and then
/// looked up for each of a million insertions.
fn note_uncounted(connection: &Connection) -> Result<(), rusqlite::Error> {
    connection.execute_batch(
        "CREATE TEMP TABLE IF NOT EXISTS uncounted (key INTEGER PRIMARY KEY) STRICT;
         DELETE FROM temp.uncounted;
         INSERT INTO temp.uncounted SELECT insertion FROM undo UNION SELECT key FROM superseded;",
    )
}

/// The condition that an insertion `i` counts.
const COUNTED: &str = "i.key NOT IN (SELECT key FROM temp.uncounted)";

impl Ledger {
    /// What the selected insertions come to.
    pub fn report(&self, selection: &Selection) -> Result<LotReport, LedgerError> {
        // One consistent state for all queries; ends with its drop.
        let state = self.connection.unchecked_transaction()?;
        let condition = Condition::new(&state, selection)?;
        note_uncounted(&state)?;
        let mut report = LotReport {
            undone: condition.count(&state, "SELECT DISTINCT insertion AS key FROM undo")?,
            replaced: condition.count(&state, "SELECT key FROM superseded")?,
            ..LotReport::default()
        };
        let types = types(&state)?;
        count_chips(&state, &condition, &types, &mut report)?;
        // Nothing is both undone and replaced.
        report.insertions = report.chips().total() + report.undone + report.replaced;
        report.pins = pins(&state, &condition, &types)?;
        Ok(report)
    }
}

fn types(connection: &Connection) -> Result<HashMap<i64, Type>, LedgerError> {
    let mut statement = connection.prepare("SELECT key, name, part, family, package FROM type")?;
    let types = statement
        .query_map([], |row| {
            let chip = Type {
                name: row.get(1)?,
                part: row.get(2)?,
                family: row.get(3)?,
                package: row.get(4)?,
            };
            Ok((row.get(0)?, chip))
        })?
        .collect::<Result<_, _>>()?;
    Ok(types)
}

fn testers(connection: &Connection) -> Result<HashMap<i64, Tester>, LedgerError> {
    let mut statement = connection.prepare("SELECT key, name, nature, firmware FROM tester")?;
    let testers = statement
        .query_map([], |row| Ok((row.get(0)?, crate::read::tester(row, 1)?)))?
        .collect::<Result<_, _>>()?;
    Ok(testers)
}

fn count_chips(
    connection: &Connection,
    condition: &Condition,
    types: &HashMap<i64, Type>,
    report: &mut LotReport,
) -> Result<(), LedgerError> {
    // Grouped in the order of the index insertion_report, so nothing is sorted.
    let mut statement = connection.prepare(&format!(
        "SELECT i.type, i.verdict, i.speed_grade, i.date_code, i.tester,
             count(*), min(i.at_us), max(i.at_us)
         FROM insertion AS i WHERE {} AND {COUNTED}
         GROUP BY i.lot, i.type, i.verdict, i.speed_grade, i.date_code, i.tester",
        condition.text
    ))?;
    let mut by_type: BTreeMap<&Type, TypeCounts> = BTreeMap::new();
    let mut by_speed: BTreeMap<(&Type, u64, String), u64> = BTreeMap::new();
    let mut by_tester: BTreeMap<i64, u64> = BTreeMap::new();
    let mut rows = statement.query(params_from_iter(&condition.values))?;
    while let Some(row) = rows.next()? {
        let chip = &types[&row.get(0)?];
        let verdict: Verdict = crate::read::word(row, 1)?;
        let made = row.get::<_, Option<String>>(3)?.and_then(|code| code.parse().ok());
        let chips = row.get::<_, i64>(5)?.cast_unsigned();
        let (first, last) = (crate::read::time(row, 6)?, crate::read::time(row, 7)?);
        report.first = Some(report.first.map_or(first, |before| before.min(first)));
        report.last = Some(report.last.map_or(last, |before| before.max(last)));
        let line = by_type.entry(chip).or_insert_with(|| TypeCounts {
            chip: chip.clone(),
            counts: Counts::default(),
            made: None,
            good_made: None,
            good_between: None,
        });
        line.counts.add(verdict, chips);
        if let Some(week) = made {
            line.made = Some(around(line.made, week, week));
        }
        if verdict == Verdict::Go {
            line.good_between = Some(around(line.good_between, first, last));
            if let Some(week) = made {
                line.good_made = Some(around(line.good_made, week, week));
            }
        }
        if let (Verdict::Go, Some(grade)) = (verdict, row.get::<_, Option<String>>(2)?) {
            *by_speed.entry((chip, number_in(&grade), grade)).or_default() += chips;
        }
        *by_tester.entry(row.get(4)?).or_default() += chips;
    }
    report.types = by_type.into_values().collect();
    report.speeds = by_speed
        .into_iter()
        .map(|((chip, _, speed_grade), chips)| SpeedCount {
            chip: chip.clone(),
            speed_grade,
            chips,
        })
        .collect();
    let mut known = testers(connection)?;
    report.testers = by_tester
        .into_iter()
        .filter_map(|(key, chips)| Some(TesterCount { tester: known.remove(&key)?, chips }))
        .collect();
    report.testers.sort_by(|a, b| a.tester.cmp(&b.tester));
    Ok(())
}

/// The span that holds another one too.
fn around<T: Ord + Copy>(span: Option<(T, T)>, first: T, last: T) -> (T, T) {
    let (early, late) = span.unwrap_or((first, last));
    (early.min(first), late.max(last))
}

/// The first number in a grade, so that `70 ns` comes before `150 ns`.
fn number_in(grade: &str) -> u64 {
    grade
        .split(|c: char| !c.is_ascii_digit())
        .find(|digits| !digits.is_empty())
        .and_then(|digits| digits.parse().ok())
        .unwrap_or(u64::MAX)
}

fn pins(
    connection: &Connection,
    condition: &Condition,
    types: &HashMap<i64, Type>,
) -> Result<Vec<PinCount>, LedgerError> {
    // The cross join keeps the order: the insertions from their index, then their pins. Adding up
    // here spares sorting as many rows as there are failing pins.
    let mut statement = connection.prepare(&format!(
        "SELECT i.type, f.pin, f.name, f.low > 0, f.high > 0, f.held > 0
         FROM insertion AS i CROSS JOIN failing_pin AS f ON f.insertion = i.key
         WHERE {} AND i.verdict <> 'go' AND {COUNTED}",
        condition.text
    ))?;
    // By name last, so that only a new one is copied.
    let mut sums: HashMap<(i64, u8, Failure), Vec<(String, u64)>> = HashMap::new();
    let mut rows = statement.query(params_from_iter(&condition.values))?;
    while let Some(row) = rows.next()? {
        let failure = match (row.get(3)?, row.get(4)?, row.get(5)?) {
            (true, true, _) => Failure::Wrong,
            (true, false, _) => Failure::StaysLow,
            (false, true, _) => Failure::StaysHigh,
            (false, false, true) => Failure::StillDrives,
            (false, false, false) => Failure::Open,
        };
        let names = sums.entry((row.get(0)?, row.get(1)?, failure)).or_default();
        let name = row.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?;
        match names.iter_mut().find(|(known, _)| known == name) {
            Some((_, chips)) => *chips += 1,
            None => names.push((name.to_owned(), 1)),
        }
    }
    let mut pins: Vec<_> = sums
        .into_iter()
        .flat_map(|((chip, pin, failure), names)| {
            names.into_iter().map(move |(pin_name, chips)| PinCount {
                chip: types[&chip].clone(),
                pin,
                pin_name,
                failure,
                chips,
            })
        })
        .collect();
    pins.sort_by(|a, b| {
        (b.chips.cmp(&a.chips)).then_with(|| {
            let key =
                |pin: &PinCount| (pin.chip.clone(), pin.pin, pin.failure, pin.pin_name.clone());
            key(a).cmp(&key(b))
        })
    });
    Ok(pins)
}
