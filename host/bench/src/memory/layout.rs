//! A memory as a station must know it: pins, cycles, waits.

use super::control::{Control, Strobes};
use super::times::Times;
use dipsift_language::{Class, Family, Memory, Output, Package, Part, PinId};
use dipsift_wire::{
    Cycle, Element, MAX_ADDRESS, MAX_WIDTH, MarchSetup, Move, Operation, Pins, Rail, Refresh,
    StartUp, Strobed,
};

/// What every read has beyond the data sheet: a position follows its driver with 60 pF behind 320
/// ohm, and an output its chip behind 600 ohm at most. After one and a half time constants, 29 ns
/// and 54 ns, the levels that decide are passed. Stations add some ten cycles of their own.
const SETTLE_NS: u32 = 90;
/// What every write pulse has beyond the data sheet: its pins need not follow equally fast.
const SKEW_NS: u32 = 30;
/// A firm keeper, 2.2 kΩ, raises a position with 60 pF in three time constants.
const OPEN_RISE_NS: u32 = 400;
/// From idle controls to the first cycle: what the chip has shown before lets go.
const START_US: u32 = 20;
/// From an address to the strobe that takes it: as above, for the driver alone.
const PLACE_NS: u32 = 60;

/// A memory on its package.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// The address pins, least significant first.
    pub(crate) address: Vec<u8>,
    /// The names of the address pins, in the same order.
    pub(crate) address_names: Vec<String>,
    /// The data inputs, least significant first; none for a memory that is only read.
    pub(crate) data_in: Vec<u8>,
    /// The names of the data inputs, in the same order.
    pub(crate) input_names: Vec<String>,
    /// The data outputs, least significant first.
    pub(crate) data_out: Vec<u8>,
    /// The names of the data outputs, in the same order.
    pub(crate) data_names: Vec<String>,
    /// Whether the outputs show the complement of what was written.
    pub(crate) complements: bool,
    /// How many words.
    pub(crate) words: u32,
    /// How many row and column bits, for strobed addresses.
    pub(crate) strobed: Option<Strobed>,
    control: Control,
    /// Rows and interval in microseconds.
    pub(crate) refresh: Option<(u32, u32)>,
    start: StartUp,
    firm: bool,
    /// Whether its outputs only pull down.
    open: bool,
    /// Which address bit chooses the half of a half-good part.
    pub(crate) half: Option<u8>,
}

/// How a read is timed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ReadForm {
    /// From the address, or the row strobe, to the last event of the read in nanoseconds.
    pub lead_ns: u32,
    /// From that event, the select or the column strobe, to the sample in nanoseconds.
    pub sample_ns: u32,
    /// How long the outputs are left to the keepers after the read, beyond the data sheet.
    pub rest_ns: u32,
}

impl ReadForm {
    /// The usual: everything has all the time that the grade and this bench ask for.
    pub fn usual(times: &Times, layout: &Layout) -> Self {
        let dynamic = layout.is_dynamic();
        let sample_ns = times.after_last(dynamic) + SETTLE_NS;
        let lead_ns = if dynamic { times.lead(true) } else { 0 };
        // A static memory's address comes just before the select.
        let sample_ns = if dynamic { sample_ns } else { sample_ns.max(times.access + SETTLE_NS) };
        // An output that only pulls down leaves the way up to the firm keeper.
        let rise_ns = if layout.open { OPEN_RISE_NS } else { 0 };
        Self { lead_ns, sample_ns: sample_ns + rise_ns, rest_ns: 0 }
    }
}

/// Which way the keepers pull the outputs while nothing drives them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pull {
    Up,
    Down,
}

impl Layout {
    /// The layout of a part, or why there is none.
    pub fn of(part: &Part, package: &Package, family: Family) -> Result<Self, String> {
        let memory = part.memory.as_ref().ok_or("it has no memory array")?;
        let unusual = || format!("{} has controls that marches do not know", part.number);
        let control = Control::of(part, package, memory).ok_or_else(unusual)?;
        let numbers = |pins: &[PinId]| -> Option<Vec<u8>> {
            pins.iter().rev().map(|&pin| package.numbers(pin).next()).collect()
        };
        let names = |pins: &[PinId]| -> Vec<String> {
            pins.iter().rev().map(|&pin| part.pin(pin).name.clone()).collect()
        };
        // Without pins of its own the column has the row's.
        let column = if memory.column.is_empty() { &memory.address } else { &memory.column };
        let strobed = (memory.strobes.len() == 2).then_some(Strobed {
            row_bits: memory.address.len() as u8,
            column_bits: column.len() as u8,
        });
        // A part of which half is good is marched whole: that tells which half it is.
        let words = strobed.map_or(memory.words, |parts| 1 << (parts.row_bits + parts.column_bits));
        let (address, address_names) = address(memory, &numbers, &names, strobed)
            .ok_or_else(|| format!("{} has an address that marches do not know", part.number))?;
        let data_in = numbers(&memory.data_in).ok_or_else(unusual)?;
        let data_out = numbers(&memory.data_out).ok_or_else(unusual)?;
        let complement = |pin: &PinId| part.pin(*pin).name.starts_with('/');
        let complements = memory.data_out.iter().all(complement);
        if !complements && memory.data_out.iter().any(complement) {
            return Err(unusual());
        }
        if data_out.len() > MAX_WIDTH || address.len() > MAX_ADDRESS {
            return Err(format!("{} is wider than a march reaches", part.number));
        }
        let start = memory.startup.unwrap_or_default();
        Ok(Self {
            data_in,
            data_out,
            data_names: names(&memory.data_out),
            input_names: names(&memory.data_in),
            complements,
            words,
            strobed,
            control,
            refresh: memory.refresh,
            start: StartUp {
                pause_us: start.pause_us.max(START_US),
                cycles: start.cycles.min(255) as u8,
            },
            firm: family.class() == Class::Ttl,
            open: memory
                .data_out
                .iter()
                .any(|&pin| part.pin(pin).output == Some(Output::OpenCollector)),
            half: half(package, memory, &address, strobed),
            address,
            address_names,
        })
    }

