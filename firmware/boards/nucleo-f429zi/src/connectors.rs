//! Where the board's connectors bring out the pins in use.
//!
//! ST UM1974, tables of the ST morpho connectors CN11 and CN12, from memory; `tests` compares them
//! with the board's symbol in Debian's `kicad-symbols`.

use crate::map::{Pin, Port, pin};
use Connector::{Cn11, Cn12};

/// One of the two long connectors beside the small ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // the maker's names
pub enum Connector {
    Cn11,
    Cn12,
}

impl Connector {
    /// The name on the board.
    pub const fn name(self) -> &'static str {
        match self {
            Cn11 => "CN11",
            Cn12 => "CN12",
        }
    }
}

/// A pin of the controller at a connector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Contact {
    /// The controller's pin.
    pub pin: Pin,
    /// The connector.
    pub connector: Connector,
    /// The contact's number there.
    pub number: u8,
}

const fn at(port: Port, bit: u8, connector: Connector, number: u8) -> Contact {
    Contact { pin: pin(port, bit), connector, number }
}

/// The contacts of all pins in use.
pub const CONTACTS: &[Contact] = &[
    at(Port::A, 0, Cn11, 28),
    at(Port::A, 3, Cn12, 37),
    at(Port::A, 4, Cn11, 32),
    at(Port::A, 5, Cn12, 11),
    at(Port::A, 6, Cn12, 13),
    at(Port::B, 0, Cn11, 34),
    at(Port::B, 1, Cn12, 24),
    at(Port::B, 7, Cn11, 21),
    at(Port::B, 8, Cn12, 3),
    at(Port::B, 9, Cn12, 5),
    at(Port::B, 10, Cn12, 25),
    at(Port::B, 11, Cn12, 18),
    at(Port::B, 14, Cn12, 28),
    at(Port::C, 0, Cn11, 38),
    at(Port::C, 1, Cn11, 36),
    at(Port::C, 2, Cn11, 35),
    at(Port::C, 3, Cn11, 37),
    at(Port::C, 6, Cn12, 4),
    at(Port::C, 7, Cn12, 19),
    at(Port::C, 8, Cn12, 2),
    at(Port::C, 9, Cn12, 1),
    at(Port::C, 10, Cn11, 1),
    at(Port::C, 11, Cn11, 2),
    at(Port::C, 12, Cn11, 3),
    at(Port::C, 13, Cn11, 23),
    at(Port::D, 0, Cn11, 57),
    at(Port::D, 1, Cn11, 55),
    at(Port::D, 2, Cn11, 4),
    at(Port::D, 3, Cn11, 40),
    at(Port::D, 4, Cn11, 39),
    at(Port::D, 5, Cn11, 41),
    at(Port::D, 6, Cn11, 43),
    at(Port::D, 7, Cn11, 45),
    at(Port::D, 8, Cn12, 10),
    at(Port::D, 9, Cn11, 69),
    at(Port::D, 10, Cn12, 65),
    at(Port::D, 11, Cn12, 45),
    at(Port::D, 12, Cn12, 43),
    at(Port::D, 13, Cn12, 41),
    at(Port::D, 14, Cn12, 46),
    at(Port::D, 15, Cn12, 48),
    at(Port::E, 0, Cn12, 64),
    at(Port::E, 1, Cn11, 61),
    at(Port::E, 2, Cn11, 46),
    at(Port::E, 3, Cn11, 47),
    at(Port::E, 4, Cn11, 48),
    at(Port::E, 5, Cn11, 50),
    at(Port::E, 6, Cn11, 62),
    at(Port::E, 7, Cn12, 44),
    at(Port::E, 8, Cn12, 40),
    at(Port::E, 9, Cn12, 52),
    at(Port::E, 10, Cn12, 47),
    at(Port::E, 11, Cn12, 56),
    at(Port::E, 12, Cn12, 49),
    at(Port::E, 13, Cn12, 55),
    at(Port::E, 14, Cn12, 51),
    at(Port::E, 15, Cn12, 53),
    at(Port::F, 0, Cn11, 53),
    at(Port::F, 1, Cn11, 51),
    at(Port::F, 2, Cn11, 52),
    at(Port::F, 3, Cn12, 58),
    at(Port::F, 4, Cn12, 38),
    at(Port::F, 5, Cn12, 36),
    at(Port::F, 6, Cn11, 9),
    at(Port::F, 7, Cn11, 11),
    at(Port::F, 8, Cn11, 54),
    at(Port::F, 9, Cn11, 56),
    at(Port::F, 10, Cn12, 42),
    at(Port::F, 11, Cn12, 62),
    at(Port::F, 12, Cn12, 59),
    at(Port::F, 13, Cn12, 57),
    at(Port::F, 14, Cn12, 50),
    at(Port::F, 15, Cn12, 60),
    at(Port::G, 0, Cn11, 59),
    at(Port::G, 1, Cn11, 58),
    at(Port::G, 2, Cn11, 42),
    at(Port::G, 3, Cn11, 44),
    at(Port::G, 4, Cn12, 69),
    at(Port::G, 5, Cn12, 68),
    at(Port::G, 8, Cn12, 66),
    at(Port::G, 9, Cn11, 63),
    at(Port::G, 10, Cn11, 66),
    at(Port::G, 12, Cn11, 65),
    at(Port::G, 14, Cn12, 61),
    at(Port::G, 15, Cn11, 64),
];

/// Where the board gives its 3.3 V: the supply of keepers, amplifiers and control pulls, and what
/// the supervisor watches.
pub const SUPPLY_3V3: (Connector, u8) = (Cn11, 16);

/// The ground contacts. All are joined on the board; use as many as there are, the socket's ground
/// comes back through them.
pub const GROUND: &[(Connector, u8)] = &[
    (Cn11, 8),
    (Cn11, 19),
    (Cn11, 20),
    (Cn11, 22),
    (Cn11, 49),
    (Cn11, 60),
    (Cn11, 71),
    (Cn11, 72),
    (Cn12, 9),
    (Cn12, 20),
    (Cn12, 39),
    (Cn12, 54),
    (Cn12, 63),
    (Cn12, 71),
    (Cn12, 72),
];

/// Where all of this is from.
pub const SOURCE: &str =
    "ST UM1974, ST morpho connectors CN11 and CN12, from memory; compared with kicad-symbols";

/// The contact of a pin in use.
pub fn contact(pin: Pin) -> Option<Contact> {
    CONTACTS.iter().copied().find(|contact| contact.pin == pin)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::used;
    use std::collections::BTreeSet;

    #[test]
    fn every_pin_in_use_has_a_contact_of_its_own() {
        let mut seen = BTreeSet::new();
        for (name, position, pin) in used() {
            let found = contact(pin);
            let found = found.unwrap_or_else(|| panic!("{name} {position:?} at {pin:?}"));
            assert!((1..=72).contains(&found.number));
            assert!(seen.insert((found.connector.name(), found.number)), "{found:?}");
        }
        assert_eq!(seen.len(), CONTACTS.len(), "a contact is listed for nothing");
        for (connector, number) in GROUND.iter().chain([&SUPPLY_3V3]) {
            assert!((1..=72).contains(number));
            assert!(seen.insert((connector.name(), *number)), "{connector:?} {number}");
        }
    }
}
