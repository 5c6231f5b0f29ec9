//! The bus: every register that the image may use, and the fixture behind the pins.

use crate::clocks::{Clocks, Sources};
use crate::converter::Converter;
use crate::core_registers::{CoreRegisters, Wanted};
use crate::flash::Flash;
use crate::lines::Lines;
use crate::ports::{PORTS, Ports, index};
use crate::serial::{Received, Serial, Stored};
use crate::watchdog::Watchdog;
use crate::{Fixture, PinEvent, Trouble};
use dipsift_nucleo_f429zi::map::{
    BLEEDER, BUTTON, FEEDS, FIRM_ENABLE, GROUNDS, LAMP_GO, LAMP_NO_GO, LAMP_NOT_DECIDED,
    LIGHT_ENABLE, LIMITER_FAULT, Pin, Port, SERIAL_RX, SERIAL_TX, SOCKET, SUPPLY_ENABLE,
};

/// Numbers of interrupts (ST RM0090, vector table).
pub(crate) const DETECTOR: u32 = 1;
pub(crate) const CONVERTERS: u32 = 18;
pub(crate) const LIMITER: u32 = 40;

/// What resets the controller; the values are flags of ST RM0090, RCC_CSR.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u32)]
pub enum Reset {
    /// The supply came up: power-on, brown-out and pin flags.
    PowerOn = 0x0e00_0000,
    /// The pin.
    Pin = 1 << 26,
    /// The brown-out circuit, with the supply still above the power-on level.
    BrownOut = 1 << 26 | 1 << 25,
    /// The image asked for it.
    Software = 1 << 26 | 1 << 28,
    /// The independent watchdog.
    Watchdog = 1 << 26 | 1 << 29,
}

/// The controller without its processor, and the fixture.
#[derive(Debug)]
pub struct Board {
    pub(crate) cycles: u64,
    pub(crate) instructions: u64,
    pub(crate) clocks: Clocks,
    pub(crate) ports: Ports,
    pub(crate) serial: Serial,
    pub(crate) lines: Lines,
    pub(crate) core: CoreRegisters,
    pub(crate) flash: Flash,
    pub(crate) watchdog: Watchdog,
    converters: [Converter; 2],
    converter_clock: u32,
    fixture: Fixture,
    pub(crate) button: bool,
    /// The external clock has failed under its watch.
    pub(crate) clock_lost: bool,
    pub(crate) wanted_reset: Option<Reset>,
    pub(crate) closed: Option<(u32, u32)>,
    pub(crate) trouble: Option<Trouble>,
    /// When something happens next, in cycles.
    pub(crate) next_event: u64,
    /// Instructions and cycles at which levels of port E were written; only while it is a list.
    pub(crate) applied: Option<Vec<(u64, u64)>>,
    /// What happens at the socket's pins; only while it is a list.
    pub(crate) events: Option<Vec<PinEvent>>,
    /// Instructions that only wait.
    pub(crate) waiting: u64,
    /// Whether an interrupt is asserted.
    pub(crate) asserted: bool,
    /// The stretches without interrupts; only while they are watched.
    pub(crate) masked: Option<Masked>,
    /// When the run ends, in cycles.
    pub(crate) stop_at: u64,
    /// Whether idle rounds are passed over, and whether this round has changed a pin.
    skips: bool,
    moved: bool,
}

/// How far an idle round is passed over at most.
const SKIP_NS: u64 = 50_000;

/// How long the processor takes no interrupt, masked or in a handler, in cycles.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Masked {
    since: Option<u64>,
    longest: u64,
}

impl Masked {
    /// Takes note of a block that begins at this cycle.
    pub(crate) fn note(&mut self, masked: bool, cycles: u64) {
        let since = *self.since.get_or_insert(cycles);
        self.longest = self.longest.max(cycles - since);
        if !masked {
            self.since = None;
        }
    }
}

