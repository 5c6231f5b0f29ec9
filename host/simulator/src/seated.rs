//! A chip in the socket: its pins as circuit elements, its condition, its logic.

use crate::branch::{Branch, End};
use crate::defect::{STUCK_OHMS, SUPPLY_SHORT_OHMS};
use crate::figures::{
    DIODE_OHMS, DIODE_VOLTS, FLOAT_VOLTS, Figures, INPUT_DROP_VOLTS, SUPPLY_DIODE_OHMS, figures,
};
use crate::memories::MemoryChip;
use crate::random::{coin, mix};
use crate::{Chip, Defect, position_of};
use dipsift_language::{Machine, Output, PinId, Role, StateId, Word};

/// What a pin's output stage does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Drive {
    /// High impedance, or an open collector's high.
    Off,
    Low,
    High,
}

/// What an input takes a voltage for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Level {
    Low,
    High,
    Undefined,
}

/// Whether the chip has enough supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Condition {
    /// Too little for anything.
    Dead,
    /// Its outputs do something, but nothing sensible.
    Faint,
    /// It works.
    Alive,
}

/// How a pin touches its position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Contact {
    Closed,
    Open,
    Intermittent,
}

/// How far a supply may sag below what a condition needs before the condition is lost.
const SAG_VOLTS: f64 = 0.3;
/// How long a chip that feeds on its pins and broke down stays down: five times 60 pF on a light
/// keeper, rounded up.
const REST_NS: u64 = 10_000;
/// In how many of four spells an intermittent contact is open.
const OPEN_SPELLS: u64 = 1;
/// How many changes at the socket a spell lasts.
const SPELL: u64 = 16;

/// What an enabled output does for a level.
fn output_drive(kind: Option<Output>, high: bool) -> Drive {
    match (kind, high) {
        (None, _) | (Some(Output::OpenCollector), true) => Drive::Off,
        (_, false) => Drive::Low,
        (_, true) => Drive::High,
    }
}

/// One pin.
#[derive(Clone, Debug)]
pub(crate) struct SeatedPin {
    pub(crate) position: Option<u8>,
    pub(crate) id: Option<PinId>,
    pub(crate) role: Option<Role>,
    output: Option<Output>,
    input: bool,
    load: f64,
    schmitt: bool,
    upper_diode: bool,
    pub(crate) contact: Contact,
    stuck: Option<bool>,
    weak_ohms: f64,
    leaky_ohms: Option<f64>,
    slow: u32,
    pub(crate) level: Level,
    pub(crate) drive: Drive,
    /// What it will do, and when in nanoseconds.
    pub(crate) pending: Option<(u64, Drive)>,
}

impl SeatedPin {
    pub(crate) fn is_input(&self) -> bool {
        self.input && self.id.is_some()
    }

    /// Whether a voltage alone says which level it is.
    pub(crate) fn has_no_memory_of_levels(&self) -> bool {
        !self.schmitt
    }

    pub(crate) fn is_rail(&self) -> bool {
        matches!(self.role, Some(Role::Supply | Role::Ground))
    }
}

/// A chip with its seat, its defects and its present state.
#[derive(Clone, Debug)]
pub(crate) struct Seated {
    pub(crate) chip: Chip,
    pub(crate) figures: &'static Figures,
    pub(crate) pins: Vec<SeatedPin>,
    pub(crate) shorts: Vec<(u8, u8)>,
    pub(crate) supply_shorted: bool,
    pub(crate) condition: Condition,
    pub(crate) vcc: f64,
    pub(crate) gnd: f64,
    pub(crate) power_ups: u64,
    machine: Machine,
    pub(crate) memory: Option<Box<MemoryChip>>,
    /// Whether the machine has anything to do.
    pub(crate) thinks: bool,
    intermittent: bool,
    supply_amps: f64,
    rolls: u64,
    /// It has been powered and has not come to rest yet.
    fresh: bool,
    rests_until: u64,
}

