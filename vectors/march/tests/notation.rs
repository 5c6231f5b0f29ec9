//! Reading and writing the notation.

use dipsift_march::{
    Coverage, Direction, Element, MOST_BYTES, MOST_ELEMENTS, MOST_OPERATIONS, March, Operation,
    PAUSE_MAX,
};
use proptest::prelude::*;
use std::time::Duration;

/// The texts of mistakes, one after the other.
fn mistakes(text: &str) -> String {
    match March::read(text) {
        Ok(march) => panic!("{text:?} was read as {march}"),
        Err(mistakes) => {
            let rendered: Vec<String> = mistakes.iter().map(|found| found.render(false)).collect();
            rendered.join("\n\n")
        }
    }
}

#[test]
fn every_way_of_writing_is_read() {
    let march = March::read("any(w0); up(r0,w1); pause(100ms); down(r1,w0)").expect("sound");
    for text in [
        "{⇕(w0); ⇑(r0,w1); Del; ⇓(r1,w0)}",
        "↕(w0);↑(r0,w1);Del(100ms);↓(r1,w0)",
        " ANY ( W0 ) ;\n\tUp(R0 , w1); PAUSE(100 ms);down(r1,w0) ; ",
        "{any(w0); up(r0,w1); del(100000us); down(r1,w0);}",
        "any(w0); up(r0,w1); pause(100000µs); down(r1,w0)",
    ] {
        assert_eq!(March::read(text), Ok(march.clone()), "{text}");
    }
    assert_eq!(march.to_string(), "any(w0); up(r0,w1); pause(100ms); down(r1,w0)");
    assert_eq!(march.arrows(), "{⇕(w0); ⇑(r0,w1); Del(100ms); ⇓(r1,w0)}");
    assert_eq!(march.length().to_string(), "5n + 1 pause");
}

#[test]
fn every_mistake_is_told_with_its_place() {
    let texts = [
        "",
        ";",
        "up",
        "hello",
        "any(w0); upp(r0,w1)",
        "any(w0); ascending(r0)",
        "w0; r0",
        "any(w0) up(r0)",
        "any(w0), up(r0)",
        "any(w0; up(r0)",
        "any(w0); up(r0;w1); down(r1)",
        "any(w0); up(r0,w1",
        "any(w0); (r0)",
        "any(w0); up()",
        "any(w0); up(r0,,w1)",
        "any(w0); up(r0 w1)",
        "any(w0); up(0r,w2,rd,x)",
        "{any(w0); up(r0)",
        "{any(w0); up(r0)} up(r0)",
        "any(w0); up(r0)}",
        "any(w0); pause; up(r0)",
        "any(w0); pause(); up(r0)",
        "any(w0); pause(100); up(r0)",
        "any(w0); pause(1.5ms); up(r0)",
        "any(w0); pause(0ms); up(r0)",
        "any(w0); pause(11min); up(r0)",
        "any(w0); pause(601s); up(r0)",
        "any(w0); wait(10ms); up(r0)",
        "any(w0); pause(10ms; up(r0)",
        "up(r0,w1)",
        "any(w0); up(r1,w0); down(r1)",
        "⇕(w0); ⇑(r0,w1); ⇓(r0,w1,r1,w0); ⇕(r1)",
        "any(w0); up(w1)",
        "any(w0); up(r0,w1); @ down(r1)",
    ];
    let page: String =
        texts.iter().map(|text| format!("=== {text}\n{}\n\n", mistakes(text))).collect();
    insta::assert_snapshot!(page);
}

#[test]
fn what_exceeds_a_limit_is_refused_and_what_meets_it_is_not() {
    let elements = |count: usize| format!("any(w0){}", "; up(r0)".repeat(count - 1));
    assert!(March::read(&elements(MOST_ELEMENTS)).is_ok());
    assert!(mistakes(&elements(MOST_ELEMENTS + 1)).contains("at most 24 elements"));
    let operations = |count: usize| format!("any(w0{})", ",r0".repeat(count - 1));
    assert!(March::read(&operations(MOST_OPERATIONS)).is_ok());
    assert!(mistakes(&operations(MOST_OPERATIONS + 1)).contains("at most 16 operations"));
    let pause = |seconds: u64| format!("any(w0); pause({seconds}s); any(r0)");
    assert!(March::read(&pause(PAUSE_MAX.as_secs())).is_ok());
    assert!(mistakes(&pause(PAUSE_MAX.as_secs() + 1)).contains("at most 600s"));
    assert!(mistakes(&pause(u64::MAX)).contains("too long"));
    assert!(mistakes(&" ".repeat(MOST_BYTES + 1)).contains("at most 8192 bytes"));
}

