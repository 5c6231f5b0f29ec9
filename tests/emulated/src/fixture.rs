//! The fixture between the controller's pins and the simulator's socket.

use crate::Trouble;
use crate::ports::{Ports, index};
use dipsift_nucleo_f429zi::fixture::{
    ADC_STEPS, DRIVE_MILLIVOLTS, FINE_SHUNT_MILLIOHMS, LIMITER_MILLIAMPS, SENSE_GAIN,
    SHUNT_MILLIOHMS,
};
use dipsift_nucleo_f429zi::map::{
    BLEEDER, CURRENT, FEEDS, FINE_CURRENT, FINE_RANGE, FIRM_ENABLE, FIRM_LEVEL, GROUNDS,
    LIGHT_ENABLE, LIGHT_LEVEL, LIMITER_RESET, Pin, Port, SUPPLY_5V, SUPPLY_ENABLE,
};
use dipsift_pins::{
    Clock, Connection, Keepers, Microamps, Positions, Rail, Socket, Supply, Voltage,
};
use dipsift_simulator::SimulatedSocket;
use embedded_hal::delay::DelayNs;

/// One time at which feed current began to flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PowerOn {
    /// The fed positions.
    pub feed: Positions,
    /// The grounded positions.
    pub ground: Positions,
    /// The rail.
    pub voltage: Voltage,
}

/// Socket, switches and keepers.
#[derive(Debug)]
pub struct Fixture {
    socket: SimulatedSocket,
    driven: u64,
    high: u64,
    keepers: Keepers,
    supply: Option<PowerOn>,
    grounds: Positions,
    /// The hardware limiter has acted and holds.
    limited: bool,
    fine: bool,
    power_ons: Vec<(u64, PowerOn)>,
    /// The supply current, until something changes.
    current: Option<Microamps>,
    /// What is drawn from the rail beside the chip.
    load: Microamps,
}

impl Fixture {
    /// The reference fixture with an empty socket.
    pub fn new(seed: u64) -> Self {
        // The limiter is the simulator's; the image's own limit is to act below it. Readings are
        // as fine as the converter, whatever the simulator's station would round to.
        let fixture = dipsift_simulator::Fixture {
            current_max_ua: LIMITER_MILLIAMPS * 1_000,
            current_step_ua: 1,
            ..dipsift_simulator::Fixture::default()
        };
        Self {
            driven: 0,
            high: 0,
            keepers: Keepers::OFF,
            supply: None,
            grounds: Positions::NONE,
            limited: false,
            fine: false,
            power_ons: Vec::new(),
            current: None,
            load: Microamps(0),
            socket: SimulatedSocket::on(fixture, seed),
        }
    }

    /// The socket.
    pub fn socket(&self) -> &SimulatedSocket {
        &self.socket
    }

    /// The socket, to put chips in.
    pub fn socket_mut(&mut self) -> &mut SimulatedSocket {
        self.current = None;
        &mut self.socket
    }

    /// The driven positions, position 1 in bit 0, and those of them that are high.
    pub fn drivers(&self) -> (u64, u64) {
        (self.driven, self.high)
    }

    /// Something draws this from the rail beside the chip, while there is a supply.
    pub fn load(&mut self, load: Microamps) {
        self.load = load;
        self.current = None;
    }

    /// Every time at which the feed was turned on, in nanoseconds.
    pub fn power_ons(&self) -> &[(u64, PowerOn)] {
        &self.power_ons
    }

    /// Whether nothing is driven, fed, grounded or kept.
    pub fn is_safe(&self) -> bool {
        self.driven == 0
            && self.supply.is_none()
            && self.grounds.is_empty()
            && self.keepers == Keepers::OFF
    }

    /// Whether a position is fed.
    pub fn is_powered(&self) -> bool {
        self.supply.is_some()
    }

    /// Whether the limiter holds the supply off; its signal is low then.
    pub fn is_limited(&self) -> bool {
        self.limited
    }

    /// Lets time pass in the socket.
    pub(crate) fn advance_to(&mut self, nanoseconds: u64) {
        let mut left = nanoseconds.saturating_sub(self.socket.now().0);
        if left > 0 {
            self.current = None;
        }
        while left > 0 {
            let part = left.min(u32::MAX.into());
            self.socket.delay_ns(part as u32);
            left -= part;
        }
    }

