//! USART3 and the stream of DMA1 that empties its receiver.

use crate::Trouble;
use std::collections::VecDeque;

/// Bits of ST RM0090: USART_CR1, USART_CR3, USART_SR, DMA_SxCR, flags of stream 1.
const ON: u32 = 1 << 13;
const TRANSMITTER: u32 = 1 << 3;
const RECEIVER: u32 = 1 << 2;
const BY_DMA: u32 = 1 << 6;
const EMPTY: u32 = 1 << 7;
const COMPLETE: u32 = 1 << 6;
const OVERRUN: u32 = 1 << 3;
const ENABLE: u32 = 1;
const AT_END: u32 = 1 << 11;
const AT_HALF: u32 = 1 << 10;
/// Channel 4, bytes, memory increment, circular, from the peripheral: what is modelled.
const MODELLED: u32 = 4 << 25 | 1 << 10 | 1 << 8;
const PRIORITY: u32 = 3 << 16;
/// The data register that the stream must read.
const DATA: u32 = 0x4000_4804;
/// Bits of a byte on the line.
const BITS: u64 = 10;

/// A byte for the memory.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stored {
    pub(crate) address: u32,
    pub(crate) byte: u8,
}

#[derive(Debug)]
pub(crate) struct Serial {
    cr1: u32,
    cr3: u32,
    brr: u32,
    overrun: bool,
    control: u32,
    count: u32,
    reload: u32,
    memory: u32,
    peripheral: u32,
    flags: u32,
    /// Bytes on their way in, each with the time of its end in nanoseconds.
    pub(crate) incoming: VecDeque<(u64, u8)>,
    /// What is or has been transmitted, each with the time of its end in nanoseconds.
    pub(crate) outgoing: VecDeque<(u64, u8)>,
    /// When the transmitter's shift register is free, in nanoseconds.
    free_at: u64,
    /// Bytes in the buffer since the image has looked at the stream's counter.
    pub(crate) unread: u64,
    pub(crate) received: Received,
}

/// What has become of the bytes that came in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Received {
    /// Bytes that are in the buffer or were.
    pub stored: u64,
    /// Bytes that came while the receiver or its stream was off, or were overwritten unread.
    pub lost: u64,
    /// The most that has waited in the buffer.
    pub longest: u64,
}

impl Serial {
    pub(crate) fn new() -> Self {
        Self {
            cr1: 0,
            cr3: 0,
            brr: 0,
            overrun: false,
            control: 0,
            count: 0,
            reload: 0,
            memory: 0,
            peripheral: 0,
            flags: 0,
            incoming: VecDeque::new(),
            outgoing: VecDeque::new(),
            free_at: 0,
            unread: 0,
            received: Received::default(),
        }
    }

    /// Whether a byte would be stored.
    pub(crate) fn is_listening(&self) -> bool {
        self.cr1 & (ON | RECEIVER) == ON | RECEIVER
            && self.cr3 & BY_DMA != 0
            && self.control & ENABLE != 0
    }

    /// When the next byte will have come in, in nanoseconds.
    pub(crate) fn due(&self) -> u64 {
        self.incoming.front().map_or(u64::MAX, |&(due, _)| due)
    }

    /// Takes in a byte whose time has come. `wired` says that the pins are connected and the
    /// clocks on.
    pub(crate) fn take_in(&mut self, now: u64, wired: bool) -> Option<Stored> {
        if self.due() > now {
            return None;
        }
        let (_, byte) = self.incoming.pop_front()?;
        if !wired || self.cr1 & (ON | RECEIVER) != ON | RECEIVER {
            self.received.lost += 1;
            return None;
        }
        if self.cr3 & BY_DMA == 0 || self.control & ENABLE == 0 {
            self.overrun = true;
            self.received.lost += 1;
            return None;
        }
        self.unread += 1;
        self.received.stored += 1;
        self.received.longest = self.received.longest.max(self.unread);
        // The oldest is overwritten.
        self.received.lost += u64::from(self.unread > self.reload.into());
        let stored = Stored { address: self.memory + (self.reload - self.count), byte };
        self.count -= 1;
        if self.count == self.reload / 2 {
            self.flags |= AT_HALF;
        }
        if self.count == 0 {
            self.count = self.reload;
            self.flags |= AT_END;
        }
        Some(stored)
    }