impl Board {
    pub(crate) fn new(fixture: Fixture, flash: Flash) -> Self {
        Self {
            cycles: 0,
            instructions: 0,
            clocks: Clocks::new(Sources::default(), Reset::PowerOn as u32, 3),
            ports: Ports::new(),
            serial: Serial::new(),
            lines: Lines::new(false),
            core: CoreRegisters::default(),
            flash,
            watchdog: Watchdog::new(),
            converters: [Converter::new(), Converter::new()],
            converter_clock: 0,
            fixture,
            button: false,
            clock_lost: false,
            wanted_reset: None,
            closed: None,
            trouble: None,
            next_event: 0,
            applied: None,
            events: None,
            waiting: 0,
            asserted: false,
            masked: None,
            stop_at: 0,
            skips: false,
            moved: false,
        }
    }

    /// Registers as after a reset; time, fixture and what is on the line stay.
    pub(crate) fn reset(&mut self, reset: Reset) -> Result<(), Trouble> {
        let nanoseconds = self.nanoseconds();
        self.clocks = Clocks::new(self.clocks.sources, reset as u32, 3);
        self.clocks.resume(self.cycles, nanoseconds);
        self.ports = Ports::new();
        let fresh = Serial::new();
        let old = std::mem::replace(&mut self.serial, fresh);
        (self.serial.incoming, self.serial.outgoing) = (old.incoming, old.outgoing);
        self.serial.received = old.received;
        self.flash.reset();
        self.lines = Lines::new(false);
        self.core = CoreRegisters::default();
        self.watchdog = Watchdog::new();
        self.converters = [Converter::new(), Converter::new()];
        (self.closed, self.clock_lost, self.wanted_reset) = (None, false, None);
        self.next_event = self.cycles;
        self.touched()
    }

    /// The fixture.
    pub fn fixture(&self) -> &Fixture {
        &self.fixture
    }

    /// The fixture, to put chips in.
    pub fn fixture_mut(&mut self) -> &mut Fixture {
        self.next_event = self.cycles;
        &mut self.fixture
    }

    /// Nanoseconds since the start.
    pub fn nanoseconds(&self) -> u64 {
        self.clocks.nanoseconds(self.cycles)
    }

    /// How often the image has fed the watchdog, which it does once a round of its loop.
    pub fn watchdog_fed(&self) -> u64 {
        self.watchdog.fed
    }

    /// Watches from now on how long the processor takes no interrupt, and returns the longest
    /// stretch that was seen before, in cycles.
    pub fn watch_masks(&mut self) -> u64 {
        self.masked.replace(Masked::default()).map_or(0, |masked| masked.longest)
    }

    /// The core's clock.
    pub fn core_hertz(&self) -> u64 {
        self.clocks.hertz()
    }

    /// Whether a transmitted byte has arrived.
    pub(crate) fn has_output(&self) -> bool {
        let first = self.serial.outgoing.front();
        first.is_some_and(|&(due, _)| due <= self.nanoseconds())
    }

    /// The lamps: go, no-go, not decided.
    pub fn lamps(&self) -> [bool; 3] {
        [LAMP_GO, LAMP_NO_GO, LAMP_NOT_DECIDED].map(|pin| self.ports.driven(pin) == Some(true))
    }

    /// Whether the rail is discharged.
    pub fn is_bleeding(&self) -> bool {
        self.ports.driven(BLEEDER) == Some(true)
    }

    /// What the ports' registers do that the safe state forbids, pin by pin. Switches that are not
    /// driven are off by the fixture's resistors, keepers too.
    pub fn unsafe_pins(&self) -> Vec<String> {
        let mut found = Vec::new();
        for (position, pin) in (1..).zip(SOCKET) {
            if !self.ports.is_input(pin) {
                found.push(format!("position {position} at {pin} is no input"));
            }
        }
        let feeds = FEEDS.iter().map(|feed| ("feed", feed.switch));
        let grounds = GROUNDS.iter().map(|ground| ("ground", ground.switch));
        for (name, pin) in feeds.chain(grounds).chain([("supply", SUPPLY_ENABLE)]) {
            if self.ports.driven(pin) == Some(true) {
                found.push(format!("{name} at {pin} is on"));
            }
        }
        for pin in [LIGHT_ENABLE, FIRM_ENABLE] {
            if self.ports.driven(pin) == Some(false) {
                found.push(format!("keepers at {pin} are on"));
            }
        }
        found
    }

    /// Whether the image has started so far that bytes are received.
    pub fn is_listening(&self) -> bool {
        self.serial.is_listening() && self.ports.is_serial(SERIAL_RX)
    }