impl Seated {
    /// Puts a chip with its defects into the socket. The defects fit the chip.
    pub(crate) fn new(chip: Chip, defects: &[Defect]) -> Self {
        let figures = figures(chip.family);
        let turned = defects.contains(&Defect::TurnedRound);
        let shift = defects.iter().fold(chip.shift, |shift, defect| match defect {
            Defect::Shifted { by } => shift.saturating_add(*by),
            _ => shift,
        });
        // CD4049UB and CD4050B take inputs above their supply: from memory of their data sheets.
        let above_supply = ["4049", "4050"].contains(&chip.part.number.as_str());
        let count = chip.pins();
        let mut pins: Vec<SeatedPin> = (1..=count)
            .map(|number| {
                let (id, role) = chip.pin(number);
                let pin = id.map(|id| chip.part.pin(id));
                let input = matches!(role, Some(Role::Input | Role::Bidirectional));
                let output = pin.and_then(|pin| pin.output);
                let open_drain = output == Some(Output::OpenCollector);
                SeatedPin {
                    position: position_of(number, count, shift, turned),
                    id,
                    role,
                    output,
                    input,
                    load: pin.map_or(0.0, |pin| f64::from(pin.load_tenths) / 10.0),
                    schmitt: pin.is_some_and(|pin| pin.schmitt),
                    upper_diode: figures.upper_diode && !open_drain && !(above_supply && input),
                    contact: Contact::Closed,
                    stuck: None,
                    weak_ohms: 0.0,
                    leaky_ohms: None,
                    slow: 1,
                    level: Level::Undefined,
                    drive: Drive::Off,
                    pending: None,
                }
            })
            .collect();
        let mut shorts = Vec::new();
        let mut supply_shorted = false;
        for defect in defects {
            let mut at = |pin: u8, change: &dyn Fn(&mut SeatedPin)| {
                if let Some(pin) = pins.get_mut(usize::from(pin) - 1) {
                    change(pin);
                }
            };
            match *defect {
                Defect::Stuck { pin, high } => at(pin, &|pin| pin.stuck = Some(high)),
                Defect::Open { pin } => at(pin, &|pin| pin.contact = Contact::Open),
                Defect::Intermittent { pin } => at(pin, &|pin| pin.contact = Contact::Intermittent),
                Defect::Weak { pin, ohms } => at(pin, &|pin| pin.weak_ohms = f64::from(ohms)),
                Defect::Slow { pin, factor } => at(pin, &|pin| pin.slow = factor),
                Defect::Leaky { pin, ohms } => at(pin, &|pin| {
                    pin.leaky_ohms = Some(f64::from(ohms));
                }),
                Defect::Shorted { pin, other } => shorts.push((pin - 1, other - 1)),
                Defect::SupplyShorted => supply_shorted = true,
                Defect::SupplyOpen => {
                    for pin in pins.iter_mut().filter(|pin| pin.role == Some(Role::Supply)) {
                        pin.contact = Contact::Open;
                    }
                }
                Defect::Part(_)
                | Defect::Family(_)
                | Defect::TurnedRound
                | Defect::Shifted { .. }
                | Defect::Empty
                | Defect::Memory(_) => {}
            }
        }
        let memory = MemoryChip::of(&chip, defects);
        let network = &chip.network;
        Self {
            thinks: memory.is_none() || !network.drivers.is_empty(),
            intermittent: pins.iter().any(|pin| pin.contact == Contact::Intermittent),
            memory,
            figures,
            pins,
            shorts,
            supply_shorted,
            condition: Condition::Dead,
            vcc: 0.0,
            gnd: 0.0,
            power_ups: 0,
            machine: Machine::new(chip.network.clone(), chip.part.pins.len()),
            supply_amps: chip.supply_amps(),
            rolls: 0,
            fresh: false,
            rests_until: 0,
            chip,
        }
    }

    /// Whether a pin touches its position now; `changes` counts what happened at the socket.
    pub(crate) fn touches(&self, pin: usize, changes: u64) -> bool {
        match self.pins[pin].contact {
            Contact::Closed => true,
            Contact::Open => false,
            Contact::Intermittent => {
                let spell = mix(mix(self.chip.seed, pin as u64), changes / SPELL);
                spell % 4 >= OPEN_SPELLS
            }
        }
    }

    pub(crate) fn has_intermittent(&self) -> bool {
        self.intermittent
    }

