//! Pinouts and directions against Debian's `kicad-symbols` and typed pinouts.

use dipsift_language::{Family, Output, Part};
use dipsift_tests::bench::{part, usual_family};
use dipsift_tests::kicad::{
    Difference, Pinout, Symbols, accepted, differences, names, typed_memory_pinouts, typed_pinouts,
};
use dipsift_tests::{Check, MEMORIES_WITH_SYMBOLS, PARTS};
use std::collections::BTreeSet;

/// The family of the symbol that a part is compared with.
fn family(part: &Part, symbol: &str) -> Result<Family, String> {
    let family = if symbol.starts_with("74LS") {
        Family::Ls
    } else if symbol.starts_with("74HC") {
        Family::Hc
    } else {
        usual_family(part)?
    };
    if part.made.contains(&family) { Ok(family) } else { usual_family(part) }
}

/// What differs between a description and its symbol; `None` where there is no symbol.
fn against_symbols(symbols: &Symbols, part: &Part) -> Result<Option<BTreeSet<Difference>>, String> {
    let Some(symbol) = symbols.name(&part.number) else { return Ok(None) };
    let ours = Pinout::of(part, family(part, &symbol)?)?;
    let theirs = symbols.pinout(&symbol)?;
    Ok(Some(differences(&part.number, &ours, &theirs, &names(&part.number)?)))
}

#[test]
fn each_difference_from_the_symbols_is_decided_by_a_data_sheet() -> Check {
    let symbols = Symbols::installed()?;
    println!("compared with {}", Symbols::version()?);
    let expected: BTreeSet<Difference> =
        accepted()?.into_iter().map(|accepted| accepted.difference).collect();
    let mut found = BTreeSet::new();
    for number in PARTS.iter().chain(MEMORIES_WITH_SYMBOLS) {
        found.extend(against_symbols(&symbols, &*part(number)?)?.unwrap_or_default());
    }
    let mut message = String::new();
    for difference in found.difference(&expected) {
        message += &format!("\nnot listed: {difference}");
    }
    for difference in expected.difference(&found) {
        message += &format!("\nlisted, but does not occur: {difference}");
    }
    assert!(message.is_empty(), "part | pin | aspect | description | symbol{message}");
    Ok(())
}

#[test]
fn parts_without_a_symbol_have_a_typed_pinout() -> Check {
    let symbols = Symbols::installed()?;
    let missing: Vec<&str> =
        PARTS.iter().copied().filter(|number| symbols.name(number).is_none()).collect();
    let typed: Vec<String> = typed_pinouts()?.into_iter().map(|(number, _)| number).collect();
    if missing == typed { Ok(()) } else { Err(format!("without: {missing:?}, typed: {typed:?}")) }
}

#[test]
fn typed_pinouts_agree() -> Check {
    for (number, theirs) in typed_pinouts()? {
        let part = part(&number)?;
        let ours = Pinout::of(&part, usual_family(&part)?)?;
        let found = differences(&number, &ours, &theirs, &names(&number)?);
        if !found.is_empty() {
            return Err(format!("{found:#?}"));
        }
    }
    Ok(())
}

#[test]
fn the_memories_compared_have_a_symbol() -> Check {
    let symbols = Symbols::installed()?;
    for number in MEMORIES_WITH_SYMBOLS {
        let name = symbols.name(number).ok_or(format!("{number}: no symbol"))?;
        let pins = symbols.pinout(&name)?.pins.len();
        if pins < 24 {
            return Err(format!("{number}: {name} has {pins} pins"));
        }
    }
    Ok(())
}

#[test]
fn published_pinouts_of_memories_agree() -> Check {
    let mut message = String::new();
    for (number, theirs) in typed_memory_pinouts()? {
        let part = part(&number)?;
        let ours = Pinout::of(&part, usual_family(&part)?)?;
        for difference in differences(&number, &ours, &theirs, &names(&number)?) {
            message += &format!("\n{difference}");
        }
    }
    if message.is_empty() { Ok(()) } else { Err(message) }
}

/// Another kind of output at any one pin is noticed.
#[test]
fn a_changed_output_kind_is_noticed() -> Check {
    let symbols = Symbols::installed()?;
    for number in PARTS.iter().chain(MEMORIES_WITH_SYMBOLS) {
        let right = part(number)?;
        let Some(before) = against_symbols(&symbols, &right)? else { continue };
        for index in 0..right.pins.len() {
            let Some(kind) = right.pins[index].output else { continue };
            let mut wrong = Part::clone(&right);
            wrong.pins[index].output = Some(match kind {
                Output::TotemPole | Output::ThreeState => Output::OpenCollector,
                Output::OpenCollector => Output::TotemPole,
            });
            let after = against_symbols(&symbols, &wrong)?.unwrap_or_default();
            let name = &right.pins[index].name;
            // The differences must be exactly the listed ones, so any change is noticed.
            if after == before {
                return Err(format!("{number} {name}: not noticed"));
            }
        }
    }
    Ok(())
}
