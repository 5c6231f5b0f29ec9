//! Memories against a table typed from outside the descriptions: pins, organisation, supplies,
//! refresh; and what must hold of any memory's times.

use dipsift_bench::Placement;
use dipsift_bench::fixture::SUPPLIES;
use dipsift_language::{Library, Memory, PackageKind, Part, Role};
use dipsift_simulator::Fixture;
use dipsift_tests::Check;
use dipsift_tests::bench::{part, usual_family, usual_package};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A line of `reference/memories.txt`.
struct Row {
    part: String,
    pins: usize,
    words: u32,
    bits: u32,
    fed: Vec<u8>,
    ground: Vec<u8>,
    refresh: Option<(u32, u32)>,
}

fn rows() -> Result<Vec<Row>, String> {
    let text = include_str!("../reference/memories.txt");
    let lines = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
    lines.map(|line| row(line).ok_or(format!("memories.txt: {line}"))).collect()
}

fn row(line: &str) -> Option<Row> {
    let fields: Vec<&str> = line.split('|').map(str::trim).collect();
    let [part, pins, size, fed, ground, refresh, source] = fields[..] else { return None };
    let (words, bits) = size.split_once(" x ")?;
    let list = |text: &str| text.split_whitespace().map(str::parse).collect::<Result<_, _>>().ok();
    let refresh = match refresh {
        "-" => None,
        other => {
            let (rows, milli) = other.split_once(" / ")?;
            Some((rows.parse().ok()?, milli.parse::<u32>().ok()? * 1000))
        }
    };
    let row = Row {
        part: part.to_owned(),
        pins: pins.parse().ok()?,
        words: words.parse().ok()?,
        bits: bits.parse().ok()?,
        fed: list(fed)?,
        ground: list(ground)?,
        refresh,
    };
    (!source.is_empty()).then_some(row)
}

fn memory(part: &Part) -> Result<&Memory, String> {
    part.memory.as_ref().ok_or(format!("{}: no memory", part.number))
}

/// The memories of the library.
fn memories() -> Vec<Arc<Part>> {
    Library::builtin().iter().filter(|part| part.memory.is_some()).cloned().collect()
}

fn numbers(part: &Part, wanted: impl Fn(Role) -> bool) -> Result<Vec<u8>, String> {
    let package = usual_package(part)?;
    let all = 1..=package.pins.len() as u8;
    Ok(all
        .filter(|&number| package.at(number).is_some_and(|id| wanted(part.pin(id).role)))
        .collect())
}

#[test]
fn every_memory_is_in_the_table_once() -> Check {
    let typed: Vec<String> = rows()?.into_iter().map(|row| row.part).collect();
    let set: BTreeSet<&str> = typed.iter().map(String::as_str).collect();
    let memories = memories();
    let known: BTreeSet<&str> = memories.iter().map(|part| part.number.as_str()).collect();
    assert_eq!(set, known);
    assert_eq!(set.len(), typed.len());
    Ok(())
}

#[test]
fn pins_organisation_supplies_and_refresh() -> Check {
    for row in rows()? {
        let part = part(&row.part)?;
        let memory = memory(&part)?;
        let fed = numbers(&part, |role| matches!(role, Role::Supply | Role::Fed))?;
        let ground = numbers(&part, |role| role == Role::Ground)?;
        let ours = (usual_package(&part)?.pins.len(), memory.words, memory.bits);
        assert_eq!(ours, (row.pins, row.words, row.bits), "{}", row.part);
        assert_eq!((fed, ground), (row.fed, row.ground), "{}", row.part);
        assert_eq!(memory.refresh, row.refresh, "{}", row.part);
        assert_eq!(memory.strobes.is_empty(), memory.column.is_empty(), "{}", row.part);
    }
    Ok(())
}

/// Words follow from the address pins, and the rows to refresh from those at the row strobe.
#[test]
fn address_pins_reach_each_word_once() -> Check {
    for part in memories() {
        let memory = memory(&part)?;
        let distinct: BTreeSet<_> = memory.address.iter().collect();
        assert_eq!(distinct.len(), memory.address.len(), "{}", part.number);
        let bits = memory.address.len() + memory.column.len() - usize::from(memory.half.is_some());
        assert_eq!(1_u32 << bits, memory.words, "{}", part.number);
        assert_eq!(memory.data_out.len(), memory.bits as usize, "{}", part.number);
        if let (Some((rows, _)), false) = (memory.refresh, memory.strobes.is_empty()) {
            assert!(rows <= 1 << memory.address.len(), "{}", part.number);
        }
        // A dynamic memory says how it is refreshed and started, unless it is never powered.
        let dynamic = !memory.strobes.is_empty() && part.foreign_supplies().next().is_none();
        let ready = memory.startup.is_some() && memory.refresh.is_some();
        assert!(ready || !dynamic, "{}", part.number);
    }
    Ok(())
}

