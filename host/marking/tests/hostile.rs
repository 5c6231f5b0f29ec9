//! Whatever is typed, reading it ends soon and in bounds.

use dipsift_language::{Library, PartName};
use dipsift_marking::{MOST_READINGS, Week, complete, read_as_of};
use proptest::prelude::*;
use std::time::{Duration, Instant};

const TODAY: Week = Week { year: 2026, week: 47 };

/// Far more than any input needs, so that a busy machine does not fail the test.
const LONGEST: Duration = Duration::from_secs(5);

fn bounded(text: &str) {
    let library = Library::builtin();
    let start = Instant::now();
    let decoded = read_as_of(text, &library, TODAY);
    assert!(start.elapsed() < LONGEST, "{text:?}");
    assert!(decoded.readings.len() <= MOST_READINGS, "{text:?}");
    for reading in &decoded.readings {
        if let Some(name) = reading.part_name() {
            let parsed = PartName::parse(name, &library).expect("a part name is accepted");
            assert_eq!(Some(&parsed.number), reading.number.as_ref(), "{text:?}");
            assert!(!name.contains('?') && reading.assumed.is_empty(), "{text:?}");
        }
        if let Some(name) = reading.part_name_if_confirmed() {
            PartName::parse(name, &library).expect("a part name is accepted");
        }
        for code in &reading.date_codes {
            assert!(code.year.is_none_or(|year| (1964..=TODAY.year).contains(&year)), "{text:?}");
            assert!(code.week.is_none_or(|week| (1..=53).contains(&week)), "{text:?}");
        }
        let said = reading.military.iter().map(|military| &military.mark);
        assert!(said.chain([&reading.marking]).all(|text| text.chars().count() <= 96));
    }
}

#[test]
fn long_and_worn_inputs() {
    for text in [
        "?".repeat(10_000),
        "74LS?0 ".repeat(5_000),
        "?N74?S??? ".repeat(1_000),
        "7432 ".repeat(1_000),
        "4027 4044 4060 4096 4104 4532 4016 ".repeat(50),
        "JM38510/".repeat(1_000),
        "M38510/38510/38510/883B/BCA".to_owned(),
        "5962-".to_owned(),
        "5962-é403701".to_owned(),
        "-".repeat(500),
        "/".repeat(500),
        "HM1--9".to_owned(),
        "\u{b5}\u{b5}\u{b5}4164".to_owned(),
        "74\u{1f4a5}00".to_owned(),
        "SN74LS\0N".to_owned(),
        "\u{202e}00SL47".to_owned(),
        "4294967296".to_owned(),
        "4164-4294967296".to_owned(),
        "4164-99999999999999999999".to_owned(),
        String::new(),
    ] {
        bounded(&text);
        assert!(complete(&text, &Library::builtin(), 20).len() <= 20);
    }
}

#[test]
fn a_library_without_parts() {
    let library = Library::empty();
    for text in ["SN74LS00N 7825", "4027", "HM6264LP-15", "74LS?0", "JM38510/00104BCA"] {
        let decoded = read_as_of(text, &library, TODAY);
        assert!(decoded.readings.iter().all(|reading| reading.part_name().is_none()), "{text}");
    }
}

#[test]
fn readings_are_the_same_in_every_run_and_case() {
    let library = Library::builtin();
    for text in ["sn54?s138j", "74ls?0 7825", "hm6264lp-15 8412", "d2716 -1"] {
        let read = |text: &str| read_as_of(text, &library, TODAY);
        assert_eq!(read(text), read(&text.to_uppercase()));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text(text in any::<String>()) {
        bounded(&text);
    }

    #[test]
    fn text_like_markings(text in "[A-Z?]{0,5}[0-9?-]{0,8}[A-Z?/-]{0,5}[0-9? ]{0,6}( [0-9?]{4}[A-Z]?)?") {
        bounded(&text);
    }

    #[test]
    fn worn_characters_keep_the_true_part_among_the_candidates(at in 2_usize..7) {
        // 74LS138 with any one character of family or number worn.
        let mut worn = "74LS138".to_owned();
        worn.replace_range(at..=at, "?");
        let decoded = read_as_of(&worn, &Library::builtin(), TODAY);
        prop_assert!(
            decoded.readings.iter().any(|reading| {
                reading.number.as_deref() == Some("74138") && reading.family.as_deref() == Some("LS")
            }),
            "{worn}: {:?}",
            decoded.readings.iter().map(|reading| &reading.marking).collect::<Vec<_>>()
        );
        prop_assert!(decoded.readings.iter().all(|reading| reading.part_name().is_none()));
    }
}
