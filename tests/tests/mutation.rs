//! Every part with any one thing wrong fails the reference checks.

use dipsift_tests::bench::part;
use dipsift_tests::{Check, PARTS, mutation, reference};
use std::sync::Arc;

/// All mutants of a part; the unchanged part passes the same checks.
fn every_mutant_is_caught(number: &str) -> Check {
    let part = part(number)?;
    reference::check(&part, &Arc::new(part.network.clone()))?;
    let mutants = mutation::mutants(&part);
    let drivers = part.network.drivers.len();
    if drivers == 0 || mutants.len() < 4 * drivers {
        return Err(format!("{number}: {} mutants of {drivers} outputs", mutants.len()));
    }
    let escaped: Vec<String> = mutants
        .into_iter()
        .filter(|mutant| reference::check(&part, &Arc::new(mutant.network.clone())).is_ok())
        .map(|mutant| mutant.what)
        .collect();
    assert!(escaped.is_empty(), "{number}: not caught: {escaped:#?}");
    Ok(())
}

macro_rules! parts {
    ($($name:ident: $number:literal,)*) => {
        $(
            #[test]
            fn $name() -> Check {
                every_mutant_is_caught($number)
            }
        )*

        #[test]
        fn every_part_is_here() {
            assert_eq!([$($number),*], PARTS);
        }
    };
}

parts! {
    part_7400: "7400",
    part_7402: "7402",
    part_7403: "7403",
    part_7404: "7404",
    part_7406: "7406",
    part_7408: "7408",
    part_7414: "7414",
    part_7420: "7420",
    part_7430: "7430",
    part_7432: "7432",
    part_7442: "7442",
    part_7447: "7447",
    part_7451: "7451",
    part_7473: "7473",
    part_7474: "7474",
    part_7475: "7475",
    part_7476: "7476",
    part_7483: "7483",
    part_7485: "7485",
    part_7486: "7486",
    part_7490: "7490",
    part_7492: "7492",
    part_7493: "7493",
    part_74107: "74107",
    part_74109: "74109",
    part_74112: "74112",
    part_74125: "74125",
    part_74138: "74138",
    part_74139: "74139",
    part_74148: "74148",
    part_74151: "74151",
    part_74153: "74153",
    part_74154: "74154",
    part_74157: "74157",
    part_74161: "74161",
    part_74163: "74163",
    part_74164: "74164",
    part_74165: "74165",
    part_74173: "74173",
    part_74181: "74181",
    part_74190: "74190",
    part_74192: "74192",
    part_74193: "74193",
    part_74194: "74194",
    part_74240: "74240",
    part_74244: "74244",
    part_74245: "74245",
    part_74251: "74251",
    part_74273: "74273",
    part_74279: "74279",
    part_74299: "74299",
    part_74373: "74373",
    part_74374: "74374",
    part_74393: "74393",
    part_74541: "74541",
    part_74595: "74595",
    part_74670: "74670",
    part_4001: "4001",
    part_4011: "4011",
    part_4013: "4013",
    part_4017: "4017",
    part_4020: "4020",
    part_4027: "4027",
    part_4040: "4040",
    part_4049: "4049",
    part_4050: "4050",
    part_4511: "4511",
    part_4516: "4516",
    part_4518: "4518",
}
