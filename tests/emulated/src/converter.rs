//! Both converters: the one that watches the current without a pause, and the one that measures
//! on request.

use crate::Trouble;

/// Bits of ST RM0090: ADC_SR, ADC_CR1, ADC_CR2.
const WATCH_FLAG: u32 = 1;
const CONVERTED: u32 = 1 << 1;
const STARTED: u32 = 1 << 4;
const ON: u32 = 1;
const CONTINUOUS: u32 = 1 << 1;
const START: u32 = 1 << 30;
/// The watch on one regular channel, and its interrupt.
const WATCH: u32 = 1 << 23 | 1 << 9;
const WATCH_INTERRUPT: u32 = 1 << 6;
/// Sampling times by code, in cycles (ST RM0090, ADC_SMPR1).
const SAMPLING: [u64; 8] = [3, 15, 28, 56, 84, 112, 144, 480];
/// Cycles of a conversion of 12 bits after its sampling.
const CONVERSION: u64 = 12;
/// How long a converter takes to wake (ST DS9405).
const WAKE_NS: u64 = 3_000;

#[derive(Clone, Debug, Default)]
pub(crate) struct Converter {
    status: u32,
    cr1: u32,
    cr2: u32,
    sampling: [u32; 2],
    high: u32,
    low: u32,
    sequence: u32,
    data: u32,
    on_at: u64,
    /// When the running conversion ends, in nanoseconds.
    end: Option<u64>,
}

impl Converter {
    pub(crate) fn new() -> Self {
        Self { high: 0xfff, ..Self::default() }
    }

    /// When the running conversion ends, in nanoseconds.
    pub(crate) fn due(&self) -> u64 {
        self.end.unwrap_or(u64::MAX)
    }

    pub(crate) fn channel(&self) -> u8 {
        (self.sequence & 0x1f) as u8
    }

    pub(crate) fn interrupts(&self) -> bool {
        self.status & WATCH_FLAG != 0 && self.cr1 & WATCH_INTERRUPT != 0
    }

    fn conversion_ns(&self, hertz: u64) -> u64 {
        let channel = u32::from(self.channel());
        let code = if channel < 10 {
            self.sampling[1] >> (3 * channel) & 7
        } else {
            self.sampling[0] >> (3 * (channel - 10)) & 7
        };
        (SAMPLING[code as usize] + CONVERSION) * 1_000_000_000 / hertz.max(1)
    }

    /// Ends the conversion whose time has come with this reading.
    pub(crate) fn finish(&mut self, reading: u16, now: u64, hertz: u64) {
        let Some(end) = self.end else { return };
        self.data = reading.into();
        self.status |= CONVERTED;
        let watched = self.cr1 & WATCH == WATCH && self.cr1 & 0x1f == self.sequence & 0x1f;
        if watched && (self.data > self.high || self.data < self.low) {
            self.status |= WATCH_FLAG;
        }
        let length = self.conversion_ns(hertz);
        // Conversions that a long block has passed over have shown the same.
        let next = end + length * (1 + now.saturating_sub(end) / length.max(1));
        self.end = (self.cr2 & CONTINUOUS != 0).then_some(next);
    }

    pub(crate) fn read(&mut self, offset: u32) -> Result<u32, Trouble> {
        Ok(match offset {
            0x00 => self.status,
            0x04 => self.cr1,
            0x08 => self.cr2 & !START,
            0x4c => {
                self.status &= !CONVERTED;
                self.data
            }
            _ => return Err(Trouble::unmodelled("ADC", offset)),
        })
    }

    pub(crate) fn write(
        &mut self,
        offset: u32,
        value: u32,
        now: u64,
        hertz: u64,
    ) -> Result<(), Trouble> {
        match offset {
            0x00 => self.status &= value,
            0x04 if value & !(WATCH | WATCH_INTERRUPT | 0x1f) == 0 => self.cr1 = value,
            0x08 if value & !(ON | CONTINUOUS | START) == 0 => {
                if value & ON != 0 && self.cr2 & ON == 0 {
                    self.on_at = now + WAKE_NS;
                }
                self.cr2 = value;
                if value & START != 0 {
                    if value & ON == 0 || now < self.on_at {
                        return Err(Trouble::Misuse("a converter started before it is awake"));
                    }
                    // ST DS9405: 36 MHz at most.
                    if hertz > 36_000_000 {
                        return Err(Trouble::Misuse("a converter's clock is above its limit"));
                    }
                    self.status |= STARTED;
                    self.end = Some(now + self.conversion_ns(hertz));
                }
            }
            0x0c => self.sampling[0] = value,
            0x10 => self.sampling[1] = value,
            0x24 => self.high = value & 0xfff,
            0x28 => self.low = value & 0xfff,
            0x34 => self.sequence = value,
            _ => return Err(Trouble::unmodelled("ADC", offset)),
        }
        Ok(())
    }
}
