//! Adders, comparators, counters, shifters and decoders against plain integers.

use dipsift_tests::bench::Bench;
use dipsift_tests::{Check, PARTS, arithmetic};

#[test]
fn every_part_that_computes_agrees_with_integers() -> Check {
    let mut wrong = String::new();
    let mut checked = Vec::new();
    for number in PARTS {
        let Some(check) = arithmetic::of(number) else { continue };
        checked.push(*number);
        if let Err(what) = Bench::new(number).and_then(|chip| check(&chip)) {
            wrong += &format!("\n{number}: {what}");
        }
    }
    let mut expected = arithmetic::PARTS.to_vec();
    expected.sort_unstable();
    checked.sort_unstable();
    assert_eq!(checked, expected, "parts that have an arithmetic check");
    // A panic prints the lines as lines.
    assert!(wrong.is_empty(), "{wrong}");
    Ok(())
}