    /// What has become of the bytes on the line to the board.
    pub fn received(&self) -> Received {
        self.serial.received
    }

    /// Passes over rounds of the image's loop in which nothing comes and nothing changes, or no
    /// longer does: time goes on, by 50 µs at most, to where the next byte comes. The order of what
    /// happens stays, its times get coarser. Off at first.
    pub fn skip_idle_rounds(&mut self, skips: bool) {
        self.skips = skips;
    }

    /// The image's loop has come round.
    fn come_round(&mut self) {
        let moved = std::mem::take(&mut self.moved);
        if !self.skips || moved || self.serial.unread > 0 || self.asserted {
            return;
        }
        let now = self.nanoseconds();
        let due = self.serial.due().min(self.flash.due()).min(now + SKIP_NS);
        let skipped = self.clocks.cycles(due.saturating_sub(now));
        self.cycles = (self.cycles + skipped).min(self.stop_at).max(self.cycles);
    }

    fn converter_hertz(&self) -> u64 {
        self.clocks.second_bus_hertz() / u64::from(2 + 2 * self.converter_clock)
    }

    /// The fixture after a change at the ports.
    fn touched(&mut self) -> Result<(), Trouble> {
        self.fixture.advance_to(self.clocks.nanoseconds(self.cycles));
        self.fixture.update(&self.ports)?;
        if let Some(events) = &mut self.events {
            let (driven, high) = self.fixture.drivers();
            let last = events.iter().rev().find_map(|event| match *event {
                PinEvent::Driven { driven, high, .. } => Some((driven, high)),
                PinEvent::Read { .. } => None,
            });
            if last != Some((driven, high)) {
                let at = self.clocks.nanoseconds(self.cycles);
                events.push(PinEvent::Driven { at, driven, high });
            }
        }
        self.moved = true;
        self.limiter_moved();
        Ok(())
    }

    fn limiter_moved(&mut self) {
        let limited = self.fixture.is_limited();
        self.lines.set_limiter(!limited);
        self.look_at_interrupts();
    }

    pub(crate) fn look_at_interrupts(&mut self) {
        self.asserted = self.clock_lost || self.interrupt().is_some();
    }

    /// The asserted and enabled interrupt that comes first.
    pub(crate) fn interrupt(&self) -> Option<u32> {
        let asserted = [
            (DETECTOR, self.lines.interrupts_detector()),
            (CONVERTERS, self.converters.iter().any(Converter::interrupts)),
            (LIMITER, self.lines.interrupts_limiter()),
        ];
        asserted
            .into_iter()
            .find(|&(number, on)| on && self.core.is_enabled(number))
            .map(|(number, _)| number)
    }

    /// Lets happen what is due. A byte for the memory comes back; ask again until none does.
    pub(crate) fn tick(&mut self) -> Option<Stored> {
        let now = self.nanoseconds();
        let wired =
            self.ports.is_serial(SERIAL_RX) && self.clocks.has_apb1(18) && self.clocks.has_ahb1(21);
        while self.serial.due() <= now {
            if let Some(stored) = self.serial.take_in(now, wired) {
                return Some(stored);
            }
        }
        self.settle_flash();
        if self.watchdog.due() <= now {
            self.wanted_reset = Some(Reset::Watchdog);
        }
        let hertz = self.converter_hertz();
        for number in 0..self.converters.len() {
            if self.converters[number].due() > now {
                continue;
            }
            self.fixture.advance_to(now);
            match self.fixture.reading(self.converters[number].channel(), &self.ports) {
                Ok(reading) => self.converters[number].finish(reading, now, hertz),
                Err(trouble) => self.trouble = Some(trouble),
            }
            self.limiter_moved();
        }
        let due = self
            .converters
            .iter()
            .map(Converter::due)
            .chain([self.serial.due(), self.watchdog.due(), self.flash.due()])
            .min()
            .unwrap_or(u64::MAX);
        self.next_event = if due == u64::MAX {
            u64::MAX
        } else {
            self.cycles + 1 + self.clocks.cycles(due.saturating_sub(now))
        };
        None
    }

    fn clocked(on: bool, name: &'static str) -> Result<(), Trouble> {
        if on { Ok(()) } else { Err(Trouble::NoClock(name)) }
    }

