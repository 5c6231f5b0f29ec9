//! Programs from header to summary, and the safe state.

use crate::run::Run;
use crate::tally::Tally;
use crate::{Carried, Hardware, Prepared, Program};
use dipsift_pins::{Socket, SupplyFault};
use dipsift_wire::{Capabilities, Ended, Header, Ran, Refusal, Window};
use heapless::Vec;

/// How long the supply and the chip get before the first step.
const POWER_UP_MS: u32 = 1;

struct Open {
    program: Program,
    next: u32,
    carried: Carried,
    tally: Tally,
}

/// Runs one program at a time, window by window. `OPERATIONS` is the most steps in a window.
pub struct Engine<S: Socket, const OPERATIONS: usize> {
    prepared: Prepared<S, OPERATIONS>,
    open: Option<Open>,
}

impl<H: Hardware, const OPERATIONS: usize> Default for Engine<H, OPERATIONS> {
    fn default() -> Self {
        Self::new()
    }
}

impl<H: Hardware, const OPERATIONS: usize> Engine<H, OPERATIONS> {
    /// An engine with no program. The hardware is not touched yet.
    pub const fn new() -> Self {
        Self { prepared: Prepared::new(), open: None }
    }

    /// Whether a program is open.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Enters the safe state: everything released, keepers off, nothing fed or grounded, no
    /// program open. Drivers go first, so that none feeds a chip through its clamps.
    pub fn off(&mut self, hardware: &mut H) {
        self.open = None;
        hardware.release();
        hardware.disconnect();
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

    fn run(
        &mut self,
        hardware: &mut H,
        index: u32,
        last: bool,
        code: &[u8],
        capabilities: &Capabilities,
    ) -> Result<Ran, Refusal> {
        let open = self.open.as_mut().ok_or(Refusal::OutOfOrder)?;
        if index != open.next {
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