    pub(crate) fn read(&mut self, offset: u32, now: u64) -> Result<u32, Trouble> {
        Ok(match offset {
            0x00 => {
                let byte = self.byte_ns(1);
                // The data register is free once its byte has gone into the shift register.
                let empty = now + byte >= self.free_at;
                (if empty { EMPTY } else { 0 })
                    | (if now >= self.free_at { COMPLETE } else { 0 })
                    | (if self.overrun { OVERRUN } else { 0 })
            }
            0x08 => self.brr,
            0x0c => self.cr1,
            0x14 => self.cr3,
            _ => return Err(Trouble::unmodelled("USART3", offset)),
        })
    }

    /// How long bytes take, at the nominal rate: the divisor was compared when it was written.
    fn byte_ns(&self, bytes: u64) -> u64 {
        bytes * BITS * 1_000_000_000 / u64::from(dipsift_wire::SERIAL_BAUD)
    }

    pub(crate) fn write(
        &mut self,
        offset: u32,
        value: u32,
        now: u64,
        hertz: u64,
    ) -> Result<(), Trouble> {
        match offset {
            0x04 => {
                if self.cr1 & (ON | TRANSMITTER) != ON | TRANSMITTER {
                    return Err(Trouble::Misuse("transmitted while the transmitter is off"));
                }
                if now + self.byte_ns(1) < self.free_at {
                    return Err(Trouble::Misuse("transmitted before the last byte has left"));
                }
                self.free_at = self.free_at.max(now) + self.byte_ns(1);
                self.outgoing.push_back((self.free_at, value as u8));
            }
            0x08 => {
                let rate = hertz as f64 / f64::from(value.max(1));
                // Both ends together may be off by 5 % (common practice).
                if (rate / f64::from(dipsift_wire::SERIAL_BAUD) - 1.0).abs() > 0.025 {
                    return Err(Trouble::Misuse("the line's rate is wrong"));
                }
                self.brr = value;
            }
            // Nothing but on, transmitter and receiver; eight bits, one stop bit, no interrupt.
            0x0c if value & !(ON | TRANSMITTER | RECEIVER) == 0 => self.cr1 = value,
            0x14 if value & !BY_DMA == 0 => self.cr3 = value,
            _ => return Err(Trouble::unmodelled("USART3", offset)),
        }
        Ok(())
    }

    pub(crate) fn read_stream(&mut self, offset: u32) -> Result<u32, Trouble> {
        Ok(match offset {
            0x00 => self.flags,
            0x28 => self.control,
            0x2c => {
                self.unread = 0;
                self.count
            }
            0x30 => self.peripheral,
            0x34 => self.memory,
            _ => return Err(Trouble::unmodelled("DMA1", offset)),
        })
    }

    pub(crate) fn write_stream(&mut self, offset: u32, value: u32) -> Result<(), Trouble> {
        let on = self.control & ENABLE != 0;
        match offset {
            0x08 => self.flags &= !value,
            0x28 if value & !PRIORITY & !ENABLE == MODELLED || value == 0 => {
                let starts = value & ENABLE != 0 && !on;
                if starts && (self.peripheral != DATA || self.count == 0 || self.flags & 0xf40 != 0)
                {
                    return Err(Trouble::Misuse("DMA1 stream 1 started before it is set up"));
                }
                self.control = value;
            }
            0x2c | 0x30 | 0x34 if on => {
                return Err(Trouble::Misuse("DMA1 stream 1 changed while it runs"));
            }
            0x2c => (self.count, self.reload) = (value, value),
            0x30 => self.peripheral = value,
            0x34 => self.memory = value,
            _ => return Err(Trouble::unmodelled("DMA1", offset)),
        }
        Ok(())
    }
}
