//! Which pin of the controller does what.

use dipsift_pins::{POSITIONS, Positions};

/// A port of the controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)] // the maker's letters
pub enum Port {
    A,
    B,
    C,
    D,
    E,
    F,
    G,
    H,
}

/// A pin of the controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pin {
    /// Its port.
    pub port: Port,
    /// Its number within the port, 0 to 15.
    pub bit: u8,
}

/// A pin that is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Analog {
    /// The pin.
    pub pin: Pin,
    /// Its channel of ADC1 and ADC2.
    pub channel: u8,
}

/// A position that can be fed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Feed {
    /// The position, 1 to 40.
    pub position: u8,
    /// Turns its switch on when high.
    pub switch: Pin,
    /// Measures its voltage behind the divider.
    pub voltage: Analog,
}

/// A position that can be grounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ground {
    /// The position, 1 to 40.
    pub position: u8,
    /// Turns its switch on when high.
    pub switch: Pin,
}

/// Shorthand for the tables.
pub const fn pin(port: Port, bit: u8) -> Pin {
    Pin { port, bit }
}

const fn feed(position: u8, switch: Pin, measured: Pin, channel: u8) -> Feed {
    Feed { position, switch, voltage: Analog { pin: measured, channel } }
}

const fn ground(position: u8, switch: Pin) -> Ground {
    Ground { position, switch }
}

/// The pin of a socket position, by position from 1: two whole ports and half of a third, so that
/// a level costs one word a port.
pub const SOCKET: [Pin; POSITIONS as usize] = {
    let mut pins = [pin(Port::E, 0); POSITIONS as usize];
    let mut index = 0;
    while index < pins.len() {
        let port = if index < 16 {
            Port::E
        } else if index < 32 {
            Port::F
        } else {
            Port::D
        };
        pins[index] = pin(port, index as u8 % 16);
        index += 1;
    }
    pins
};

/// The positions with a feed switch, chosen by the search in `host/bench/src/fixture`.
pub const FEEDS: [Feed; 8] = [
    feed(1, pin(Port::G, 4), pin(Port::A, 0), 0),
    feed(8, pin(Port::G, 5), pin(Port::A, 3), 3),
    feed(9, pin(Port::G, 8), pin(Port::A, 4), 4),
    feed(10, pin(Port::G, 9), pin(Port::A, 5), 5),
    feed(34, pin(Port::G, 10), pin(Port::A, 6), 6),
    feed(37, pin(Port::G, 12), pin(Port::B, 1), 9),
    feed(38, pin(Port::G, 14), pin(Port::C, 3), 13),
    feed(40, pin(Port::G, 15), pin(Port::C, 1), 11),
];

/// The positions with a ground switch, chosen by the same search.
pub const GROUNDS: [Ground; 11] = [
    ground(3, pin(Port::C, 6)),
    ground(4, pin(Port::C, 7)),
    ground(7, pin(Port::C, 8)),
    ground(8, pin(Port::C, 9)),
    ground(9, pin(Port::C, 10)),
    ground(10, pin(Port::C, 11)),
    ground(12, pin(Port::C, 12)),
    ground(14, pin(Port::D, 10)),
    ground(16, pin(Port::D, 11)),
    ground(33, pin(Port::D, 12)),
    ground(40, pin(Port::D, 13)),
];

/// The level of the light keepers.
pub const LIGHT_LEVEL: Pin = pin(Port::G, 0);
/// Turns the light keepers on when low.
pub const LIGHT_ENABLE: Pin = pin(Port::G, 1);
/// The level of the firm keepers.
pub const FIRM_LEVEL: Pin = pin(Port::G, 2);
/// Turns the firm keepers on when low.
pub const FIRM_ENABLE: Pin = pin(Port::G, 3);

/// Selects 5 V when high, 3.3 V when low.
pub const SUPPLY_5V: Pin = pin(Port::D, 14);
/// Turns the supply on when high. It is the master of all feed switches.
pub const SUPPLY_ENABLE: Pin = pin(Port::D, 15);
/// Discharges the rail when high.
pub const BLEEDER: Pin = pin(Port::B, 8);
/// Puts the fine shunt into the supply's way when high.
pub const FINE_RANGE: Pin = pin(Port::B, 9);
/// Low while the hardware limiter has acted.
pub const LIMITER_FAULT: Pin = pin(Port::B, 10);
/// Clears the hardware limiter's latch when high.
pub const LIMITER_RESET: Pin = pin(Port::B, 11);

/// The supply current, whole range; the over-current watch is on this channel.
pub const CURRENT: Analog = Analog { pin: pin(Port::C, 0), channel: 10 };
/// The supply current through the fine shunt.
pub const FINE_CURRENT: Analog = Analog { pin: pin(Port::C, 2), channel: 12 };

/// The board's green lamp LD1: go.
pub const LAMP_GO: Pin = pin(Port::B, 0);
/// The board's blue lamp LD2: not decided.
pub const LAMP_NOT_DECIDED: Pin = pin(Port::B, 7);
/// The board's red lamp LD3: no-go.
pub const LAMP_NO_GO: Pin = pin(Port::B, 14);
/// The board's button B1, high when pressed.
pub const BUTTON: Pin = pin(Port::C, 13);