    /// Whether it is only read.
    pub fn is_read_only(&self) -> bool {
        self.control.write.is_none() || self.data_in.is_empty()
    }

    /// Whether its address is strobed in and it wants refresh.
    pub fn is_dynamic(&self) -> bool {
        self.strobed.is_some()
    }

    /// How many rows it has, of a dynamic memory; else 0.
    pub(crate) fn rows(&self) -> u32 {
        self.strobed.map_or(0, |parts| 1 << parts.row_bits)
    }

    /// How many bits a word has.
    pub fn bits(&self) -> u32 {
        self.data_out.len() as u32
    }

    /// All bits of a word.
    pub(crate) fn mask(&self) -> u16 {
        u16::MAX >> (16 - self.bits())
    }

    /// The set-up of a march; without elements it is for reading out.
    pub(crate) fn setup(
        &self,
        times: &Times,
        form: &ReadForm,
        pull: Pull,
        elements: &[Element],
        backgrounds: &[u16],
        most_failures: u32,
    ) -> MarchSetup {
        // Nothing but the keepers makes a high level of an output that only pulls down.
        let pull = if self.open { Pull::Up } else { pull };
        let rail = match pull {
            Pull::Up => Rail::High,
            Pull::Down => Rail::Low,
        };
        MarchSetup {
            address: self.address.iter().copied().collect(),
            strobed: self.strobed,
            data_in: self.data_in.iter().copied().collect(),
            data_out: self.data_out.iter().copied().collect(),
            words: self.words,
            control: self.control.pins,
            idle: self.control.idle,
            light: rail,
            firm: if self.firm && pull == Pull::Up { Rail::High } else { Rail::Off },
            read: self.read(times, form),
            write: self.write(times),
            start: self.start,
            refresh: self.refresh.filter(|_| self.is_dynamic()).map(|refresh| {
                let (rows, interval_us) = refresh;
                Refresh {
                    cycle: self.refresh_cycle(times),
                    rows: rows.min(u16::MAX.into()) as u16,
                    interval_ns: interval_us.saturating_mul(1_000),
                }
            }),
            backgrounds: backgrounds.iter().copied().collect(),
            elements: elements.iter().map(|element| self.written(element)).collect(),
            any_down: false,
            most_failures,
        }
    }

    /// An element as this memory needs it: one that shows complements is written the complement,
    /// so that its outputs show the background.
    fn written(&self, element: &Element) -> Element {
        let mut element = element.clone();
        if self.complements
            && let Element::Each { operations, .. } = &mut element
        {
            for operation in operations.iter_mut() {
                *operation = match *operation {
                    Operation::W0 => Operation::W1,
                    Operation::W1 => Operation::W0,
                    read => read,
                };
            }
        }
        element
    }

    fn set(&self, from: Pins, to: Pins) -> Move {
        let pins = Pins((from.0 ^ to.0) & self.control.pins.0);
        Move::Set { pins, high: Pins(to.0 & pins.0) }
    }

    fn read(&self, times: &Times, form: &ReadForm) -> Cycle {
        let Control { idle, read, .. } = self.control;
        let mut moves = Moves::default();
        match self.control.strobes {
            None => {
                moves.push(Move::Address);
                moves.wait(form.lead_ns);
                moves.push(self.set(idle, read));
                moves.wait(form.sample_ns);
                moves.push(Move::Sample);
                moves.push(self.set(read, idle));
                let spent = form.lead_ns + form.sample_ns;
                let rest =
                    times.release.max(times.precharge).max(times.cycle.saturating_sub(spent));
                moves.wait(rest + form.rest_ns);
            }
            Some(strobes) => {
                let row = self.open_row(&mut moves, &strobes, times);
                let lead = form.lead_ns.max(row);
                moves.push(Move::Column);
                moves.wait(PLACE_NS.max(lead.saturating_sub(row)));
                let open = idle.0 ^ strobes.row.0;
                moves.push(self.set(Pins(open), Pins(read.0 ^ strobes.row.0 ^ strobes.column.0)));
                moves.wait(form.sample_ns);
                moves.push(Move::Sample);
                let opened = row + PLACE_NS.max(lead.saturating_sub(row)) + form.sample_ns;
                moves.wait(times.row.saturating_sub(opened));
                moves.push(self.set(Pins(read.0 ^ strobes.row.0 ^ strobes.column.0), idle));
                moves.wait(self.closed(times, opened.max(times.row)) + form.rest_ns);
            }
        }
        moves.0
    }

