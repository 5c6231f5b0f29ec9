//! Where a package sits in the socket.

use dipsift_language::{Package, Part, Role};
use dipsift_wire::{Capabilities, Pins};
use thiserror::Error;

/// A package's place and its supplies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placement {
    /// How many pins the package has.
    pub pins: u8,
    /// How many positions pin 1 lies beyond position 1.
    pub shift: u8,
    /// The package pins that are fed.
    pub feed: Pins,
    /// The package pins that are grounded.
    pub ground: Pins,
}

/// Why a package has no place.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NoPlacement {
    /// The package does not fit.
    #[error("a package of {0} pins does not fit a 40-way dual in-line socket")]
    Size(usize),
    /// No shift puts every supply pin on a position that can be fed or grounded.
    #[error(
        "this fixture cannot feed pin {feed} and ground pin {ground} of a {pins}-pin package in any position"
    )]
    Supplies {
        /// The fed pins.
        feed: String,
        /// The grounded pins.
        ground: String,
        /// The package's size.
        pins: u8,
    },
}

/// The socket position of a package pin.
pub const fn position(pins: u8, shift: u8, pin: u8) -> u8 {
    if pin <= pins / 2 { pin + shift } else { 40 - pins + pin - shift }
}

impl Placement {
    /// Places a package so that its supply pins land where the fixture can feed and ground them,
    /// as near to position 1 as can be. A chip with corner supplies so always sits with pin 1 in
    /// position 1, provided that the fixture serves its corners.
    pub fn find(
        part: &Part,
        package: &Package,
        capabilities: &Capabilities,
    ) -> Result<Self, NoPlacement> {
        let count = package.pins.len();
        if !(4..=40).contains(&count) || !count.is_multiple_of(2) {
            return Err(NoPlacement::Size(count));
        }
        let pins = count as u8;
        let with_role = |wanted: &[Role]| -> Pins {
            (1..=pins)
                .filter(|&number| {
                    package.at(number).is_some_and(|id| wanted.contains(&part.pin(id).role))
                })
                .collect()
        };
        let feed = with_role(&[Role::Supply, Role::Fed]);
        let ground = with_role(&[Role::Ground]);
        let served = |set: Pins, shift: u8, at: u64| {
            set.iter().all(|pin| at >> (position(pins, shift, pin) - 1) & 1 == 1)
        };
        (0..=20 - pins / 2)
            .find(|&shift| {
                served(feed, shift, capabilities.feed) && served(ground, shift, capabilities.ground)
            })
            .map(|shift| Self { pins, shift, feed, ground })
            .ok_or_else(|| NoPlacement::Supplies { feed: list(feed), ground: list(ground), pins })
    }

    /// The socket position of a package pin.
    pub const fn position(&self, pin: u8) -> u8 {
        position(self.pins, self.shift, pin)
    }

    /// How to seat the chip, in words.
    pub fn words(&self) -> String {
        format!(
            "pin 1 in position {}, pin {} in position {}",
            self.position(1),
            self.pins,
            self.position(self.pins)
        )
    }
}

/// Pin numbers as a list: `4, 5`.
pub fn list(pins: Pins) -> String {
    pins.iter().map(|pin| pin.to_string()).collect::<Vec<_>>().join(", ")
}
