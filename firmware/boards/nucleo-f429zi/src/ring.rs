//! Reading a buffer that a circular DMA transfer fills.

use core::ops::Range;

/// Where the reader of a circular buffer of `SIZE` bytes stands.
#[derive(Debug, Default)]
pub struct Ring<const SIZE: usize> {
    read: usize,
}

/// What has arrived since the last look, in order; either range may be empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrived {
    /// Up to the end of the buffer.
    pub first: Range<usize>,
    /// From the start of the buffer.
    pub second: Range<usize>,
}

/// The transfer has overtaken the reader: everything unread is lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Overrun;

impl<const SIZE: usize> Ring<SIZE> {
    /// At the start of the buffer, with nothing arrived.
    pub const fn new() -> Self {
        Self { read: 0 }
    }

    /// What has arrived and counts as read now. `remaining` is the transfer's down-counter, 1 to
    /// `SIZE`; `wrapped` tells whether it has passed the buffer's end since the last look.
    ///
    /// # Errors
    ///
    /// [`Overrun`] where more than the whole buffer has arrived. The reader must look at least
    /// once in the time that two buffers take to fill: a second wrap cannot be seen.
    pub fn arrived(&mut self, remaining: usize, wrapped: bool) -> Result<Arrived, Overrun> {
        let write = SIZE.saturating_sub(remaining) % SIZE.max(1);
        let read = core::mem::replace(&mut self.read, write);
        match (wrapped, write >= read) {
            (false, true) => Ok(Arrived { first: read..write, second: 0..0 }),
            (true, false) => Ok(Arrived { first: read..SIZE, second: 0..write }),
            // Ahead of the reader after a wrap; or behind it without one, which only a restarted
            // transfer can be.
            (true, true) | (false, false) => Err(Overrun),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    /// A writer that counts bytes since the start, against a reader that looks now and then.
    #[test]
    fn every_byte_is_read_once_and_in_order() {
        const SIZE: usize = 16;
        let (mut ring, mut buffer) = (Ring::<SIZE>::new(), [0_u8; SIZE]);
        let (mut written, mut read) = (0_usize, 0_usize);
        let mut random = 12_345_u32;
        for _ in 0..10_000 {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let count = (random >> 16) as usize % SIZE;
            let wraps = written / SIZE;
            for _ in 0..count {
                buffer[written % SIZE] = written as u8;
                written += 1;
            }
            let arrived =
                ring.arrived(SIZE - written % SIZE, written / SIZE != wraps).expect("no overrun");
            let bytes: Vec<u8> =
                buffer[arrived.first].iter().chain(&buffer[arrived.second]).copied().collect();
            assert_eq!(bytes.len(), count);
            for byte in bytes {
                assert_eq!(byte, read as u8);
                read += 1;
            }
        }
        assert!(written > 50 * SIZE);
    }

    #[test]
    fn too_much_is_noticed_and_reading_goes_on_behind_it() {
        let mut ring = Ring::<8>::new();
        assert_eq!(ring.arrived(5, false), Ok(Arrived { first: 0..3, second: 0..0 }));
        // Eight and more bytes later.
        assert_eq!(ring.arrived(5, true), Err(Overrun));
        assert_eq!(ring.arrived(3, true), Err(Overrun));
        assert_eq!(ring.arrived(2, false), Ok(Arrived { first: 5..6, second: 0..0 }));
        assert_eq!(ring.arrived(8, true), Ok(Arrived { first: 6..8, second: 0..0 }));
        // A transfer that was started anew.
        assert_eq!(ring.arrived(2, false), Ok(Arrived { first: 0..6, second: 0..0 }));
        assert_eq!(ring.arrived(7, false), Err(Overrun));
    }
}