#[test]
fn the_column_counts_characters() {
    let found = March::read("⇕(w0); ⇑(r0,w1); ⇓(r0)").expect_err("reads 0 after w1");
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].column, 20);
    assert_eq!(
        found[0].suggestion.as_deref(),
        Some("the last write before it is `w1` in column 13")
    );
}

/// Any march that makes sense: reads expect what was written last.
fn sound() -> impl Strategy<Value = Vec<Element>> {
    let direction = prop_oneof![Just(Direction::Up), Just(Direction::Down), Just(Direction::Any)];
    let operations = prop::collection::vec(prop::option::of(any::<bool>()), 1..8);
    let sweep = (direction, operations).prop_map(|(direction, writes)| Ok((direction, writes)));
    let pause = (1_u64..=600_000_000).prop_map(|us| Err(Duration::from_micros(us)));
    let millis = (1_u64..=600_000).prop_map(|ms| Err(Duration::from_millis(ms)));
    let element = prop_oneof![6 => sweep, 1 => pause, 1 => millis];
    (any::<bool>(), prop::collection::vec(element, 0..12)).prop_map(|(first, elements)| {
        let mut held = first;
        let first = vec![Operation::Write(first), Operation::Read(first)];
        let mut all = vec![Element::Sweep { direction: Direction::Any, operations: first }];
        for element in elements {
            all.push(match element {
                Ok((direction, writes)) => Element::Sweep {
                    direction,
                    operations: writes
                        .into_iter()
                        .map(|write| match write {
                            Some(value) => {
                                held = value;
                                Operation::Write(value)
                            }
                            None => Operation::Read(held),
                        })
                        .collect(),
                },
                Err(pause) => Element::Pause(pause),
            });
        }
        all
    })
}

/// Text that comes close to the notation.
fn almost() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        prop::sample::select(vec![
            "up",
            "down",
            "any",
            "pause",
            "del",
            "Del",
            "⇑",
            "⇓",
            "⇕",
            "↕",
            "(",
            ")",
            "{",
            "}",
            ",",
            ";",
            "r0",
            "r1",
            "w0",
            "w1",
            "100ms",
            "5",
            "s",
            "µ",
            "é",
            "\n",
            "\u{0}",
            " ",
            "9",
            "wait",
            "any(w0);",
            "up(r0,w1);",
        ])
        .prop_map(str::to_owned),
        ".{0,3}",
    ];
    prop::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn what_is_written_is_read_back(elements in sound()) {
        let text: Vec<String> = elements.iter().map(Element::to_string).collect();
        let march = March::read(&text.join("; ")).expect("sound");
        prop_assert_eq!(march.elements(), elements.as_slice());
        prop_assert_eq!(&March::read(&march.to_string()), &Ok(march.clone()));
        prop_assert_eq!(&March::read(&march.arrows()), &Ok(march));
    }

    /// Whatever the text, there is a march or a mistake within the text, and both can be printed.
    #[test]
    fn any_text_gives_a_march_or_mistakes(text in prop_oneof![almost(), any::<String>()]) {
        match March::read(&text) {
            Ok(march) => {
                prop_assert_eq!(March::read(&march.to_string()), Ok(march));
            }
            Err(mistakes) => {
                prop_assert!(!mistakes.is_empty());
                for mistake in mistakes {
                    prop_assert!(mistake.column <= text.chars().count() + 1);
                    prop_assert!(!mistake.render(false).is_empty());
                }
            }
        }
    }

    /// A march finds no less than its own beginning.
    #[test]
    fn more_elements_never_find_less(elements in sound(), cut in 1_usize..13) {
        let read = |elements: &[Element]| {
            let text: Vec<String> = elements.iter().map(Element::to_string).collect();
            Coverage::of(&March::read(&text.join("; ")).expect("sound"))
        };
        let (whole, part) = (read(&elements), read(&elements[..cut.min(elements.len())]));
        for (whole, part) in whole.shares().iter().zip(part.shares()) {
            prop_assert!(whole.detected >= part.detected, "{}", whole.class);
        }
    }
}

/// What can be written can be run.
#[test]
fn the_limits_are_the_stations() {
    assert_eq!(MOST_ELEMENTS, dipsift_wire::MAX_ELEMENTS);
    assert_eq!(MOST_OPERATIONS, dipsift_wire::MAX_OPERATIONS);
}
