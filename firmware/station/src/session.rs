//! Messages in, replies out; the rules of sequence and silence.

use crate::fmt::{info, warning};
use crate::stored::Stored;
use crate::{Identity, Press};
use dipsift_engine::{Engine, Hardware};
use dipsift_pins::Nanoseconds;
use dipsift_stored::Memory;
use dipsift_wire::{
    Answer, Ask, Ended, Health, Hello, MAX_FRAME, MAX_MESSAGE, Malformed, Ran, Refusal, Reply,
    Request, SCHEMA, SILENCE_MS, Status, VERSIONS, VersionRange, decode_request, encode_reply,
};
use heapless::Vec;

const SILENCE: Nanoseconds = Nanoseconds::from_millis(SILENCE_MS as u64);

/// Everything but the framing.
pub(crate) struct Session<H: Hardware, const OPERATIONS: usize, M: Memory> {
    pub(crate) hardware: H,
    pub(crate) identity: Identity,
    pub(crate) engine: Engine<H, OPERATIONS>,
    stored: Stored<M>,
    status: Status,
    /// When the last good request had been answered.
    heard: Nanoseconds,
    /// The last request and its reply's frame, to answer its repetition.
    request: Vec<u8, MAX_MESSAGE>,
    sequence: u16,
    reply: [u8; MAX_FRAME],
    reply_length: usize,
}

impl<H: Hardware, const OPERATIONS: usize, M: Memory> Session<H, OPERATIONS, M> {
    pub(crate) fn new(mut hardware: H, identity: Identity, stored: Stored<M>) -> Self {
        let mut engine = Engine::new();
        engine.off(&mut hardware);
        Self {
            hardware,
            identity,
            engine,
            stored,
            status: Status::default(),
            heard: Nanoseconds(0),
            request: Vec::new(),
            sequence: 0,
            reply: [0; MAX_FRAME],
            reply_length: 0,
        }
    }

    /// A frame was damaged.
    pub(crate) fn bad_frame(&mut self) {
        warning!("damaged frame");
        self.status.bad_frames = self.status.bad_frames.saturating_add(1);
    }

    /// Switches off where a program has been left alone too long.
    pub(crate) fn poll(&mut self) {
        if self.engine.is_open() && self.hardware.now().since(self.heard) > SILENCE {
            warning!("silence: program ended");
            self.status.silences = self.status.silences.saturating_add(1);
            self.engine.off(&mut self.hardware);
            // A repetition of what opened the program must not look as if it were still open.
            self.forget();
        }
    }

    /// Carries out a message whose CRC is right. Never inlined; see [`press`](Self::press).
    #[inline(never)]
    pub(crate) fn message(&mut self, message: &[u8], out: &mut dyn FnMut(&[u8])) {
        if self.reply_length != 0 && self.request == message {
            // The first reply may have lost its end on the way.
            out(&[0]);
        } else {
            match decode_request(message) {
                Ok(request) => self.carry_out(message, request),
                Err(Malformed) => {
                    // No noise makes a right CRC: whoever sends this speaks something else.
                    self.bad_frame();
                    self.engine.off(&mut self.hardware);
                    self.forget();
                    return;
                }
            }
        }
        out(self.reply.get(..self.reply_length).unwrap_or_default());
        self.heard = self.hardware.now();
    }

    fn forget(&mut self) {
        self.request.clear();
        self.reply_length = 0;
    }

    fn carry_out(&mut self, message: &[u8], request: Request) {
        let follows = request.sequence == self.sequence.wrapping_add(1);
        self.sequence = request.sequence;
        let answer = self.answer(&request.ask, follows).unwrap_or_else(|refusal| {
            info!("refused");
            self.engine.off(&mut self.hardware);
            Answer::Refused(refusal)
        });
        let reply = Reply { sequence: request.sequence, answer };
        // Neither can fail: the sizes are checked when the wire crate is compiled.
        self.reply_length = encode_reply(&reply, &mut self.reply).map_or(0, <[u8]>::len);
        self.request.clear();
        let _ = self.request.extend_from_slice(message);
    }

    fn answer(&mut self, ask: &Ask, follows: bool) -> Result<Answer, Refusal> {
        match ask {
            Ask::Hello(versions) => {
                self.engine.off(&mut self.hardware);
                self.hello(*versions)
            }
            Ask::Begin(header) => {
                let capabilities = &self.identity.capabilities;
                self.engine.begin(&mut self.hardware, header, capabilities)?;
                Ok(Answer::Began)
            }
            Ask::Window(_) if !follows => Err(Refusal::OutOfOrder),
            Ask::Window(window) => {
                let capabilities = &self.identity.capabilities;
                let ran = self.engine.window(&mut self.hardware, window, capabilities)?;
                self.count_trip(&ran);
                Ok(Answer::Ran(ran))
            }
            Ask::Off => {
                self.engine.off(&mut self.hardware);
                Ok(Answer::Off)
            }
            Ask::Status => {
                Ok(Answer::Status(Status { powered: self.hardware.connected(), ..self.status }))
            }
            Ask::Stored { from } => Ok(Answer::Stored(self.stored.page(*from)?)),
            Ask::Arm(name) => {
                self.engine.off(&mut self.hardware);
                // While the memory is written, nothing may need the core: see the board.
                if self.hardware.connected() {
                    return Err(Refusal::Powered);
                }
                self.stored.arm(name.as_deref())?;
                Ok(Answer::Armed(self.stored.armed()))
            }
            Ask::Armed => Ok(Answer::Armed(self.stored.armed())),
            Ask::Health => Ok(Answer::Health(self.identity.health)),
        }
    }

    fn hello(&self, versions: VersionRange) -> Result<Answer, Refusal> {
        VERSIONS.common(versions).ok_or(Refusal::Version(VERSIONS))?;
        info!("hello");
        Ok(Answer::Hello(Hello {
            versions: VERSIONS,
            schema: SCHEMA,
            commit: self.identity.commit.clone(),
            nature: self.identity.nature,
            reset: self.identity.reset,
            capabilities: self.identity.capabilities.clone(),
        }))
    }

    pub(crate) const fn health_mut(&mut self) -> &mut Health {
        &mut self.identity.health
    }

    /// Runs the armed program. Never inlined: what it keeps on the stack must not stay there while
    /// messages are carried out, nor the other way round.
    #[inline(never)]
    pub(crate) fn press(&mut self, tick: impl FnMut(&mut H) -> bool) -> Press {
        if self.engine.is_open() {
            return Press::Busy;
        }
        match self.stored.armed_entry() {
            Some(entry) => Press::Ran(self.run_stored(entry, tick)),
            None => Press::Nothing,
        }
    }

    pub(crate) fn count_trip(&mut self, ran: &Ran) {
        if let Some(summary) = &ran.summary
            && summary.ended != Ended::Complete
        {
            warning!("supply tripped");
            self.status.trips = self.status.trips.saturating_add(1);
        }
    }
}