    fn write(&self, times: &Times) -> Cycle {
        let Control { idle, write: Some(write), .. } = self.control else { return Cycle::new() };
        let mut moves = Moves::default();
        let shared = self.data_in.iter().any(|pin| self.data_out.contains(pin));
        match self.control.strobes {
            None => {
                moves.push(Move::Address);
                moves.push(Move::Data);
                moves.push(self.set(idle, write));
                // The whole cycle is waited for at once: two waits cost a station more than one.
                let rest = times.hold.max(times.precharge);
                let pulse =
                    (times.write.max(times.setup) + SKEW_NS).max(times.cycle.saturating_sub(rest));
                moves.wait(pulse);
                moves.push(self.set(write, idle));
                moves.wait(rest);
            }
            Some(strobes) => {
                let row = self.open_row(&mut moves, &strobes, times);
                moves.push(Move::Data);
                moves.push(Move::Column);
                let open = Pins(idle.0 ^ strobes.row.0);
                let ready = Pins(write.0 ^ strobes.row.0);
                moves.push(self.set(open, ready));
                moves.wait(PLACE_NS.max(times.setup));
                let taken = Pins(ready.0 ^ strobes.column.0);
                moves.push(self.set(ready, taken));
                let before = row + PLACE_NS.max(times.setup);
                let pulse = times
                    .write
                    .max(times.hold)
                    .max(times.column)
                    .max(times.address)
                    .max(times.row.saturating_sub(before))
                    + PLACE_NS;
                moves.wait(pulse);
                moves.push(self.set(taken, idle));
                moves.wait(self.closed(times, before + pulse));
            }
        }
        if shared {
            moves.push(Move::Release);
        }
        moves.0
    }

    /// Puts the row and strobes it; yields how long the row strobe is active then.
    fn open_row(&self, moves: &mut Moves, strobes: &Strobes, times: &Times) -> u32 {
        let idle = self.control.idle;
        moves.push(Move::Row);
        moves.wait(PLACE_NS);
        moves.push(self.set(idle, Pins(idle.0 ^ strobes.row.0)));
        let row = times.address + PLACE_NS;
        moves.wait(row);
        row
    }

    /// How long the row strobe rests after it was active for so long.
    fn closed(&self, times: &Times, active_ns: u32) -> u32 {
        times.precharge.max(times.release).max(times.cycle.saturating_sub(active_ns)) + PLACE_NS
    }

    fn refresh_cycle(&self, times: &Times) -> Cycle {
        let Control { idle, strobes: Some(strobes), .. } = self.control else {
            return Cycle::new();
        };
        let mut moves = Moves::default();
        let row = self.open_row(&mut moves, &strobes, times).max(times.row);
        moves.wait(times.row);
        moves.push(self.set(Pins(idle.0 ^ strobes.row.0), idle));
        moves.wait(self.closed(times, row));
        moves.0
    }
}

/// The address bit that chooses the half of a half-good part.
fn half(
    package: &Package,
    memory: &Memory,
    address: &[u8],
    strobed: Option<Strobed>,
) -> Option<u8> {
    let half = memory.half?;
    let number = package.numbers(half.pin).next()?;
    let line = address.iter().position(|&pin| pin == number)? as u8;
    Some(if half.column { line } else { strobed?.column_bits + line })
}

/// The address pins, least significant first, with their names. With strobes, column and row share
/// pins: the column's must be the row's, or the last of them.
fn address(
    memory: &Memory,
    numbers: &dyn Fn(&[PinId]) -> Option<Vec<u8>>,
    names: &dyn Fn(&[PinId]) -> Vec<String>,
    strobed: Option<Strobed>,
) -> Option<(Vec<u8>, Vec<String>)> {
    if strobed.is_none() || memory.column.is_empty() || memory.column == memory.address {
        return Some((numbers(&memory.address)?, names(&memory.address)));
    }
    // The column counts on the first address pins: they are put in its order, and the row's
    // further pins behind them. A march is indifferent to the order of rows.
    let row: Vec<PinId> =
        memory.address.iter().copied().filter(|pin| !memory.column.contains(pin)).collect();
    let order: Vec<PinId> = row.into_iter().chain(memory.column.iter().copied()).collect();
    (order.len() == memory.address.len()).then_some(())?;
    Some((numbers(&order)?, names(&order)))
}

/// A cycle that is being written. More moves than it takes are refused by the station.
#[derive(Default)]
struct Moves(Cycle);

impl Moves {
    fn push(&mut self, step: Move) {
        let _ = self.0.push(step);
    }

    /// Waits, if there is something to wait for.
    fn wait(&mut self, ns: u32) {
        if ns > 0 {
            self.push(Move::Wait { ns });
        }
    }
}
