//! Pins: the ports at start-up, single pins, and the embedded-hal traits for lamps, button and
//! switches.

use core::convert::Infallible;
use dipsift_nucleo_f429zi::map::{
    BLEEDER, BUTTON, CURRENT, FEEDS, FINE_CURRENT, FINE_RANGE, FIRM_ENABLE, FIRM_LEVEL, GROUNDS,
    LAMP_GO, LAMP_NO_GO, LAMP_NOT_DECIDED, LIGHT_ENABLE, LIGHT_LEVEL, LIMITER_FAULT, LIMITER_RESET,
    Pin, Port, SUPPLY_5V, SUPPLY_ENABLE,
};
use dipsift_nucleo_f429zi::words::{D_UPPER_MODES, PORTS};
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use stm32f4::stm32f429::{self as pac, gpiok::RegisterBlock};

/// The registers of a port.
pub(crate) const fn registers(port: Port) -> &'static RegisterBlock {
    let address = match port {
        Port::A => pac::GPIOA::PTR.cast(),
        Port::B => pac::GPIOB::PTR.cast(),
        Port::C => pac::GPIOC::PTR,
        Port::D => pac::GPIOD::PTR,
        Port::E => pac::GPIOE::PTR,
        Port::F => pac::GPIOF::PTR,
        Port::G => pac::GPIOG::PTR,
        Port::H => pac::GPIOH::PTR,
    };
    // SAFETY: the address is the port's; all ports have the same registers, and A and B have types
    // of their own only for their reset values. Shared access is volatile.
    unsafe { &*address }
}

/// Sets the level of a pin, driven or not. One write, so interrupts and the loop do not disturb
/// each other.
#[inline]
pub(crate) fn set(pin: Pin, high: bool) {
    let bit = if high { 1 << pin.bit } else { 1 << (pin.bit + 16) };
    set_word(pin.port, bit);
}

/// Writes a set/reset register.
#[inline]
pub(crate) fn set_word(port: Port, word: u32) {
    // SAFETY: every value is valid.
    registers(port).bsrr().write(|w| unsafe { w.bits(word) });
}

/// Writes a mode register.
#[inline]
pub(crate) fn set_modes(port: Port, word: u32) {
    // SAFETY: every value is valid.
    registers(port).moder().write(|w| unsafe { w.bits(word) });
}

/// Reads a port.
#[inline]
pub(crate) fn levels(port: Port) -> u16 {
    registers(port).idr().read().bits() as u16
}

/// Whether a pin is high.
#[inline]
pub(crate) fn is_high(pin: Pin) -> bool {
    levels(pin.port) >> pin.bit & 1 == 1
}

/// Puts two bits a pin into a register that has them for every pin.
fn two_bits(word: u32, bit: u8, value: u32) -> u32 {
    word & !(3 << (2 * bit)) | value << (2 * bit)
}

fn mode(pin: Pin, value: u32) {
    let port = registers(pin.port);
    // SAFETY: every value is valid.
    port.moder().modify(|r, w| unsafe { w.bits(two_bits(r.bits(), pin.bit, value)) });
}

const OUTPUT: u32 = 1;
const ANALOG: u32 = 3;
const PULL_UP: u32 = 1;

/// Brings all pins into the safe state and then, at their idle levels, into their modes. The
/// first thing after a reset.
pub(crate) fn start() {
    // SAFETY: start-up owns the clock controller; the bits enable the clocks of ports A to G.
    let rcc = unsafe { &*pac::RCC::PTR };
    // SAFETY: as above.
    rcc.ahb1enr().modify(|r, w| unsafe { w.bits(r.bits() | 0x7f) });
    // The clock needs two cycles to arrive (ST ES0206, delay after a clock is enabled).
    let _ = rcc.ahb1enr().read().bits();
    // Levels first, so that no pin starts with the wrong one.
    super::safe::everything_off();
    for lamp in [LAMP_GO, LAMP_NO_GO, LAMP_NOT_DECIDED] {
        set(lamp, false);
    }
    let single = [
        LIGHT_ENABLE,
        FIRM_ENABLE,
        LIGHT_LEVEL,
        FIRM_LEVEL,
        BLEEDER,
        FINE_RANGE,
        LIMITER_RESET,
        LAMP_GO,
        LAMP_NO_GO,
        LAMP_NOT_DECIDED,
    ];
    for pin in single.into_iter().chain(FEEDS.iter().map(|feed| feed.switch)) {
        mode(pin, OUTPUT);
    }
    for ground in GROUNDS.iter().filter(|ground| ground.switch.port != Port::D) {
        mode(ground.switch, OUTPUT);
    }
    for analog in FEEDS.iter().map(|feed| feed.voltage).chain([CURRENT, FINE_CURRENT]) {
        mode(analog.pin, ANALOG);
    }
    let limiter = registers(LIMITER_FAULT.port);
    // SAFETY: every value is valid.
    limiter
        .pupdr()
        .modify(|r, w| unsafe { w.bits(two_bits(r.bits(), LIMITER_FAULT.bit, PULL_UP)) });
    // Alternate function 7 is USART3 on PD8 and PD9 (ST DS9405, alternate functions).
    // SAFETY: every value is valid.
    registers(Port::D).afrh().write(|w| unsafe { w.bits(0x77) });
    set_modes(Port::D, D_UPPER_MODES);
    // Edges of some ten nanoseconds: the series resistors need no faster ones.
    const MEDIUM: u32 = 0x5555_5555;
    for port in PORTS {
        // SAFETY: every value is valid.
        registers(port).ospeedr().write(|w| unsafe { w.bits(MEDIUM) });
    }
    set(SUPPLY_ENABLE, false);
    set(SUPPLY_5V, false);
}

/// A pin that the firmware drives: a lamp or a switch.
#[derive(Clone, Copy)]
pub(crate) struct Output(pub(crate) Pin);

/// A pin that the firmware reads.
#[derive(Clone, Copy)]
pub(crate) struct Input(Pin);

/// The button.
pub(crate) const BUTTON_INPUT: Input = Input(BUTTON);

impl ErrorType for Output {
    type Error = Infallible;
}

impl OutputPin for Output {
    fn set_low(&mut self) -> Result<(), Infallible> {
        set(self.0, false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        set(self.0, true);
        Ok(())
    }
}

impl ErrorType for Input {
    type Error = Infallible;
}

impl InputPin for Input {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(is_high(self.0))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!is_high(self.0))
    }
}