    /// The branches of a signal pin at these rail voltages. They need no supply to exist: an
    /// unpowered chip is a network of its diodes.
    pub(crate) fn elements(&self, index: usize, vcc: f64, gnd: f64, out: &mut Vec<Branch>) {
        let pin = &self.pins[index];
        let figures = self.figures;
        let Some(role) = pin.role else {
            // Not connected, but a defect may tie even such a pin to something.
            self.defect_elements(pin, vcc, gnd, out);
            return;
        };
        if matches!(role, Role::Supply | Role::Ground) {
            return;
        }
        out.push(Branch::source(End::Gnd, gnd - DIODE_VOLTS, DIODE_OHMS));
        if pin.upper_diode {
            out.push(Branch::sink(End::Vcc, vcc + DIODE_VOLTS, DIODE_OHMS));
        }
        if pin.input
            && let Some(unit_ohms) = figures.input_ohms
            && pin.load > 0.0
        {
            out.push(
                Branch::source(End::Vcc, vcc - INPUT_DROP_VOLTS, unit_ohms / pin.load)
                    .until(gnd + FLOAT_VOLTS),
            );
            if self.condition == Condition::Alive {
                let leak = figures.input_high_amps * pin.load;
                out.push(Branch::sink(End::Gnd, gnd + FLOAT_VOLTS, 1_000.0).limited(leak));
            }
        }
        // What is stuck has nothing left that could drive against it.
        if self.condition != Condition::Dead && pin.stuck.is_none() {
            self.output_elements(pin, vcc, gnd, out);
        }
        self.defect_elements(pin, vcc, gnd, out);
    }

    fn output_elements(&self, pin: &SeatedPin, vcc: f64, gnd: f64, out: &mut Vec<Branch>) {
        let Some(kind) = pin.output else { return };
        let figures = self.figures;
        let supply = vcc - gnd;
        match pin.drive {
            Drive::Low => {
                let ohms = figures.low_ohms.at(supply) + pin.weak_ohms;
                let volts = gnd + figures.low_volts;
                out.push(Branch::both(End::Gnd, volts, ohms));
            }
            Drive::High => {
                let ohms = figures.high_ohms.at(supply) + pin.weak_ohms;
                let volts = vcc - figures.high_drop_volts;
                out.push(if figures.high_drop_volts > 0.0 {
                    Branch::source(End::Vcc, volts, ohms)
                } else {
                    Branch::both(End::Vcc, volts, ohms)
                });
            }
            Drive::Off if kind == Output::OpenCollector => {
                out.push(Branch::sink(End::Gnd, gnd, 1_000.0).limited(figures.open_amps));
            }
            Drive::Off => {
                let (middle, leak) =
                    (gnd + FLOAT_VOLTS.min(supply / 2.0), figures.three_state_amps);
                out.push(Branch::sink(End::Gnd, middle, 1_000.0).limited(leak));
                out.push(Branch::source(End::Vcc, middle, 1_000.0).limited(leak));
            }
        }
    }

    fn defect_elements(&self, pin: &SeatedPin, vcc: f64, gnd: f64, out: &mut Vec<Branch>) {
        match pin.stuck {
            Some(true) => out.push(Branch::both(End::Vcc, vcc, STUCK_OHMS)),
            Some(false) => out.push(Branch::both(End::Gnd, gnd, STUCK_OHMS)),
            None => {}
        }
        if let Some(ohms) = pin.leaky_ohms {
            out.push(Branch::both(End::Gnd, gnd, ohms));
        }
    }

    /// The current from supply to ground inside, beside what the pins carry; negative where the
    /// substrate diode conducts.
    pub(crate) fn through_amps(&self, vcc: f64, gnd: f64) -> f64 {
        let supply = vcc - gnd;
        let from = self.figures.conducts_volts;
        let mut amps = self.supply_amps * ((supply - from) / (5.0 - from)).max(0.0);
        amps -= ((-supply - DIODE_VOLTS) / SUPPLY_DIODE_OHMS).max(0.0);
        if self.supply_shorted {
            amps += supply / SUPPLY_SHORT_OHMS;
        }
        amps
    }

