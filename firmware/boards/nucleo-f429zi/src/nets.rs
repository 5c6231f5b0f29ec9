//! What the board itself drives or loads, and the bridges to change.

use crate::map::{Pin, Port, pin};

/// A net that something else on the board drives or loads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Net {
    /// The controller's pin.
    pub pin: Pin,
    /// What is on it.
    pub what: &'static str,
    /// The bridge or jumper that takes it off, where there is one.
    pub bridge: Option<&'static str>,
    /// Where this is from.
    pub source: &'static str,
}

/// The state of a bridge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Not connected.
    Open,
    /// Connected.
    Closed,
}

/// A bridge that the fixture relies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bridge {
    /// Its name on the board.
    pub name: &'static str,
    /// As the board is delivered.
    pub delivered: State,
    /// As the fixture needs it.
    pub needed: State,
    /// Why.
    pub why: &'static str,
    /// Where this is from.
    pub source: &'static str,
}

const ETHERNET: &str = "ST UM1974, Ethernet pins, from memory";
const USB: &str = "ST UM1974, USB pins, from memory";
const PROBE: &str = "ST UM1974, debug and clock pins, from memory";
const BOARD: &str = "ST UM1974, lamps, button and virtual serial port, from memory";

const fn net(
    port: Port,
    bit: u8,
    what: &'static str,
    bridge: Option<&'static str>,
    source: &'static str,
) -> Net {
    Net { pin: pin(port, bit), what, bridge, source }
}

/// Nets that nothing of the fixture may use unless their bridge is opened.
pub const NETS: &[Net] = &[
    net(Port::A, 1, "RMII reference clock", Some("SB13"), ETHERNET),
    net(Port::A, 2, "RMII MDIO", Some("SB160"), ETHERNET),
    net(Port::A, 7, "RMII receive data valid", Some("JP6"), ETHERNET),
    net(Port::B, 13, "RMII transmit data 1", Some("JP7"), ETHERNET),
    net(Port::C, 1, "RMII MDC", Some("SB164"), ETHERNET),
    net(Port::C, 4, "RMII receive data 0", Some("SB178"), ETHERNET),
    net(Port::C, 5, "RMII receive data 1", Some("SB181"), ETHERNET),
    net(Port::G, 11, "RMII transmit enable", Some("SB183"), ETHERNET),
    net(Port::G, 13, "RMII transmit data 0", Some("SB182"), ETHERNET),
    net(Port::A, 8, "USB start of frame", None, USB),
    net(Port::A, 9, "USB bus voltage", None, USB),
    net(Port::A, 10, "USB identification", None, USB),
    net(Port::A, 11, "USB data minus", None, USB),
    net(Port::A, 12, "USB data plus", None, USB),
    net(Port::G, 6, "USB power switch", None, USB),
    net(Port::G, 7, "USB over-current", None, USB),
    net(Port::A, 13, "debug probe, data", None, PROBE),
    net(Port::A, 14, "debug probe, clock", None, PROBE),
    net(Port::B, 3, "debug probe, trace", None, PROBE),
    net(Port::C, 14, "32 kHz crystal", None, PROBE),
    net(Port::C, 15, "32 kHz crystal", None, PROBE),
    net(Port::H, 0, "8 MHz from the debug probe", None, PROBE),
    net(Port::H, 1, "crystal, other side", None, PROBE),
];

/// Nets that the board drives or loads and that are used for just what the board has there.
pub const SERVED: &[Net] = &[
    net(Port::B, 0, "green lamp LD1", Some("SB120"), BOARD),
    net(Port::B, 7, "blue lamp LD2", Some("SB139"), BOARD),
    net(Port::B, 14, "red lamp LD3", Some("SB118"), BOARD),
    net(Port::C, 13, "button B1", Some("SB173"), BOARD),
    net(Port::D, 8, "virtual serial port, from the controller", Some("SB5"), BOARD),
    net(Port::D, 9, "virtual serial port, to the controller", Some("SB6"), BOARD),
];

/// The bridges that matter. Those where `delivered` and `needed` differ are to be changed; the
/// others are to be looked at on a board that has been used before.
pub const BRIDGES: &[Bridge] = &[
    Bridge {
        name: "SB164",
        delivered: State::Closed,
        needed: State::Open,
        why: "takes the Ethernet chip's MDC input off PC1, which measures position 40",
        source: ETHERNET,
    },
    Bridge {
        name: "SB119",
        delivered: State::Open,
        needed: State::Open,
        why: "keeps lamp LD1 off PA5, which measures position 10",
        source: BOARD,
    },
    Bridge {
        name: "SB120",
        delivered: State::Closed,
        needed: State::Closed,
        why: "lamp LD1 on PB0",
        source: BOARD,
    },
    Bridge {
        name: "SB149",
        delivered: State::Closed,
        needed: State::Closed,
        why: "8 MHz from the debug probe; without it the internal oscillator is used",
        source: PROBE,
    },
];

/// The bridges that must be changed on a board as delivered.
pub fn to_change() -> impl Iterator<Item = &'static Bridge> {
    BRIDGES.iter().filter(|bridge| bridge.delivered != bridge.needed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::{BUTTON, LAMP_GO, LAMP_NO_GO, LAMP_NOT_DECIDED, SERIAL_RX, SERIAL_TX, used};

    fn opened(net: &Net) -> bool {
        net.bridge.is_some_and(|name| {
            BRIDGES.iter().any(|bridge| bridge.name == name && bridge.needed == State::Open)
        })
    }

    #[test]
    fn nothing_is_on_a_net_of_the_board() {
        for (name, position, pin) in used() {
            for net in NETS.iter().filter(|net| net.pin == pin) {
                assert!(opened(net), "{name} {position:?} at {pin:?} is on {}", net.what);
            }
        }
    }

    #[test]
    fn the_boards_own_lamps_button_and_port_are_used_as_such() {
        let own = [LAMP_GO, LAMP_NOT_DECIDED, LAMP_NO_GO, BUTTON, SERIAL_TX, SERIAL_RX];
        assert!(SERVED.iter().map(|net| net.pin).eq(own));
        assert!(!SERVED.iter().any(opened));
    }

    #[test]
    fn a_bridge_is_changed_only_where_a_pin_needs_it() {
        for bridge in to_change() {
            let net = NETS.iter().find(|net| net.bridge == Some(bridge.name)).unwrap();
            assert!(used().any(|(_, _, pin)| pin == net.pin), "{} for nothing", bridge.name);
        }
    }
}
