//! Messages in, replies out; the rules of sequence and silence.

use crate::fmt::{info, warning};
use crate::stored::Stored;
use crate::{Identity, Press};
use dipsift_engine::{Engine, Hardware};
use dipsift_pins::Nanoseconds;
use dipsift_stored::Memory;
use dipsift_wire::{
    Answer, Ask, Ended, Health, Hello, MAX_FRAME, MAX_MESSAGE, Malformed, Refusal, Reply, Request,
    SCHEMA, SILENCE_MS, Status, Summary, VERSIONS, VersionRange, decode_request, encode_reply,
};
use heapless::Vec;

const SILENCE: Nanoseconds = Nanoseconds::from_millis(SILENCE_MS as u64);

/// How many bytes leave between two looks at the refresh: a sixth of a millisecond on a serial
/// line.
const TENDED_BYTES: usize = 16;

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
    #[inline(always)]
    pub(crate) fn new(mut hardware: H, identity: Identity, stored: Stored<M>) -> Self {
        dipsift_engine::safe(&mut hardware);
        Self {
            hardware,
            identity,
            // Made where it stands: it is too large for a stack.
            engine: Engine::new(),
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

    /// Switches off where a program has been left alone too long, and refreshes what is due.
    pub(crate) fn poll(&mut self) {
        self.engine.tend(&mut self.hardware);
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
            // By reference: a request is large, and would be moved on the stack.
            match &decode_request(message) {
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
        self.send(out);
        self.heard = self.hardware.now();
    }

    /// Sends the reply; in pieces with refresh between them where a dynamic memory waits, since a
    /// line may take its time.
    fn send(&mut self, out: &mut dyn FnMut(&[u8])) {
        let reply = self.reply.get(..self.reply_length).unwrap_or_default();
        if !self.engine.needs_tending() {
            return out(reply);
        }
        for piece in reply.chunks(TENDED_BYTES) {
            self.engine.tend(&mut self.hardware);
            out(piece);
        }
        self.engine.tend(&mut self.hardware);
    }

    fn forget(&mut self) {
        self.request.clear();
        self.reply_length = 0;
    }

    /// Never inlined, as is the decoding: neither needs its stack while the other works.
    #[inline(never)]
    fn carry_out(&mut self, message: &[u8], request: &Request) {
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
                self.count_trip(ran.summary.as_ref());
                Ok(Answer::Ran(ran))
            }
            Ask::March(_) | Ask::Proceed | Ask::ReadOut { .. } if !follows => {
                Err(Refusal::OutOfOrder)
            }
            Ask::March(setup) => {
                self.engine.march(&mut self.hardware, setup)?;
                Ok(Answer::Began)
            }
            Ask::Proceed => {
                let marched = self.engine.proceed(&mut self.hardware)?;
                self.count_trip(marched.summary.as_ref());
                Ok(Answer::Marched(marched))
            }
            Ask::ReadOut { first, count } => {
                let read = self.engine.read_out(&mut self.hardware, *first, *count)?;
                self.count_trip(read.summary.as_ref());
                Ok(Answer::Words(read))
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

    pub(crate) fn count_trip(&mut self, summary: Option<&Summary>) {
        if let Some(summary) = summary
            && matches!(summary.ended, Ended::TrippedAtPowerUp | Ended::Tripped { .. })
        {
            warning!("supply tripped");
            self.status.trips = self.status.trips.saturating_add(1);
        }
    }
}