    /// Takes over the rail voltages; `held` says that switches hold both, `may_rise` that the
    /// condition may improve. On a change of condition the outputs change at once; returns whether
    /// it changed.
    pub(crate) fn feed(&mut self, rails: (f64, f64), held: bool, may_rise: bool, now: u64) -> bool {
        (self.vcc, self.gnd) = rails;
        let (vcc, gnd) = rails;
        let supply = vcc - gnd;
        let reaches = |volts: f64, had: bool| supply >= if had { volts - SAG_VOLTS } else { volts };
        let alive = self.condition == Condition::Alive;
        let rests = !held && !alive && now < self.rests_until;
        let condition = if reaches(self.figures.works_volts, alive) && !rests {
            Condition::Alive
        } else if reaches(self.figures.stirs_volts, self.condition != Condition::Dead) {
            Condition::Faint
        } else {
            Condition::Dead
        };
        if condition == self.condition || (condition > self.condition && !may_rise) {
            return false;
        }
        if alive {
            self.rests_until = now + REST_NS;
        }
        self.condition = condition;
        for pin in &mut self.pins {
            pin.level = Level::Undefined;
            pin.pending = None;
            pin.drive = Drive::Off;
        }
        if let Some(memory) = &mut self.memory {
            memory.power_down();
        }
        match condition {
            Condition::Alive => self.power_up(now),
            Condition::Faint => self.roll_drives(),
            Condition::Dead => {}
        }
        true
    }

    /// Fills the registers with seeded contents.
    fn power_up(&mut self, now: u64) {
        self.power_ups += 1;
        self.rolls += 1;
        self.machine = Machine::new(self.chip.network.clone(), self.chip.part.pins.len());
        let seed = mix(self.chip.seed, self.power_ups);
        for register in 0..self.chip.network.registers.len() {
            let content = Word::all(coin(seed, register as u64, 0));
            self.machine.set_state(StateId(register as u32), content);
        }
        if let Some(memory) = &mut self.memory {
            memory.power_up(seed, now);
        }
        // The logic comes to rest only once every input has been seen, so that the first sight of
        // a clock is no edge.
        self.fresh = true;
    }

    /// The station has changed something: what the logic does not know falls anew. While the
    /// station waits it stays, or outputs that float back to unknown inputs would never rest.
    pub(crate) fn roll(&mut self) {
        self.rolls += 1;
    }

    fn roll_drives(&mut self) {
        self.rolls += 1;
        for index in 0..self.pins.len() {
            self.pins[index].drive = self.wanted(index).unwrap_or(Drive::Off);
        }
    }

