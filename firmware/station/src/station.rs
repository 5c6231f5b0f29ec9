//! The station as a board sees it.

use crate::session::Session;
use dipsift_engine::Hardware;
use dipsift_wire::{Accumulator, Capabilities, Kind, MAX_CODE, Nature, ResetCause};
use heapless::String;

/// Who a station is, as its board knows it.
#[derive(Clone, Debug)]
pub struct Identity {
    /// The commit that it was built from, abbreviated.
    pub commit: String<16>,
    /// Real, emulated or simulated.
    pub nature: Nature,
    /// Why it started.
    pub reset: ResetCause,
    /// What its hardware can do: the only source of which positions can be fed or grounded.
    pub capabilities: Capabilities,
}

/// A station on its hardware. `OPERATIONS` is the most steps in a window.
///
/// It is a large value, since it holds the memory for a window and for the frames of both
/// directions: a board keeps it in a static.
pub struct Station<H: Hardware, const OPERATIONS: usize = 256> {
    input: Accumulator,
    session: Session<H, OPERATIONS>,
}

impl<H: Hardware, const OPERATIONS: usize> Station<H, OPERATIONS> {
    /// A station with its hardware in the safe state.
    ///
    /// What the capabilities claim beyond the station's memory and the engine's program kinds is
    /// taken back.
    #[inline(always)]
    pub fn new(hardware: H, mut identity: Identity) -> Self {
        let capabilities = &mut identity.capabilities;
        let operations = u16::try_from(OPERATIONS).unwrap_or(u16::MAX);
        capabilities.window_steps = capabilities.window_steps.min(operations);
        capabilities.window_bytes = capabilities.window_bytes.min(MAX_CODE as u16);
        capabilities.kinds &= 1 << Kind::Vector as u8 | 1 << Kind::March as u8;
        Self { input: Accumulator::new(), session: Session::new(hardware, identity) }
    }

    /// Takes bytes from the line, any number and cut anywhere, and hands the bytes of replies to
    /// `out`. Runs whole windows before it returns.
    pub fn receive(&mut self, bytes: &[u8], out: &mut dyn FnMut(&[u8])) {
        for &byte in bytes {
            match self.input.push(byte) {
                None => {}
                Some(Ok(message)) => {
                    // What comes too late must find the program ended.
                    self.session.poll();
                    self.session.message(message, out);
                }
                Some(Err(_)) => self.session.bad_frame(),
            }
        }
        self.session.poll();
    }

    /// Enforces the silence limit and keeps a dynamic memory refreshed. To be called at least every
    /// [`STALL_NS`](dipsift_engine::STALL_NS).
    pub fn poll(&mut self) {
        self.session.poll();
    }

    /// The hardware, to look at.
    pub const fn hardware(&self) -> &H {
        &self.session.hardware
    }

    /// The hardware, for what a board does beside programs: its lamps, its chip on a simulated
    /// socket. Whoever moves levels or power here answers for the safe state.
    pub const fn hardware_mut(&mut self) -> &mut H {
        &mut self.session.hardware
    }
}
