//! Which levels make a memory read, write and rest.

use dipsift_language::{Machine, Memory, NodeId, Package, Part, PinId, Word};
use dipsift_wire::Pins;
use std::sync::Arc;

/// The control pins of a memory, as package pins, and their levels.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Control {
    /// All of them, the strobes among them.
    pub pins: Pins,
    /// Those that are high between cycles.
    pub idle: Pins,
    /// Those that are high while a word is read; strobes at rest.
    pub read: Pins,
    /// Those that are high while a word is written; strobes at rest. `None` for a memory that is
    /// only read.
    pub write: Option<Pins>,
    /// The row strobe and the column strobe, and those of them that are active high.
    pub strobes: Option<Strobes>,
}

/// The strobes of a dynamic memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Strobes {
    /// The row strobe.
    pub row: Pins,
    /// The column strobe.
    pub column: Pins,
    /// Those of them that are active high.
    pub active: Pins,
}

/// The most pins that conditions are looked for among: all their levels are tried.
const MOST: usize = 10;

impl Control {
    /// Reads the conditions of a description. `None` where they are too unusual: they need more
    /// pins than are tried, or no levels exist that leave the memory alone.
    pub fn of(part: &Part, package: &Package, memory: &Memory) -> Option<Self> {
        let conditions = Conditions::of(part, memory)?;
        let number = |id: PinId| package.numbers(id).next();
        let place = |levels: u32| -> Option<Pins> {
            let pins = conditions.pins.iter().enumerate();
            pins.filter(|(index, _)| levels >> index & 1 == 1).map(|(_, &id)| number(id)).collect()
        };
        let levels = conditions.levels()?;
        let strobes = match memory.strobes.as_slice() {
            [row, column] => {
                let high = |id: PinId| !is_active_low(part, id);
                let (row_pin, column_pin) = (Pins::one(number(*row)?), Pins::one(number(*column)?));
                let mut active = Pins::NONE;
                for (id, pin) in [(*row, row_pin), (*column, column_pin)] {
                    if high(id) {
                        active = Pins(active.0 | pin.0);
                    }
                }
                Some(Strobes { row: row_pin, column: column_pin, active })
            }
            _ => None,
        };
        let (all, resting) = match strobes {
            Some(Strobes { row, column, active }) => {
                let both = Pins(row.0 | column.0);
                (both, Pins(both.0 & !active.0))
            }
            None => (Pins::NONE, Pins::NONE),
        };
        let with_strobes = |pins: Pins| Pins(pins.0 | resting.0);
        Some(Self {
            pins: Pins(place(u32::MAX)?.0 | all.0),
            idle: with_strobes(place(levels.idle)?),
            read: with_strobes(place(levels.read)?),
            write: match levels.write {
                Some(write) => Some(with_strobes(place(write)?)),
                None => None,
            },
            strobes,
        })
    }
}

/// Whether a pin is active at a low level, as its name says.
fn is_active_low(part: &Part, pin: PinId) -> bool {
    part.pin(pin).name.starts_with('/')
}

/// Levels of the control pins, one bit each.
struct Levels {
    idle: u32,
    read: u32,
    write: Option<u32>,
}

/// The conditions of a memory over its control pins, the strobes left out.
struct Conditions<'a> {
    part: &'a Part,
    memory: &'a Memory,
    pins: Vec<PinId>,
    machine: Machine,
}

impl<'a> Conditions<'a> {
    fn of(part: &'a Part, memory: &'a Memory) -> Option<Self> {
        let roots = [memory.read, memory.write, memory.latch];
        let (mut pins, remembers) = part.network.cone(roots.into_iter().flatten());
        pins.retain(|pin| !memory.strobes.contains(pin));
        let network = Arc::new(part.network.clone());
        let machine = Machine::new(network, part.pins.len());
        (!remembers && pins.len() <= MOST).then_some(Self { part, memory, pins, machine })
    }

    /// What holds at these levels: read, write, latch. Strobes are active or at rest.
    fn at(&self, levels: u32, strobed: bool) -> [bool; 3] {
        let mut machine = self.machine.clone();
        for (index, &pin) in self.pins.iter().enumerate() {
            machine.apply(pin, word(levels >> index & 1 == 1));
        }
        for &pin in &self.memory.strobes {
            machine.apply(pin, word(is_active_low(self.part, pin) != strobed));
        }
        machine.settle();
        let holds = |node: Option<NodeId>| node.is_some_and(|node| machine.node(node).low & 1 == 0);
        [holds(self.memory.read), holds(self.memory.write), holds(self.memory.latch)]
    }

    /// The pins whose change ends what holds at these levels.
    fn needed(&self, levels: u32, which: usize) -> u32 {
        let ends = |index: &usize| !self.at(levels ^ 1 << index, true)[which];
        (0..self.pins.len()).filter(ends).fold(0, |set, index| set | 1 << index)
    }