    /// What a pin's output stage should do by the present logic; what the logic does not know is
    /// left to the seed, so that an unknown never agrees silently. `None` for a pin that does not
    /// drive.
    fn wanted(&self, index: usize) -> Option<Drive> {
        let pin = &self.pins[index];
        let (kind, id) = (pin.output?, pin.id?);
        let toss = |what| coin(mix(self.chip.seed, self.rolls), index as u64, what);
        let (high, enabled) = match self.condition {
            Condition::Dead => return Some(Drive::Off),
            Condition::Faint => (toss(2), kind != Output::ThreeState || toss(3)),
            Condition::Alive => 'known: {
                if let Some((enabled, high)) = self.remembered(index) {
                    break 'known (high, enabled);
                }
                let (level, enable) = self.machine.driven(id);
                (
                    level.known().unwrap_or_else(|| toss(2)),
                    enable.known().unwrap_or_else(|| toss(3)),
                )
            }
        };
        Some(if enabled { output_drive(Some(kind), high) } else { Drive::Off })
    }

    /// What an input takes a voltage for. A floating MOS input is undefined.
    pub(crate) fn judge(&self, pin: &SeatedPin, volts: f64, floating: bool) -> Level {
        let (figures, supply) = (self.figures, self.vcc - self.gnd);
        let bipolar = figures.input_ohms.is_some();
        if floating && !bipolar {
            return Level::Undefined;
        }
        let volts = volts - self.gnd;
        let (low, typical, high) = figures.threshold.at(supply);
        let (low, high) = match (pin.schmitt, bipolar) {
            (true, _) => {
                let (falling, _, rising) = figures.hysteresis.at(supply);
                (falling, rising)
            }
            (false, true) => (typical, typical),
            (false, false) => (low, high),
        };
        if volts >= high {
            Level::High
        } else if volts <= low {
            Level::Low
        } else if pin.schmitt {
            pin.level
        } else {
            Level::Undefined
        }
    }

    /// Shows an input its voltage. Where its level changed, the logic comes to rest and outputs
    /// that change are due after their delay; returns whether it changed.
    pub(crate) fn show(&mut self, index: usize, volts: f64, floating: bool, now: u64) -> bool {
        let pin = &self.pins[index];
        let (true, Some(id)) = (pin.input, pin.id) else { return false };
        if self.condition != Condition::Alive {
            return false;
        }
        let level = self.judge(pin, volts, floating);
        if level == pin.level {
            return false;
        }
        self.take_level(index, level, now);
        let word = match level {
            Level::Low => Word::LOW,
            Level::High => Word::HIGH,
            Level::Undefined => Word::UNKNOWN,
        };
        if self.thinks {
            self.machine.apply(id, word);
            if !self.fresh {
                self.rest(now);
            }
        }
        true
    }

    /// Takes an input's new level, as far as a memory is concerned.
    pub(crate) fn take_level(&mut self, index: usize, level: Level, now: u64) {
        self.pins[index].level = level;
        if let Some(memory) = &mut self.memory {
            memory.input(index, level, now);
        }
    }

    /// Whether a pin shows a memory's data, and which level.
    fn remembered(&self, index: usize) -> Option<(bool, bool)> {
        let memory = self.memory.as_ref()?;
        let bit = memory.out_bit(index)?;
        let (enabled, word) = memory.outputs();
        Some((enabled, word >> bit & 1 == 1))
    }

    /// Lets a memory do what is due; returns the data-out bits whose output changes with it.
    pub(crate) fn pass(&mut self, now: u64) -> u32 {
        let Some(memory) = &mut self.memory else { return 0 };
        let (drove, word) = memory.outputs();
        memory.pass(now);
        let (drives, next) = memory.outputs();
        if drove == drives { if drives { word ^ next } else { 0 } } else { memory.out_bits() }
    }

    /// Brings a pin's output to what a memory shows; returns whether that changed it.
    pub(crate) fn follow(&mut self, index: usize) -> bool {
        let drive = match self.remembered(index) {
            Some((true, high)) if self.condition == Condition::Alive => {
                output_drive(self.pins[index].output, high)
            }
            _ => Drive::Off,
        };
        std::mem::replace(&mut self.pins[index].drive, drive) != drive
    }

    /// Lets a freshly powered chip come to rest, once every input has been shown its level.
    pub(crate) fn start(&mut self, now: u64) {
        if std::mem::take(&mut self.fresh) {
            if let Some(memory) = &mut self.memory {
                memory.start(now);
            }
            if self.thinks {
                self.rest(now);
            }
        }
    }

    /// Brings the logic to rest and makes the outputs that change due.
    fn rest(&mut self, now: u64) {
        self.machine.settle();
        for output in 0..self.pins.len() {
            if self.remembered(output).is_some() {
                continue;
            }
            let Some(wanted) = self.wanted(output) else { continue };
            let due = now + self.delay_ns(output);
            let pin = &mut self.pins[output];
            if wanted == pin.drive {
                pin.pending = None;
            } else if pin.pending.is_none_or(|(_, coming)| coming != wanted) {
                pin.pending = Some((due, wanted));
            }
        }
    }

    fn delay_ns(&self, pin: usize) -> u64 {
        let seconds = self.figures.delay_seconds.at(self.vcc - self.gnd);
        (seconds * 1e9 * f64::from(self.pins[pin].slow)).ceil() as u64
    }

    /// When the next output changes.
    pub(crate) fn next_due(&self) -> u64 {
        let memory = self.memory.as_ref().map_or(u64::MAX, |memory| memory.next_due());
        if !self.thinks {
            return memory;
        }
        let pins = self.pins.iter().filter_map(|pin| pin.pending).map(|(due, _)| due);
        pins.min().unwrap_or(u64::MAX).min(memory)
    }
}