/// A slower grade has no shorter time, and a time after the select is no longer than a cycle.
#[test]
fn times_grow_with_the_access_time() -> Check {
    let mut compared = 0;
    for part in memories() {
        let memory = memory(&part)?;
        if part.foreign_supplies().next().is_some() {
            continue;
        }
        assert!(!memory.grades.is_empty() && !memory.times.is_empty(), "{}", part.number);
        for time in &memory.times {
            let accesses = memory.grades.iter().map(|(_, access)| *access);
            let mut pairs: Vec<(u32, u32)> = accesses.zip(time.ns.iter().copied()).collect();
            pairs.sort_unstable();
            for two in pairs.windows(2) {
                let grows = two[0].1 <= two[1].1 && (two[0].0 < two[1].0 || two[0].1 == two[1].1);
                assert!(grows, "{} {}: {two:?}", part.number, time.moment.word());
                compared += 1;
            }
            let word = time.moment.word();
            if matches!(word, "enable" | "column" | "release" | "hold") {
                let short = pairs.iter().all(|(access, ns)| ns <= access);
                assert!(short, "{} {word} is longer than the access time", part.number);
            }
        }
    }
    assert!(compared > 1000, "{compared}");
    Ok(())
}

/// A mark of two figures is tens of nanoseconds, of three nanoseconds, where a maker says nothing
/// else: common practice from the 64K dynamic RAM on (TMS4164-15 is 150 ns). Static RAMs from 55 ns
/// on and 1M types are marked in nanoseconds (HM62256-55, HM511000-70 and the like).
#[test]
fn marks_of_two_and_three_figures_are_times() -> Check {
    for part in memories() {
        let memory = memory(&part)?;
        if part.foreign_supplies().next().is_some() {
            continue;
        }
        for (mark, access) in &memory.grades {
            let Ok(figures) = mark.parse::<u32>() else { continue };
            let right = match mark.len() {
                2 => *access == figures || *access == figures * 10,
                3 => *access == figures,
                _ => true,
            };
            assert!(right, "{}-{mark} is {access} ns", part.number);
        }
    }
    Ok(())
}

/// What single figures mean, common practice: HM6116-4 200 ns, 4118-4 250 ns, 2114-2 200 ns, and
/// for NEC 250 ns (electrelic.com, node 41).
#[test]
fn single_figures_are_grade_numbers() -> Check {
    for (number, prefix, mark, expected) in [
        ("6116", Some("HM"), "4", Some(200)),
        ("6116", Some("HM"), "2", Some(120)),
        ("6116", Some("HT"), "4", None),
        ("6116", None, "70", Some(70)),
        ("4118", None, "4", Some(250)),
        ("2114", Some("P"), "2", Some(200)),
        ("2114", Some("UPD"), "2", Some(250)),
        ("2114", None, "2", None),
        ("6264", None, "12", Some(120)),
        ("6264", None, "15", Some(150)),
        ("4164", None, "10", Some(100)),
        ("41256", None, "12", Some(120)),
        ("4164", Some("HM"), "3", Some(200)),
        ("4164", Some("UPD"), "3", Some(150)),
        ("4164", None, "3", None),
    ] {
        let part = part(number)?;
        assert_eq!(memory(&part)?.access_ns(prefix, mark), expected, "{prefix:?} {number}-{mark}");
    }
    Ok(())
}

/// Each memory of one supply has its seat, and the table of supply pins knows its feeding.
#[test]
fn every_memory_of_one_supply_can_be_seated() -> Check {
    let capabilities = Fixture::default().capabilities();
    for part in memories() {
        let package = usual_package(&part)?;
        let placed = Placement::find(&part, package, &capabilities);
        if part.foreign_supplies().next().is_some() {
            continue;
        }
        placed.map_err(|error| format!("{}: {error}", part.number))?;
        let fed = numbers(&part, |role| matches!(role, Role::Supply | Role::Fed))?;
        let ground = numbers(&part, |role| role == Role::Ground)?;
        let known = SUPPLIES.iter().any(|row| {
            usize::from(row.pins) == package.pins.len() && row.feed == fed && row.ground == ground
        });
        assert!(known, "{}", part.number);
    }
    Ok(())
}

/// Makers' families of memories that share a pinout: swapped pins in one of them would show.
#[test]
fn types_of_one_pinout_agree_pin_by_pin() -> Check {
    // Compatible by their makers' data sheets, from memory; address pins may be named differently.
    for (one, other) in [("2114", "2148"), ("2016", "6116"), ("2764", "27128"), ("27256", "27512")]
    {
        let (one, other) = (part(one)?, part(other)?);
        let (first, second) = (usual_package(&one)?, usual_package(&other)?);
        let names = |part: &Part, number| {
            let package = part.package(PackageKind::Dip, usual_family(part).ok()?)?;
            Some(part.pin(package.at(number)?).name.clone())
        };
        let differing = (1..=first.pins.len() as u8)
            .filter(|&number| names(&one, number) != names(&other, number))
            .count();
        assert_eq!(first.pins.len(), second.pins.len());
        assert!(differing <= 1, "{} {}: {differing}", one.number, other.number);
    }
    Ok(())
}