    /// Takes over what the ports drive now.
    pub(crate) fn update(&mut self, ports: &Ports) -> Result<(), Trouble> {
        self.update_drivers(ports);
        // With nothing driven, resistors on the fixture hold keepers, switches and supply off.
        let on = |pin: Pin| ports.driven(pin) == Some(true);
        let rail = |enable: Pin, level: Pin| match (ports.driven(enable), on(level)) {
            (Some(false), true) => Rail::High,
            (Some(false), false) => Rail::Low,
            _ => Rail::Off,
        };
        let keepers =
            Keepers { light: rail(LIGHT_ENABLE, LIGHT_LEVEL), firm: rail(FIRM_ENABLE, FIRM_LEVEL) };
        if keepers != self.keepers {
            self.keepers = keepers;
            self.socket.keep(keepers);
            self.current = None;
        }
        self.fine = on(FINE_RANGE);
        if on(LIMITER_RESET) {
            self.limited = false;
        }
        let set = |switched: &mut dyn Iterator<Item = (u8, Pin)>| {
            switched
                .filter(|&(_, pin)| on(pin))
                .fold(Positions::NONE, |set, (position, _)| set | Positions::one(position))
        };
        let feed = set(&mut FEEDS.iter().map(|feed| (feed.position, feed.switch)));
        let ground = set(&mut GROUNDS.iter().map(|ground| (ground.position, ground.switch)));
        if feed.overlaps(ground) {
            return Err(Trouble::Hazard("a position is fed and grounded"));
        }
        let enabled = on(SUPPLY_ENABLE);
        if enabled && on(BLEEDER) {
            return Err(Trouble::Hazard("the supply is on while the bleeder is"));
        }
        let voltage = if on(SUPPLY_5V) { Voltage::V5 } else { Voltage::V3_3 };
        let powered = enabled && !feed.is_empty() && !self.limited;
        self.connect(powered.then_some(PowerOn { feed, ground, voltage }), ground)
    }

    fn update_drivers(&mut self, ports: &Ports) {
        let (e, f, d) = (index(Port::E), index(Port::F), index(Port::D));
        let outputs = |port: usize| {
            (0..16).fold(0_u64, |set, bit| {
                set | u64::from(ports.modes(port) >> (2 * bit) & 3 == 1) << bit
            })
        };
        let join = |of: &dyn Fn(usize) -> u64| of(e) | of(f) << 16 | (of(d) & 0xff) << 32;
        let driven = join(&outputs);
        let high = join(&|port| ports.output(port).into()) & driven;
        if (driven, high) != (self.driven, self.high) {
            (self.driven, self.high) = (driven, high);
            let set = Positions::from_bits;
            let drive = self.socket.prepare_drive(set(driven), set(high));
            self.socket.apply(&drive);
            self.current = None;
            self.look_at_limiter();
        }
    }

    fn connect(&mut self, supply: Option<PowerOn>, grounds: Positions) -> Result<(), Trouble> {
        if supply == self.supply && grounds == self.grounds {
            return Ok(());
        }
        if let (Some(before), Some(now)) = (self.supply, supply)
            && before != now
        {
            return Err(Trouble::Hazard("switches or voltage changed while the supply is on"));
        }
        (self.supply, self.grounds) = (supply, grounds);
        self.current = None;
        if let Some(power_on) = supply {
            self.power_ons.push((self.socket.now().0, power_on));
        } else if grounds.is_empty() {
            self.socket.disconnect();
            return Ok(());
        }
        let connection = Connection {
            feed: supply.map_or(Positions::NONE, |supply| supply.feed),
            ground: grounds,
            voltage: supply.map_or(Voltage::V3_3, |supply| supply.voltage),
            limit: Microamps(LIMITER_MILLIAMPS * 1_000),
        };
        // A trip leaves its mark in the socket; nothing else can be refused here.
        let _ = self.socket.connect(&connection);
        self.look_at_limiter();
        Ok(())
    }

    /// The limiter: the simulator cuts the feed, and the latch holds it off.
    fn look_at_limiter(&mut self) {
        if self.supply.is_some() && self.socket.tripped() {
            self.limited = true;
            self.supply = None;
        }
    }

    /// The levels that the controller's pins of the socket read.
    pub(crate) fn levels(&mut self) -> u64 {
        let sample = self.socket.sample();
        self.socket.high(&sample).bits()
    }

    fn current(&mut self) -> Microamps {
        if self.supply.is_none() {
            return Microamps(0);
        }
        self.look_at_limiter();
        let socket = &mut self.socket;
        let load = self.load.0;
        *self.current.get_or_insert_with(|| Microamps(socket.current().0 + load))
    }

    /// What the converter reads at a channel.
    pub(crate) fn reading(&mut self, channel: u8, ports: &Ports) -> Result<u16, Trouble> {
        let feed = FEEDS.iter().find(|feed| feed.voltage.channel == channel);
        let (pin, millivolts) = if let Some(feed) = feed {
            let at = self.socket.voltage_at(feed.position).map_or(0, |millivolts| millivolts.0);
            (feed.voltage.pin, f64::from(at) / 2.0)
        } else if channel == CURRENT.channel {
            (CURRENT.pin, self.across(SHUNT_MILLIOHMS))
        } else if channel == FINE_CURRENT.channel {
            // Bridged, the fine shunt shows nothing.
            (FINE_CURRENT.pin, if self.fine { self.across(FINE_SHUNT_MILLIOHMS) } else { 0.0 })
        } else {
            return Err(Trouble::Misuse("a channel is converted that measures nothing"));
        };
        if !ports.is_analog(pin) {
            return Err(Trouble::Misuse("a pin is converted that is no analog input"));
        }
        let steps = f64::from(ADC_STEPS);
        Ok((millivolts / f64::from(DRIVE_MILLIVOLTS) * steps).round().clamp(0.0, steps - 1.0)
            as u16)
    }

    /// Millivolts behind the amplifier of a shunt.
    fn across(&mut self, milliohms: u32) -> f64 {
        f64::from(self.current().0) * f64::from(milliohms) * f64::from(SENSE_GAIN) * 1e-6
    }
}
