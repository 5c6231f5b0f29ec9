//! Programs from header to summary, and the safe state.

use crate::march::March;
use crate::run::Run;
use crate::tally::Tally;
use crate::{Carried, Hardware, Prepared, Program};
use dipsift_pins::{Moves, SupplyFault};
use dipsift_wire::{
    Capabilities, Ended, Header, Kind, MarchFlaw, MarchSetup, Marched, Ran, Refusal, Window, Words,
};
use heapless::Vec;

/// How long the supply and the chip get before the first step.
const POWER_UP_MS: u32 = 1;

struct Open {
    program: Program,
    next: u32,
    carried: Carried,
    tally: Tally,
}

/// Runs one program at a time, window by window, or piece by piece where it is a march.
/// `OPERATIONS` is the most steps in a window.
pub struct Engine<S: Moves, const OPERATIONS: usize> {
    prepared: Prepared<S, OPERATIONS>,
    march: March<S>,
    open: Option<Open>,
}

impl<H: Hardware, const OPERATIONS: usize> Default for Engine<H, OPERATIONS> {
    fn default() -> Self {
        Self::new()
    }
}

impl<H: Hardware, const OPERATIONS: usize> Engine<H, OPERATIONS> {
    /// An engine with no program. The hardware is not touched yet.
    #[inline(always)]
    pub const fn new() -> Self {
        Self { prepared: Prepared::new(), march: March::new(), open: None }
    }

    /// Whether a program is open.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Enters the [`safe`] state, with no program open.
    pub fn off(&mut self, hardware: &mut H) {
        self.open = None;
        self.march.close();
        safe(hardware);
    }

    /// Ends any program and opens one. Nothing is powered yet.
    ///
    /// # Errors
    ///
    /// Those of [`Program::check`]; the hardware is then in the safe state and no program open.
    pub fn begin(
        &mut self,
        hardware: &mut H,
        header: &Header,
        capabilities: &Capabilities,
    ) -> Result<(), Refusal> {
        self.off(hardware);
        let program = Program::check(header, capabilities)?;
        self.open =
            Some(Open { program, next: 0, carried: Carried::default(), tally: Tally::new() });
        Ok(())
    }

    /// Checks a window as a whole, then runs it. The first one powers the chip.
    ///
    /// With a summary in the reply the program has ended and the hardware is in the safe state;
    /// without one everything stays as the steps have left it.
    ///
    /// # Errors
    ///
    /// [`Refusal::OutOfOrder`] where another window was due or no program is open, those of
    /// [`Prepared::check`], and [`Refusal::Unconnectable`] where the supply itself declines. The
    /// hardware is then in the safe state and no program open.
    pub fn window(
        &mut self,
        hardware: &mut H,
        window: &Window,
        capabilities: &Capabilities,
    ) -> Result<Ran, Refusal> {
        let Window { index, last, code } = window;
        self.code(hardware, *index, *last, code, capabilities)
    }

    /// Does the same with a window whose code lies elsewhere.
    ///
    /// # Errors
    ///
    /// Those of [`window`](Self::window).
    pub fn code(
        &mut self,
        hardware: &mut H,
        index: u32,
        last: bool,
        code: &[u8],
        capabilities: &Capabilities,
    ) -> Result<Ran, Refusal> {
        let result = self.run(hardware, index, last, code, capabilities);
        if !matches!(&result, Ok(Ran { summary: None, .. })) {
            self.off(hardware);
        }
        result
    }

    /// Checks and prepares the march of the open program. Touches no pin.
    ///
    /// # Errors
    ///
    /// [`Refusal::OutOfOrder`] where no march program is open or its march is set up already,
    /// [`Refusal::Unconnectable`] where it is not powered, [`Refusal::Conflict`] where a supplied
    /// pin would be driven, and [`Refusal::March`]. The hardware is then in the safe state and no
    /// program open.
    #[inline(never)]
    pub fn march(&mut self, hardware: &mut H, setup: &MarchSetup) -> Result<(), Refusal> {
        let result = match &self.open {
            Some(Open { program, .. })
                if program.header().kind == Kind::March && !self.march.is_open() =>
            {
                self.march.set_up(hardware, program, setup)
            }
            _ => Err(Refusal::OutOfOrder),
        };
        if result.is_err() {
            self.off(hardware);
        }
        result
    }

    /// Runs the march for at most 50 ms and some operations, or until the reply has no room for
    /// another failure. The first piece powers the chip.
    ///
    /// With a summary in the reply the march has ended and the hardware is in the safe state;
    /// without one the memory stays powered and idle, and [`tend`](Self::tend) keeps it refreshed.
    ///
    /// # Errors
    ///
    /// [`Refusal::OutOfOrder`] where no march is set up, it has no elements or its memory is being
    /// read out, and [`Refusal::Unconnectable`] where the supply itself declines. The hardware is then in the safe state and no program open.
    pub fn proceed(&mut self, hardware: &mut H) -> Result<Marched, Refusal> {
        let result = self.piece(hardware);
        if !matches!(&result, Ok(Marched { summary: None, .. })) {
            self.off(hardware);
        }
        result
    }

