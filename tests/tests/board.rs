//! The board's connectors against its symbol in Debian's `kicad-symbols`.

use dipsift_nucleo_f429zi::connectors::{CONTACTS, Connector, GROUND, SUPPLY_3V3};
use dipsift_tests::Check;
use dipsift_tests::kicad::Symbols;

/// The symbol counts CN11 from 1 and CN12 from 73; names may have the board's use before or after
/// the pin's own, with their marks taken off.
#[test]
fn contacts_are_those_of_the_boards_symbol() -> Check {
    let symbols = Symbols::installed()?;
    println!("compared with {}", Symbols::version()?);
    let symbol = symbols.pinout("NUCLEO144-F429ZI")?;
    assert_eq!(symbol.pins.len(), 144);
    let mut wrong = Vec::new();
    for contact in CONTACTS {
        let first = if contact.connector == Connector::Cn11 { 0 } else { 72 };
        let pin = contact.pin.to_string();
        let theirs = symbol.pins.get(&(first + contact.number)).map(|pin| pin.name.as_str());
        let agrees = theirs.is_some_and(|name| {
            name.split_once(&pin)
                .is_some_and(|(_, rest)| !rest.starts_with(|next: char| next.is_ascii_digit()))
        });
        if !agrees {
            wrong.push(format!("{pin} {contact:?}: {theirs:?}"));
        }
    }
    let power = GROUND.iter().map(|at| (*at, "GND")).chain([(SUPPLY_3V3, "3V3")]);
    for ((connector, number), ours) in power {
        let first = if connector == Connector::Cn11 { 0 } else { 72 };
        let theirs = symbol.pins.get(&(first + number)).map(|pin| pin.name.as_str());
        if theirs.map(|name| name.trim_start_matches('+')) != Some(ours) {
            wrong.push(format!("{ours} {connector:?} {number}: {theirs:?}"));
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
}
