//! Messages to frames and back.
//!
//! A frame is the postcard form of a message, its CRC-32/ISO-HDLC with the least significant byte
//! first, both COBS-encoded, and a zero byte. An empty frame means nothing, so a sender may begin
//! with a zero byte to end whatever the line held before.

use crate::cobs::{overhead, stuff, unstuff};
use crate::sizes::MAX_FRAME;
use crate::{MAX_MESSAGE, Reply, Request};
use crc::{CRC_32_ISO_HDLC, Crc};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

static CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// The bytes of a CRC at the end of a message.
pub(crate) const CRC_BYTES: usize = 4;

/// Why a frame is not a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameError {
    /// More bytes than any frame has; all up to the next zero byte were dropped.
    Overlong,
    /// The bytes are no COBS frame, or fewer than a CRC.
    Form,
    /// The CRC differs.
    Crc,
}

/// The CRC is right, but the bytes are no message of this version, or more than one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Malformed;

/// The buffer is smaller than the frame. Cannot happen with [`MAX_FRAME`] bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BufferTooSmall;

fn encode<'a, T: Serialize>(message: &T, buffer: &'a mut [u8]) -> Result<&'a [u8], BufferTooSmall> {
    // The stuffed form grows from the front into what it has read already.
    let start = overhead(MAX_MESSAGE).min(overhead(buffer.len()));
    let place = buffer.get_mut(start..).ok_or(BufferTooSmall)?;
    let length = postcard::to_slice_crc32(message, place, CRC.digest())
        .map(|message| message.len())
        .map_err(|_| BufferTooSmall)?;
    let length = stuff(buffer, start, start + length).ok_or(BufferTooSmall)?;
    buffer.get(..length).ok_or(BufferTooSmall)
}

/// Writes a request's frame, closing zero byte included, to the front of the buffer.
pub fn encode_request<'a>(
    request: &Request,
    buffer: &'a mut [u8],
) -> Result<&'a [u8], BufferTooSmall> {
    encode(request, buffer)
}

/// Writes a reply's frame, closing zero byte included, to the front of the buffer.
pub fn encode_reply<'a>(reply: &Reply, buffer: &'a mut [u8]) -> Result<&'a [u8], BufferTooSmall> {
    encode(reply, buffer)
}

fn decode<T: DeserializeOwned>(message: &[u8]) -> Result<T, Malformed> {
    match postcard::take_from_bytes(message) {
        Ok((value, [])) => Ok(value),
        _ => Err(Malformed),
    }
}

/// Reads a request from a message as an [`Accumulator`] yields it.
#[inline(never)] // what it needs of the stack is free again when the request is carried out
pub fn decode_request(message: &[u8]) -> Result<Request, Malformed> {
    decode(message)
}

/// Reads a reply from a message as an [`Accumulator`] yields it.
pub fn decode_reply(message: &[u8]) -> Result<Reply, Malformed> {
    decode(message)
}

/// Reads one value off the front; `None` where the bytes are not one.
pub(crate) fn take<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Option<(T, &'a [u8])> {
    postcard::take_from_bytes(bytes).ok()
}

/// Collects the bytes of a line into messages.
///
/// After more bytes than any frame has it drops everything up to and with the next zero byte, so
/// the tail of an overlong frame is never taken for a frame of its own.
pub struct Accumulator {
    buffer: [u8; MAX_FRAME],
    used: usize,
    discarding: bool,
}

impl Default for Accumulator {
    fn default() -> Self {
        Self::new()
    }
}

impl Accumulator {
    /// An empty accumulator.
    pub const fn new() -> Self {
        Self { buffer: [0; MAX_FRAME], used: 0, discarding: false }
    }

    /// Takes one byte. At the zero byte that ends a frame, yields the message without its CRC,
    /// or what is wrong with the frame; `None` otherwise, and for empty frames.
    pub fn push(&mut self, byte: u8) -> Option<Result<&[u8], FrameError>> {
        if byte != 0 {
            match self.buffer.get_mut(self.used) {
                Some(place) if !self.discarding => {
                    *place = byte;
                    self.used += 1;
                }
                _ => self.discarding = true,
            }
            return None;
        }
        let used = core::mem::take(&mut self.used);
        if core::mem::take(&mut self.discarding) {
            return Some(Err(FrameError::Overlong));
        }
        match self.buffer.get_mut(..used) {
            None | Some([]) => None,
            Some(frame) => Some(unwrap(frame)),
        }
    }
}