    /// The peripheral at an address: its number and the offset within it, once its clock is on.
    fn locate(&self, address: u32, size: usize) -> Result<(Part, u32), Trouble> {
        let clocks = &self.clocks;
        let (part, offset, on, name) = match address {
            0x4000_3000..=0x4000_33ff => (Part::Watchdog, address & 0x3ff, true, "IWDG"),
            0x4000_4800..=0x4000_4bff => {
                (Part::Serial, address & 0x3ff, clocks.has_apb1(18), "USART3")
            }
            0x4000_7000..=0x4000_73ff => (Part::Power, address & 0x3ff, clocks.has_apb1(28), "PWR"),
            0x4001_2000..=0x4001_20ff => (Part::First, address & 0xff, clocks.has_apb2(8), "ADC1"),
            0x4001_2100..=0x4001_21ff => (Part::Second, address & 0xff, clocks.has_apb2(9), "ADC2"),
            0x4001_2304 => (Part::Common, 4, clocks.has_apb2(8), "ADC"),
            0x4001_3800..=0x4001_3bff => {
                (Part::Routing, address & 0x3ff, clocks.has_apb2(14), "SYSCFG")
            }
            0x4001_3c00..=0x4001_3fff => (Part::External, address & 0x3ff, true, "EXTI"),
            0x4002_0000..=0x4002_1bff => {
                let port = (address - 0x4002_0000) / 0x400;
                (Part::Port(port as usize), address & 0x3ff, clocks.has_ahb1(port), "a port")
            }
            0x4002_3800..=0x4002_3bff => (Part::Clocks, address & 0x3ff, true, "RCC"),
            0x4002_3c00..=0x4002_3fff => (Part::Flash, address & 0x3ff, true, "FLASH"),
            0x4002_6000..=0x4002_63ff => {
                (Part::Stream, address & 0x3ff, clocks.has_ahb1(21), "DMA1")
            }
            0xe000_0000..=0xe00f_ffff => (Part::Core, address, true, "core"),
            _ => return Err(Trouble::Nothing(address)),
        };
        let half = matches!(part, Part::Watchdog | Part::Serial);
        if !address.is_multiple_of(4) || !(size == 4 || size == 2 && half) {
            return Err(Trouble::Width(address, size));
        }
        Self::clocked(on, name)?;
        Ok((part, offset))
    }

    fn settle_flash(&mut self) {
        if self.flash.tick(self.nanoseconds()) {
            self.wanted_reset = Some(Reset::PowerOn);
        }
    }

    /// The bus waits while the second bank is written.
    fn wait_for_flash(&mut self) {
        if self.flash.due() < u64::MAX {
            let left = self.flash.due().saturating_sub(self.nanoseconds());
            self.cycles += self.clocks.cycles(left) + 1;
            self.settle_flash();
        }
    }

    /// A read of the second bank of the flash by the processor.
    pub(crate) fn load(&mut self, at: usize, size: usize) -> Result<u64, Trouble> {
        self.wait_for_flash();
        self.flash.load(at, size)
    }

    /// A write to it.
    pub(crate) fn store(&mut self, at: usize, size: usize, value: u32) {
        self.wait_for_flash();
        self.flash.store(at, size, value, self.nanoseconds());
        self.next_event = self.cycles;
    }

    fn input(&mut self, port: usize) -> u32 {
        let socket = [Port::D, Port::E, Port::F].into_iter().any(|other| index(other) == port);
        let levels = if socket {
            let at = self.nanoseconds();
            if let Some(events) = &mut self.events {
                events.push(PinEvent::Read { at, port });
            }
            self.fixture.advance_to(at);
            self.fixture.levels()
        } else {
            0
        };
        let outside = |pin: Pin| -> bool {
            match pin {
                BUTTON => self.button,
                LIMITER_FAULT => !self.fixture.is_limited() && self.ports.is_pulled_up(pin),
                // Idle line.
                SERIAL_RX | SERIAL_TX => true,
                _ => false,
            }
        };
        let letters = [Port::A, Port::B, Port::C, Port::D, Port::E, Port::F, Port::G][port];
        let others = (0..16).fold(0, |word, bit| {
            let pin = Pin { port: letters, bit };
            word | u32::from(self.ports.driven(pin).unwrap_or_else(|| outside(pin))) << bit
        });
        match letters {
            Port::E => levels as u32 & 0xffff,
            Port::F => (levels >> 16) as u32 & 0xffff,
            Port::D => (levels >> 32) as u32 & 0xff | others & 0xff00,
            _ => others,
        }
    }

