//! A checked header.

use crate::Package;
use dipsift_pins::{Connection, Microamps, Positions, Voltage};
use dipsift_wire::{Capabilities, Header, Kind, Pins, Power, Refusal, SILENCE_MS};

/// A header that fits the station: the only kind that the engine takes windows for.
#[derive(Clone, Debug)]
pub struct Program {
    header: Header,
    package: Package,
    supplied: Pins,
    connection: Option<Connection>,
}

/// The longest waiting time of a window.
pub(crate) const LONGEST_NS: u64 = SILENCE_MS as u64 * 1_000_000;

impl Program {
    /// Checks a header against what the station can do.
    ///
    /// # Errors
    ///
    /// - [`Refusal::Kind`]: neither a vector program nor a march, or the station runs none.
    /// - [`Refusal::Package`]: the package does not fit the socket there.
    /// - [`Refusal::Conflict`]: a pin would be fed and grounded.
    /// - [`Refusal::Unconnectable`]: a pin would be fed or grounded that cannot, nothing would be
    ///   fed or grounded, or the voltage is not there.
    /// - [`Refusal::Limit`]: the current limit is 0 or above the station's range.
    /// - [`Refusal::TooLong`]: one settling time alone would outlast a window.
    pub fn check(header: &Header, capabilities: &Capabilities) -> Result<Self, Refusal> {
        let offered = capabilities.kinds >> header.kind as u8 & 1 != 0;
        if !matches!(header.kind, Kind::Vector | Kind::March) || !offered {
            return Err(Refusal::Kind);
        }
        let package = Package::new(header.pins, header.shift)?;
        let connection = match &header.power {
            Some(power) => Some(connection(power, package, capabilities)?),
            None => None,
        };
        if u64::from(header.settle_ns.max(header.keeper_ns)) > LONGEST_NS {
            return Err(Refusal::TooLong);
        }
        let supplied = header.power.map_or(Pins::NONE, |power| Pins(power.feed.0 | power.ground.0));
        Ok(Self { header: *header, package, supplied, connection })
    }

    /// The header.
    pub const fn header(&self) -> &Header {
        &self.header
    }

    /// Where the package sits.
    pub const fn package(&self) -> Package {
        self.package
    }

    /// The pins that are fed or grounded; none in an unpowered program.
    pub const fn supplied(&self) -> Pins {
        self.supplied
    }

    /// How the supply is connected; `None` in an unpowered program.
    pub const fn connection(&self) -> Option<&Connection> {
        self.connection.as_ref()
    }
}

fn connection(
    power: &Power,
    package: Package,
    capabilities: &Capabilities,
) -> Result<Connection, Refusal> {
    if power.feed.0 & power.ground.0 != 0 {
        return Err(Refusal::Conflict);
    }
    let on = |pins: Pins, possible: u64| {
        let positions = package.positions(pins);
        let connectable = positions.without(Positions::from_bits(possible)).is_empty();
        (connectable && package.has(pins) && !pins.is_empty()).then_some(positions)
    };
    let feed = on(power.feed, capabilities.feed).ok_or(Refusal::Unconnectable)?;
    let ground = on(power.ground, capabilities.ground).ok_or(Refusal::Unconnectable)?;
    let (voltage, selectable) = match power.voltage {
        dipsift_wire::Voltage::V3_3 => (Voltage::V3_3, capabilities.v3_3),
        dipsift_wire::Voltage::V5 => (Voltage::V5, capabilities.v5),
    };
    if !selectable {
        return Err(Refusal::Unconnectable);
    }
    if power.limit_ua == 0 || power.limit_ua > capabilities.current_max_ua {
        return Err(Refusal::Limit);
    }
    Ok(Connection { feed, ground, voltage, limit: Microamps(power.limit_ua) })
}