    fn levels(&self) -> Option<Levels> {
        let all = 0..1_u32 << self.pins.len();
        let read = all.clone().find(|&levels| {
            let [reads, writes, _] = self.at(levels, true);
            reads && !writes
        })?;
        let write = match self.memory.write {
            // Without reading, where that can be.
            Some(_) => Some(
                all.clone()
                    .find(|&levels| matches!(self.at(levels, true), [false, true, _]))
                    .or_else(|| all.clone().find(|&levels| self.at(levels, true)[1]))?,
            ),
            None => None,
        };
        let reads_by = self.needed(read, 0);
        let (write_levels, writes_by) = match write {
            Some(levels) => (levels, self.needed(levels, 1)),
            None => (read, 0),
        };
        // A pin that reading and writing want at one level selects, and rests at the other. One
        // that they want at different levels is the write enable, and rests as for a read. One
        // that only one of them wants rests against it.
        let select = reads_by & writes_by & !(read ^ write_levels);
        let enable = reads_by & writes_by & (read ^ write_levels);
        let only_read = reads_by & !writes_by;
        let only_write = writes_by & !reads_by;
        let mut idle = !read & (select | only_read) | read & enable | !write_levels & only_write;
        // What neither wants holds the address, or does nothing.
        let rest = self.all() & !(reads_by | writes_by);
        idle |= self.unlatched(idle, rest)?;
        let levels = Levels {
            idle,
            read: read & reads_by | idle & !reads_by,
            write: write.map(|levels| levels & writes_by | idle & !writes_by),
        };
        self.holds(&levels).then_some(levels)
    }

    fn all(&self) -> u32 {
        (1 << self.pins.len()) - 1
    }

    /// Levels of the remaining pins at which the address is not held.
    fn unlatched(&self, idle: u32, rest: u32) -> Option<u32> {
        (0..=self.all()).filter(|levels| levels & !rest == 0).find(|levels| {
            let [.., latched] = self.at(idle | levels, false);
            !latched
        })
    }

    /// Whether the levels do what they are meant to.
    fn holds(&self, levels: &Levels) -> bool {
        let reads = matches!(self.at(levels.read, true), [true, false, _]);
        let writes = levels.write.is_none_or(|write| self.at(write, true)[1]);
        let [read_idle, write_idle, _] = self.at(levels.idle, false);
        reads && writes && !read_idle && !write_idle
    }
}

const fn word(high: bool) -> Word {
    if high { Word::HIGH } else { Word::LOW }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dipsift_language::{Library, PackageKind};

    fn control(number: &str) -> (Arc<Part>, Control) {
        let library = Library::builtin();
        let part = library.part(number).expect(number).clone();
        let package = part.package(PackageKind::Dip, part.made[0]).expect("a package").clone();
        let memory = part.memory.clone().expect("a memory");
        let control = Control::of(&part, &package, &memory).expect(number);
        (part, control)
    }

    fn pins(numbers: &[u8]) -> Pins {
        numbers.iter().copied().collect()
    }

    /// JEDEC 8K x 8 static RAM, truth table of the HM6264 data sheet (Hitachi; from memory): read
    /// at /CS1 low, CS2 high, /OE low, /WE high; write at /CS1 low, CS2 high, /WE low. Pins 20,
    /// 26, 22, 27.
    #[test]
    fn a_6264_is_read_and_written_as_its_truth_table_says() {
        let (_, control) = control("6264");
        assert_eq!(control.pins, pins(&[20, 22, 26, 27]));
        assert_eq!(control.idle, pins(&[20, 22, 27]));
        assert_eq!(control.read, pins(&[26, 27]));
        assert_eq!(control.write, Some(pins(&[26, 22])));
        assert_eq!(control.strobes, None);
    }

    /// 2716: read at /CE and /OE low, pins 18 and 20 (Intel 2716 data sheet, mode table; from
    /// memory).
    #[test]
    fn a_2716_is_only_read() {
        let (_, control) = control("2716");
        assert_eq!(control.pins, pins(&[18, 20]));
        assert_eq!(control.idle, pins(&[18, 20]));
        assert_eq!(control.read, Pins::NONE);
        assert_eq!(control.write, None);
    }

    /// 4164: /W is pin 3, /RAS pin 4, /CAS pin 15 (TI TMS4164 data sheet; from memory).
    #[test]
    fn a_4164_has_strobes() {
        let (_, control) = control("4164");
        assert_eq!(control.pins, pins(&[3, 4, 15]));
        assert_eq!(control.idle, pins(&[3, 4, 15]));
        assert_eq!(control.write, Some(pins(&[4, 15])));
        let strobes = control.strobes.expect("strobes");
        assert_eq!((strobes.row, strobes.column), (pins(&[4]), pins(&[15])));
        assert_eq!(strobes.active, Pins::NONE);
    }

    /// The latch of a 4118, pin 19, holds the address while it is low (Mostek MK4118A data sheet;
    /// from memory): it stays high.
    #[test]
    fn a_latch_stays_open() {
        let (_, control) = control("4118");
        assert!(control.idle.contains(19) && control.read.contains(19));
    }

    #[test]
    fn every_memory_of_the_library_has_levels() {
        let library = Library::builtin();
        for part in library.iter().filter(|part| part.memory.is_some()) {
            let Some(package) = part.package(PackageKind::Dip, part.made[0]) else { continue };
            let memory = part.memory.as_ref().expect("a memory");
            let control = Control::of(part, package, memory);
            assert!(control.is_some(), "{}", part.number);
        }
    }
}
