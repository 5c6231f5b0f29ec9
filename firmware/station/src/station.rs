//! The station as a board sees it.

use crate::session::Session;
use crate::{Press, Stored};
use dipsift_engine::Hardware;
use dipsift_stored::{Memory, NoMemory};
use dipsift_wire::{Accumulator, Capabilities, Health, Kind, MAX_CODE, Nature, ResetCause};
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
    /// How it is; see [`Station::health_mut`].
    pub health: Health,
}

/// A station on its hardware. `OPERATIONS` is the most steps in a window, `M` the memory of what
/// is armed.
///
/// It is a large value, since it holds the memory for a window and for the frames of both
/// directions: a board keeps it in a static.
pub struct Station<H: Hardware, const OPERATIONS: usize = 256, M: Memory = NoMemory> {
    input: Accumulator,
    session: Session<H, OPERATIONS, M>,
}

impl<H: Hardware, const OPERATIONS: usize> Station<H, OPERATIONS> {
    /// A station without programs of its own, with its hardware in the safe state.
    ///
    /// What the capabilities claim beyond the station's memory and the engine's program kinds is
    /// taken back.
    #[inline(always)]
    pub fn new(hardware: H, identity: Identity) -> Self {
        Self::with_stored(hardware, identity, Stored::none())
    }
}

impl<H: Hardware, const OPERATIONS: usize, M: Memory> Station<H, OPERATIONS, M> {
    /// A station with programs of its own; for the rest see [`Station::new`].
    #[inline(always)]
    pub fn with_stored(hardware: H, mut identity: Identity, stored: Stored<M>) -> Self {
        let capabilities = &mut identity.capabilities;
        let operations = u16::try_from(OPERATIONS).unwrap_or(u16::MAX);
        capabilities.window_steps = capabilities.window_steps.min(operations);
        capabilities.window_bytes = capabilities.window_bytes.min(MAX_CODE as u16);
        capabilities.kinds &= 1 << Kind::Vector as u8 | 1 << Kind::March as u8;
        Self { input: Accumulator::new(), session: Session::new(hardware, identity, stored) }
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

    /// Somebody has pressed the button: runs the armed program to its end, where nothing else is
    /// open.
    ///
    /// `tick` is called between windows and between the pieces of a march, so at least every 0.2 s
    /// of waiting in the program, with
    /// a socket that may be powered: a board feeds its watchdog there. Where it yields `false`, the
    /// check is broken off. In the end the socket is released and unpowered.
    pub fn press(&mut self, tick: impl FnMut(&mut H) -> bool) -> Press {
        self.session.press(tick)
    }

    /// How the station is, for what changes while it runs.
    pub const fn health_mut(&mut self) -> &mut Health {
        self.session.health_mut()
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