fn unwrap(frame: &mut [u8]) -> Result<&[u8], FrameError> {
    let length = unstuff(frame).ok_or(FrameError::Form)?;
    let (message, crc) = frame
        .get(..length)
        .and_then(|frame| frame.split_last_chunk::<CRC_BYTES>())
        .ok_or(FrameError::Form)?;
    if CRC.checksum(message) == u32::from_le_bytes(*crc) {
        Ok(message)
    } else {
        Err(FrameError::Crc)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Answer, Ask};

    /// Check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms
    /// (reveng.sourceforge.io/crc-catalogue); the same polynomial and form as IEEE 802.3.
    #[test]
    fn crc_is_iso_hdlc() {
        assert_eq!(CRC.checksum(b"123456789"), 0xcbf4_3926);
    }

    fn feed(accumulator: &mut Accumulator, bytes: &[u8]) -> heapless::Vec<Result<u16, u8>, 8> {
        let mut seen = heapless::Vec::new();
        for &byte in bytes {
            if let Some(frame) = accumulator.push(byte) {
                let entry = match frame {
                    Ok(message) => Ok(decode_request(message).unwrap().sequence),
                    Err(FrameError::Overlong) => Err(b'o'),
                    Err(FrameError::Form) => Err(b'f'),
                    Err(FrameError::Crc) => Err(b'c'),
                };
                seen.push(entry).unwrap();
            }
        }
        seen
    }

    #[test]
    fn an_overlong_frame_leaves_no_phantom() {
        let mut buffer = [0; MAX_FRAME];
        let good = encode_request(&Request { sequence: 7, ask: Ask::Off }, &mut buffer).unwrap();
        let mut accumulator = Accumulator::new();
        assert!(feed(&mut accumulator, &[0x55; 2 * MAX_FRAME]).is_empty());
        // A whole good frame glued to the overlong one is still part of it.
        assert_eq!(feed(&mut accumulator, good), [Err(b'o')]);
        assert_eq!(feed(&mut accumulator, good), [Ok(7)]);
    }

    #[test]
    fn every_damaged_byte_is_noticed() {
        let mut buffer = [0; MAX_FRAME];
        let good = encode_request(&Request { sequence: 300, ask: Ask::Off }, &mut buffer).unwrap();
        for at in 0..good.len() - 1 {
            for bit in 0..8 {
                let mut bad: heapless::Vec<u8, 32> = good.iter().copied().collect();
                bad[at] ^= 1 << bit;
                let seen = feed(&mut Accumulator::new(), &bad);
                assert!(seen.iter().all(Result::is_err), "byte {at} bit {bit}: {seen:?}");
            }
        }
    }

    #[test]
    fn empty_and_short_frames() {
        let mut accumulator = Accumulator::new();
        assert!(feed(&mut accumulator, &[0, 0, 0]).is_empty());
        assert_eq!(feed(&mut accumulator, &[1, 0]), [Err(b'f')]);
        assert_eq!(feed(&mut accumulator, &[9, 1, 0]), [Err(b'f')]);
    }

    #[test]
    fn a_message_has_no_rest() {
        assert_eq!(decode_reply(&[5, 3]), Ok(Reply { sequence: 5, answer: Answer::Off }));
        assert_eq!(decode_reply(&[5, 3, 0]), Err(Malformed));
        assert_eq!(decode_reply(&[5]), Err(Malformed));
        assert_eq!(decode_reply(&[5, 6]), Err(Malformed));
    }

    #[test]
    fn a_small_buffer_is_an_error() {
        let request = Request { sequence: 1, ask: Ask::Off };
        for size in 0..8 {
            assert_eq!(encode_request(&request, &mut [0; 8][..size]), Err(BufferTooSmall));
        }
        assert_eq!(encode_request(&request, &mut [0; 8]).unwrap().len(), 8);
        let code = core::iter::repeat_n(1, crate::MAX_CODE).collect();
        let window = crate::Window { index: u32::MAX, last: true, code };
        let largest = Request { sequence: u16::MAX, ask: Ask::Window(window) };
        assert!(encode_request(&largest, &mut [0; MAX_FRAME]).is_ok());
    }
}
