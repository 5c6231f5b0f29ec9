//! One request and its reply, over a line that may lose or damage either.

use crate::{LinkError, Transport};
use dipsift_wire::{
    Accumulator, Answer, Ask, MAX_FRAME, Reply, Request, SERIAL_BAUD, decode_reply, encode_request,
};
use std::time::Duration;

/// What a reply may take beside the waiting in the program and the line's own time.
const EXTRA: Duration = Duration::from_millis(25);
/// How often a frame is sent. With [`EXTRA`] all of them leave within the station's silence limit.
const SENDS: u32 = 4;

/// Frames and their sequence numbers.
pub(crate) struct Exchange<T> {
    pub(crate) transport: T,
    input: Accumulator,
    sequence: u16,
    buffer: Box<[u8; MAX_FRAME]>,
    /// Whether the next frame begins with a zero byte, since the line may hold part of another.
    fresh: bool,
}

/// How long to wait for a reply.
pub(crate) struct Patience {
    /// How long the station works on the request.
    pub(crate) work: Duration,
    /// How long to keep listening after the last repetition.
    pub(crate) linger: Duration,
}

impl<T: Transport> Exchange<T> {
    pub(crate) fn new(transport: T, sequence: u16) -> Self {
        Self {
            transport,
            input: Accumulator::new(),
            sequence,
            buffer: Box::new([0; MAX_FRAME]),
            fresh: true,
        }
    }

    /// Sends a request and does not wait for its reply.
    pub(crate) fn send_only(&mut self, ask: Ask) -> Result<(), LinkError> {
        let length = self.encode(ask)?;
        self.fresh = true;
        self.send(length)
    }

    /// Sends a request until its reply comes. The frame is repeated as it is, so the station does
    /// nothing twice.
    ///
    /// # Errors
    ///
    /// [`LinkError::NoAnswer`] where nothing came, [`LinkError::Garbled`] where only damaged
    /// frames came, [`LinkError::Gone`] where the line broke.
    pub(crate) fn ask(&mut self, ask: Ask, patience: &Patience) -> Result<Answer, LinkError> {
        let length = self.encode(ask)?;
        let once = patience.work + line_time(length) + line_time(MAX_FRAME) + EXTRA;
        let mut damaged = false;
        for send in 1..=SENDS {
            self.send(length)?;
            let wait = if send == SENDS { once + patience.linger } else { once };
            if let Some(answer) = self.listen(wait, &mut damaged)? {
                return Ok(answer);
            }
            self.fresh = true;
        }
        Err(if damaged { LinkError::Garbled } else { LinkError::NoAnswer })
    }

    fn encode(&mut self, ask: Ask) -> Result<usize, LinkError> {
        self.sequence = self.sequence.wrapping_add(1);
        let request = Request { sequence: self.sequence, ask };
        encode_request(&request, &mut self.buffer[..])
            .map(<[u8]>::len)
            .map_err(|_| LinkError::Unexpected("a request that is larger than any"))
    }

    fn send(&mut self, length: usize) -> Result<(), LinkError> {
        if std::mem::take(&mut self.fresh) {
            self.transport.send(&[0]).map_err(LinkError::Gone)?;
        }
        self.transport.send(&self.buffer[..length]).map_err(LinkError::Gone)
    }

    /// Waits for the reply to the last request; replies to earlier ones are dropped.
    fn listen(&mut self, wait: Duration, damaged: &mut bool) -> Result<Option<Answer>, LinkError> {
        let end = self.transport.now() + wait;
        let mut bytes = [0; 512];
        loop {
            let left = end.saturating_sub(self.transport.now());
            if left.is_zero() {
                return Ok(None);
            }
            let count = self.transport.receive(&mut bytes, left).map_err(LinkError::Gone)?;
            let mut found = None;
            for &byte in &bytes[..count] {
                match self.input.push(byte).map(|frame| frame.map(decode_reply)) {
                    None => {}
                    Some(Ok(Ok(Reply { sequence, answer }))) if sequence == self.sequence => {
                        found = Some(answer);
                    }
                    Some(Ok(Ok(_))) => {}
                    Some(Ok(Err(_)) | Err(_)) => *damaged = true,
                }
            }
            if found.is_some() {
                return Ok(found);
            }
        }
    }
}

/// How long bytes take on a serial line: ten bits each.
fn line_time(bytes: usize) -> Duration {
    Duration::from_micros(bytes as u64 * 10 * 1_000_000 / u64::from(SERIAL_BAUD))
}