    /// Reads words of the memory that is set up, without expecting any. The first read-out powers
    /// the chip; the one that reads the last word, or a trip, ends the program.
    ///
    /// # Errors
    ///
    /// [`Refusal::OutOfOrder`] where no march is set up or it has begun, [`Refusal::March`] where
    /// there are no such words or more than a reply holds, and [`Refusal::Unconnectable`] where the supply itself declines. The hardware
    /// is then in the safe state and no program open.
    pub fn read_out(&mut self, hardware: &mut H, first: u32, count: u16) -> Result<Words, Refusal> {
        let result = self.read(hardware, first, count);
        if !matches!(&result, Ok(Words { summary: None, .. })) {
            self.off(hardware);
        }
        result
    }

    #[inline(never)]
    fn read(&mut self, hardware: &mut H, first: u32, count: u16) -> Result<Words, Refusal> {
        let open = self.open.as_mut().ok_or(Refusal::OutOfOrder)?;
        if !self.march.may_read_out() {
            return Err(Refusal::OutOfOrder);
        }
        if !self.march.has(first, count) {
            return Err(Refusal::March(MarchFlaw::Words));
        }
        let Open { program, tally, .. } = open;
        let mut ended = match self.march.is_fresh() {
            true => power_up(hardware, program, tally)?,
            false => None,
        };
        let mut words = Vec::new();
        if ended.is_none() {
            ended = self.march.read_out(hardware, program, tally, first, &mut words, count);
            tally.current(hardware.current());
        }
        let summary = ended.map(|ended| tally.summary(ended, program.package()));
        Ok(Words { words, summary })
    }

    #[inline(never)]
    fn piece(&mut self, hardware: &mut H) -> Result<Marched, Refusal> {
        let open = self.open.as_mut().ok_or(Refusal::OutOfOrder)?;
        if !self.march.may_proceed() {
            return Err(Refusal::OutOfOrder);
        }
        let Open { program, tally, .. } = open;
        let mut ended = match self.march.is_fresh() {
            true => power_up(hardware, program, tally)?,
            false => None,
        };
        let mut misses = Vec::new();
        if ended.is_none() {
            ended = self.march.proceed(hardware, program, tally, &mut misses);
            tally.current(hardware.current());
        }
        let summary = ended.map(|ended| tally.summary(ended, program.package()));
        Ok(Marched { misses, operations: tally.steps, summary })
    }

    /// Whether [`tend`](Self::tend) is needed: a dynamic memory is powered.
    pub fn needs_tending(&self) -> bool {
        self.march.needs_tending()
    }

    /// Refreshes what is due of a dynamic memory between two pieces of its march. To be called at
    /// least every [`STALL_NS`](crate::STALL_NS), while a reply is sent and while the next request
    /// is waited for.
    pub fn tend(&mut self, hardware: &mut H) {
        self.march.tend(hardware);
    }

    #[inline(never)]
    fn run(
        &mut self,
        hardware: &mut H,
        index: u32,
        last: bool,
        code: &[u8],
        capabilities: &Capabilities,
    ) -> Result<Ran, Refusal> {
        let open = self.open.as_mut().ok_or(Refusal::OutOfOrder)?;
        if open.program.header().kind != Kind::Vector || index != open.next {
            return Err(Refusal::OutOfOrder);
        }
        let Open { program, tally, .. } = open;
        let checked = self.prepared.check(program, open.carried, code, capabilities, &*hardware)?;
        open.carried = checked.carried();
        let mut ended = match index {
            0 => power_up(hardware, program, tally)?,
            _ => None,
        };
        let mut seen = Vec::new();
        if ended.is_none() {
            ended = Run { hardware, program, tally, seen: &mut seen }.all(&checked);
        }
        if last {
            ended = ended.or(Some(Ended::Complete));
        }
        open.next = open.next.saturating_add(1);
        let summary = ended.map(|ended| tally.summary(ended, program.package()));
        Ok(Ran { index, seen, summary })
    }
}

/// Everything released, keepers off, nothing fed or grounded. Drivers go first, so that none feeds
/// a chip through its clamps.
pub fn safe<H: Hardware>(hardware: &mut H) {
    hardware.release();
    hardware.disconnect();
}

/// Connects the supply, if there is one, on a socket that is released and without keepers.
fn power_up<H: Hardware>(
    hardware: &mut H,
    program: &Program,
    tally: &mut Tally,
) -> Result<Option<Ended>, Refusal> {
    let Some(connection) = program.connection() else {
        return Ok(None);
    };
    hardware.release();
    match hardware.connect(connection) {
        Ok(()) => {}
        Err(SupplyFault::Tripped) => return Ok(Some(Ended::TrippedAtPowerUp)),
        Err(SupplyFault::Unconnectable) => return Err(Refusal::Unconnectable),
    }
    hardware.delay_ms(POWER_UP_MS);
    if hardware.tripped() {
        return Ok(Some(Ended::TrippedAtPowerUp));
    }
    tally.current(hardware.current());
    Ok(None)
}