    /// A read by the processor.
    pub(crate) fn read(&mut self, address: u32, size: usize) -> Result<u32, Trouble> {
        let (part, offset) = self.locate(address, size)?;
        match part {
            Part::Watchdog => self.watchdog.read(offset, self.nanoseconds()),
            Part::Serial => self.serial.read(offset, self.nanoseconds()),
            Part::Power => self.lines.read_power(offset),
            Part::First => self.converters[0].read(offset),
            Part::Second => self.converters[1].read(offset),
            Part::Common => Ok(self.converter_clock << 16),
            Part::Routing => self.lines.read_routing(offset),
            Part::External => self.lines.read_external(offset),
            Part::Port(port) if offset == 0x10 => Ok(self.input(port)),
            Part::Port(port) => self.ports.read(port, offset),
            Part::Clocks => self.clocks.read(offset, self.cycles),
            Part::Flash if matches!(offset, 0x00 | 0x14) => self.clocks.read_flash(offset),
            Part::Flash => {
                self.settle_flash();
                self.flash.read(offset)
            }
            Part::Stream => self.serial.read_stream(offset),
            Part::Core => self.core.read(offset, self.cycles),
        }
    }

    /// A write by the processor.
    pub(crate) fn write(&mut self, address: u32, size: usize, value: u32) -> Result<(), Trouble> {
        let (part, offset) = self.locate(address, size)?;
        let now = self.nanoseconds();
        match part {
            // What is due moves to a later time only.
            Part::Watchdog => {
                let fed = self.watchdog.fed;
                self.watchdog.write(offset, value, now)?;
                if self.watchdog.fed != fed {
                    self.come_round();
                }
                return Ok(());
            }
            Part::Serial => {
                self.serial.write(offset, value, now, self.clocks.first_bus_hertz())?;
            }
            Part::Power => self.lines.write_power(offset, value)?,
            Part::First | Part::Second => {
                let hertz = self.converter_hertz();
                self.converters[usize::from(part == Part::Second)]
                    .write(offset, value, now, hertz)?;
            }
            Part::Common if value & !(3 << 16) == 0 => self.converter_clock = value >> 16,
            Part::Common => return Err(Trouble::unmodelled("ADC", 0x304)),
            Part::Routing => self.lines.write_routing(offset, value)?,
            Part::External => self.lines.write_external(offset, value)?,
            Part::Port(port) => {
                let changed = self.ports.write(port, offset, value)?;
                if let Some(applied) = &mut self.applied
                    && port == index(Port::E)
                    && offset == 0x18
                {
                    applied.push((self.instructions, self.cycles));
                }
                return if changed { self.touched() } else { Ok(()) };
            }
            Part::Clocks => self.clocks.write(offset, value, self.cycles)?,
            Part::Flash if offset == 0x00 => {
                self.clocks.write_flash(offset, value)?;
                self.flash.access(value)?;
            }
            Part::Flash => {
                // The bus waits for a running operation with the control register only.
                if offset == 0x10 {
                    self.wait_for_flash();
                }
                self.flash.write(offset, value, self.clocks.nanoseconds(self.cycles))?;
            }
            Part::Stream => self.serial.write_stream(offset, value)?,
            Part::Core => match self.core.write(offset, value, self.cycles)? {
                Wanted::Nothing => {}
                Wanted::Reset => self.wanted_reset = Some(Reset::Software),
                Wanted::Close(base, size) => self.closed = Some((base, size)),
            },
        }
        self.next_event = self.cycles;
        self.look_at_interrupts();
        Ok(())
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    Watchdog,
    Serial,
    Power,
    First,
    Second,
    Common,
    Routing,
    External,
    Port(usize),
    Clocks,
    Flash,
    Stream,
    Core,
}

const _: () = assert!(PORTS == 7);

#[cfg(test)]
#[path = "board_tests.rs"]
mod tests;
