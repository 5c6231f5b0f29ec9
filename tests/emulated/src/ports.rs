//! The ports' registers.

use crate::Trouble;
use dipsift_nucleo_f429zi::map::{Pin, Port};

/// Ports A to G.
pub(crate) const PORTS: usize = 7;

/// One port.
#[derive(Clone, Copy, Debug, Default)]
struct Registers {
    modes: u32,
    speeds: u32,
    pulls: u32,
    output: u16,
    functions_high: u32,
}

/// All ports.
#[derive(Debug)]
pub(crate) struct Ports([Registers; PORTS]);

pub(crate) const fn index(port: Port) -> usize {
    port as usize
}

impl Ports {
    /// After a reset (ST RM0090, GPIO reset values).
    pub(crate) fn new() -> Self {
        let mut ports = [Registers::default(); PORTS];
        ports[0] = Registers {
            modes: 0xa800_0000,
            speeds: 0x0c00_0000,
            pulls: 0x6400_0000,
            ..Registers::default()
        };
        ports[1] = Registers { modes: 0x0280, speeds: 0xc0, pulls: 0x0100, ..Registers::default() };
        Self(ports)
    }

    fn mode(&self, pin: Pin) -> u32 {
        self.0[index(pin.port)].modes >> (2 * pin.bit) & 3
    }

    /// What the port drives a pin to; `None` where it does not drive it.
    pub(crate) fn driven(&self, pin: Pin) -> Option<bool> {
        (self.mode(pin) == 1).then(|| self.0[index(pin.port)].output >> pin.bit & 1 == 1)
    }

    /// Whether a pin is connected to the serial port: mode 2 with function 7.
    pub(crate) fn is_serial(&self, pin: Pin) -> bool {
        let functions = self.0[index(pin.port)].functions_high;
        self.mode(pin) == 2 && pin.bit >= 8 && functions >> (4 * (pin.bit - 8)) & 0xf == 7
    }

    /// Whether a pin is an input and nothing else.
    pub(crate) fn is_input(&self, pin: Pin) -> bool {
        self.mode(pin) == 0
    }

    /// Whether a pin is an analog input.
    pub(crate) fn is_analog(&self, pin: Pin) -> bool {
        self.mode(pin) == 3
    }

    /// Whether a pin is pulled up inside.
    pub(crate) fn is_pulled_up(&self, pin: Pin) -> bool {
        self.0[index(pin.port)].pulls >> (2 * pin.bit) & 3 == 1
    }

    pub(crate) fn modes(&self, port: usize) -> u32 {
        self.0[port].modes
    }

    pub(crate) fn output(&self, port: usize) -> u16 {
        self.0[port].output
    }

    /// The input register is the board's to read.
    pub(crate) fn read(&self, port: usize, offset: u32) -> Result<u32, Trouble> {
        let registers = &self.0[port];
        Ok(match offset {
            0x00 => registers.modes,
            0x08 => registers.speeds,
            0x0c => registers.pulls,
            0x14 => registers.output.into(),
            0x24 => registers.functions_high,
            _ => return Err(Trouble::unmodelled("GPIO", offset)),
        })
    }

    /// Whether a register that shows outside has changed.
    pub(crate) fn write(&mut self, port: usize, offset: u32, value: u32) -> Result<bool, Trouble> {
        let registers = &mut self.0[port];
        let before = (registers.modes, registers.output, registers.pulls);
        match offset {
            0x00 => registers.modes = value,
            0x08 => registers.speeds = value,
            0x0c => registers.pulls = value,
            0x14 => registers.output = value as u16,
            // Setting wins (ST RM0090, GPIO bit set/reset register).
            0x18 => registers.output = registers.output & !((value >> 16) as u16) | value as u16,
            0x24 => registers.functions_high = value,
            _ => return Err(Trouble::unmodelled("GPIO", offset)),
        }
        Ok(before != (registers.modes, registers.output, registers.pulls))
    }
}
