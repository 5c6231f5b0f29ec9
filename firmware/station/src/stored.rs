//! Programs that the station holds itself.

use crate::fmt::info;
use crate::session::Session;
use dipsift_engine::Hardware;
use dipsift_stored::{Blob, BlobError, Entry, Found, Memory, Next, NoMemory, Phase, Verdict};
use dipsift_wire::{Armed, Ask, Page, Records, Refusal, Request, Seen, StoredPart, decode_request};
use heapless::String;

/// What came of pressing the button.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// A host's program is open; the press has done nothing.
    Busy,
    /// Nothing is armed, or the image does not hold what was armed; nothing was run.
    Nothing,
    /// A check ran to its end, or was broken off, and says this.
    Ran(Verdict),
}

/// The programs of a station, and the memory of which one is armed.
#[derive(Debug)]
pub struct Stored<M: Memory> {
    blob: Result<Blob<'static>, BlobError>,
    memory: M,
}

impl Stored<NoMemory> {
    /// No programs.
    pub const fn none() -> Self {
        Self { blob: Err(BlobError::Absent), memory: NoMemory }
    }
}

impl<M: Memory> Stored<M> {
    /// The programs in a blob. One that is damaged is as good as none, and says so when asked.
    pub fn new(blob: &'static [u8], memory: M) -> Self {
        Self { blob: Blob::new(blob), memory }
    }

    /// The programs; `None` where the image has none at all.
    fn blob(&self) -> Result<Option<Blob<'static>>, Refusal> {
        match self.blob {
            Ok(blob) => Ok(Some(blob)),
            Err(BlobError::Absent) => Ok(None),
            Err(_) => Err(Refusal::DamagedStored),
        }
    }

    fn runnable(&self, name: &str) -> Option<Entry<'static>> {
        self.blob.ok()?.find(name).filter(Entry::is_runnable)
    }

    /// Never inlined: a page is large, and needs no stack while windows run.
    #[inline(never)]
    pub(crate) fn page(&self, from: u16) -> Result<Page, Refusal> {
        let mut page = Page { count: 0, parts: Default::default() };
        let Some(blob) = self.blob()? else { return Ok(page) };
        page.count = blob.count();
        for entry in blob.entries(from) {
            let part = StoredPart {
                name: text(entry.name),
                kind: entry.kind,
                pins: entry.pins,
                shift: entry.shift,
                runnable: entry.is_runnable(),
                note: text(entry.note()),
            };
            if page.parts.push(part).is_err() {
                break;
            }
        }
        Ok(page)
    }

    pub(crate) fn armed(&self) -> Option<Armed> {
        let name = dipsift_stored::armed(&self.memory)?;
        let held = self.runnable(&name).is_some();
        Some(Armed { name, held })
    }

    pub(crate) fn armed_entry(&self) -> Option<Entry<'static>> {
        self.runnable(&dipsift_stored::armed(&self.memory)?)
    }

    pub(crate) fn arm(&mut self, name: Option<&str>) -> Result<(), Refusal> {
        if let Some(name) = name {
            self.blob()?;
            self.runnable(name).ok_or(Refusal::UnknownStored)?;
        }
        dipsift_stored::arm(&mut self.memory, name).map_err(|_| Refusal::Memory)
    }
}

/// What fits of a text.
fn text<const N: usize>(from: &str) -> String<N> {
    let mut text = String::new();
    for character in from.chars() {
        if text.push(character).is_err() {
            break;
        }
    }
    text
}

impl<H: Hardware, const OPERATIONS: usize, M: Memory> Session<H, OPERATIONS, M> {
    /// Runs an entry's phases until one decides.
    pub(crate) fn run_stored(
        &mut self,
        entry: Entry<'static>,
        mut tick: impl FnMut(&mut H) -> bool,
    ) -> Verdict {
        info!("stored program");
        entry
            .phases()
            .find_map(|phase| self.run_phase(&phase, &mut tick).verdict())
            .unwrap_or(Verdict::NotDecided)
    }

    fn run_phase(&mut self, phase: &Phase<'static>, tick: &mut impl FnMut(&mut H) -> bool) -> Next {
        let next = self.try_phase(phase, tick).unwrap_or(Next::NotDecided);
        self.engine.off(&mut self.hardware);
        next
    }

    /// `None` where the engine refuses the program, or `tick` breaks it off.
    fn try_phase(
        &mut self,
        phase: &Phase<'static>,
        tick: &mut impl FnMut(&mut H) -> bool,
    ) -> Option<Next> {
        let capabilities = &self.identity.capabilities;
        self.engine.begin(&mut self.hardware, &phase.header, capabilities).ok()?;
        if let Some(message) = phase.march() {
            self.set_up(message)?;
            self.march_on(phase, tick)
        } else {
            self.windows(phase, tick)
        }
    }

    /// Runs a program that is open. Never inlined: a window's result is large, and a march needs
    /// its stack otherwise.
    #[inline(never)]
    fn windows(
        &mut self,
        phase: &Phase<'static>,
        tick: &mut impl FnMut(&mut H) -> bool,
    ) -> Option<Next> {
        let mut windows = phase.windows().peekable();
        let (mut voltages, mut nth) = (true, 0);
        for index in 0.. {
            let code = windows.next()?;
            let last = windows.peek().is_none();
            let capabilities = &self.identity.capabilities;
            let ran = self.engine.code(&mut self.hardware, index, last, code, capabilities).ok()?;
            for record in Records::new(&ran.seen) {
                if let Ok(Seen::Voltage(millivolts)) = record {
                    voltages &= phase.in_bounds(nth, millivolts);
                    nth += 1;
                }
            }
            self.count_trip(ran.summary.as_ref());
            if let Some(summary) = &ran.summary {
                return Some(phase.next(&Found::new(summary, voltages)));
            }
            if !tick(&mut self.hardware) {
                return None;
            }
        }
        None
    }

    /// Never inlined: the set-up is large, and needs no stack while the march runs.
    #[inline(never)]
    fn set_up(&mut self, message: &[u8]) -> Option<()> {
        // By reference, so that it is not moved.
        match &decode_request(message) {
            Ok(Request { ask: Ask::March(setup), .. }) => {
                self.engine.march(&mut self.hardware, setup).ok()
            }
            _ => None,
        }
    }

    /// Runs a march that is set up, piece by piece.
    fn march_on(
        &mut self,
        phase: &Phase<'static>,
        tick: &mut impl FnMut(&mut H) -> bool,
    ) -> Option<Next> {
        loop {
            if let Some(found) = self.piece()? {
                return Some(phase.next(&found));
            }
            if !tick(&mut self.hardware) {
                return None;
            }
        }
    }

    /// What the march has found once it has ended. Never inlined, since a piece's result is large;
    /// the outer `None` where the engine refuses it.
    #[inline(never)]
    fn piece(&mut self) -> Option<Option<Found>> {
        let marched = self.engine.proceed(&mut self.hardware).ok()?;
        self.count_trip(marched.summary.as_ref());
        Some(marched.summary.as_ref().map(|summary| Found::new(summary, true)))
    }
}