/// USART3 to the debug probe's virtual serial port.
pub const SERIAL_TX: Pin = pin(Port::D, 8);
/// USART3 from the debug probe's virtual serial port.
pub const SERIAL_RX: Pin = pin(Port::D, 9);

/// Everything but the socket, the switches and the measured voltages.
pub const SINGLE: [(&str, Pin); 18] = [
    ("light keepers, level", LIGHT_LEVEL),
    ("light keepers, enable", LIGHT_ENABLE),
    ("firm keepers, level", FIRM_LEVEL),
    ("firm keepers, enable", FIRM_ENABLE),
    ("5 V select", SUPPLY_5V),
    ("supply enable", SUPPLY_ENABLE),
    ("bleeder", BLEEDER),
    ("fine current range", FINE_RANGE),
    ("limiter fault", LIMITER_FAULT),
    ("limiter reset", LIMITER_RESET),
    ("supply current", CURRENT.pin),
    ("fine supply current", FINE_CURRENT.pin),
    ("lamp go", LAMP_GO),
    ("lamp not decided", LAMP_NOT_DECIDED),
    ("lamp no-go", LAMP_NO_GO),
    ("button", BUTTON),
    ("serial out", SERIAL_TX),
    ("serial in", SERIAL_RX),
];

impl Pin {
    /// The letter of its port.
    pub const fn letter(self) -> char {
        match self.port {
            Port::A => 'A',
            Port::B => 'B',
            Port::C => 'C',
            Port::D => 'D',
            Port::E => 'E',
            Port::F => 'F',
            Port::G => 'G',
            Port::H => 'H',
        }
    }
}

impl core::fmt::Display for Pin {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "P{}{}", self.letter(), self.bit)
    }
}

/// Every pin in use, with what it does and, where it serves one, its socket position.
pub fn used() -> impl Iterator<Item = (&'static str, Option<u8>, Pin)> {
    let socket = (1..=POSITIONS).zip(SOCKET).map(|(at, pin)| ("position", Some(at), pin));
    let feeds = FEEDS.iter().flat_map(|feed| {
        let at = Some(feed.position);
        [("feed switch", at, feed.switch), ("position voltage", at, feed.voltage.pin)]
    });
    let grounds =
        GROUNDS.iter().map(|ground| ("ground switch", Some(ground.position), ground.switch));
    let single = SINGLE.iter().map(|&(name, pin)| (name, None, pin));
    socket.chain(feeds).chain(grounds).chain(single)
}

/// The positions with a feed switch, as a set.
pub const FEED_POSITIONS: Positions = {
    let mut bits = 0;
    let mut index = 0;
    while index < FEEDS.len() {
        bits |= Positions::one(FEEDS[index].position).bits();
        index += 1;
    }
    Positions::from_bits(bits)
};

/// The positions with a ground switch, as a set.
pub const GROUND_POSITIONS: Positions = {
    let mut bits = 0;
    let mut index = 0;
    while index < GROUNDS.len() {
        bits |= Positions::one(GROUNDS[index].position).bits();
        index += 1;
    }
    Positions::from_bits(bits)
};

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn no_pin_has_two_duties() {
        let mut seen = BTreeMap::new();
        for (name, position, pin) in used() {
            assert!(pin.bit < 16);
            if let Some(other) = seen.insert(pin, (name, position)) {
                panic!("{pin:?} is {name} {position:?} and {other:?}");
            }
        }
        assert_eq!(seen.len(), 40 + 2 * FEEDS.len() + GROUNDS.len() + SINGLE.len());
    }

    /// ST DS9405 (STM32F427/429), pinout table, "additional functions", from memory.
    #[test]
    fn channels_are_those_of_their_pins() {
        let channel = |pin: Pin| match (pin.port, pin.bit) {
            (Port::A, bit @ 0..=7) => bit,
            (Port::B, bit @ 0..=1) => 8 + bit,
            (Port::C, bit @ 0..=5) => 10 + bit,
            _ => panic!("{pin:?} has no channel of ADC1 and ADC2"),
        };
        for analog in FEEDS.iter().map(|feed| feed.voltage).chain([CURRENT, FINE_CURRENT]) {
            assert_eq!(analog.channel, channel(analog.pin), "{:?}", analog.pin);
        }
    }

    #[test]
    fn no_position_has_two_switches_of_a_kind() {
        assert_eq!(FEED_POSITIONS.count(), FEEDS.len() as u32);
        assert_eq!(GROUND_POSITIONS.count(), GROUNDS.len() as u32);
        assert!(FEED_POSITIONS.iter().eq([1, 8, 9, 10, 34, 37, 38, 40]));
        assert!(GROUND_POSITIONS.iter().eq([3, 4, 7, 8, 9, 10, 12, 14, 16, 33, 40]));
    }
}
