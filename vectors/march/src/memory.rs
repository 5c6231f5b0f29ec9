//! A small memory with a fault.

use crate::fault::{Behaviour, Placed, Primitive, Role, While};
use crate::march::Operation;

/// The cells of the array on which faults are simulated: one more than the largest fault takes,
/// so that a cell that does not take part is always there.
pub const CELLS: u8 = 4;

/// Where the latch stands in a state's bits.
const LATCH: u8 = 1 << CELLS;

/// A memory with a fault, in one state. The state is a byte: a bit for each cell, and above them
/// what the sense amplifier read last, which only a cut-off cell shows.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Memory<'f> {
    fault: &'f Placed,
    state: u8,
}

impl<'f> Memory<'f> {
    /// A memory in a state; what a cell cannot hold is gone at once.
    pub fn new(fault: &'f Placed, state: u8) -> Self {
        let mut memory = Self { fault, state };
        memory.settle();
        memory
    }

    /// The states that it can power up in, as a set of bits.
    pub fn power_up(fault: &Placed) -> u32 {
        let remembers = fault.behaviour == Behaviour::Open;
        let states = if remembers { 2 * LATCH } else { LATCH };
        (0..states).fold(0, |set, state| set | 1 << Memory::new(fault, state).state())
    }

    pub fn state(&self) -> u8 {
        self.state
    }

    /// Does an operation; whether a read gave what it expects, and true for a write.
    pub fn run(&mut self, address: u8, operation: Operation) -> bool {
        match operation {
            Operation::Write(value) => {
                self.write(address, value);
                true
            }
            Operation::Read(expected) => self.read(address) == expected,
        }
    }

    /// Nothing is accessed for a while.
    pub fn pause(&mut self) {
        let victim = self.fault.cell(Role::Victim);
        if let Behaviour::Loses(value) = self.fault.behaviour
            && self.get(victim) == value
        {
            self.set(victim, !value);
        }
    }

    fn write(&mut self, address: u8, value: bool) {
        let (victim, aggressor) = (self.fault.cell(Role::Victim), self.fault.cell(Role::Aggressor));
        match self.fault.behaviour {
            Behaviour::Open | Behaviour::NoCell(_) | Behaviour::Borrowed(_)
                if address == victim => {}
            Behaviour::Borrowed(_) | Behaviour::ExtraCell(_) if address == aggressor => {
                self.set(aggressor, value);
                self.set(victim, value);
            }
            Behaviour::OtherCell if address == victim => self.set(aggressor, value),
            Behaviour::Primitives(one, other) => {
                let before = *self;
                self.set(address, value);
                for primitive in [Some(one), other].into_iter().flatten() {
                    self.written(primitive, &before, address, value);
                }
            }
            _ => self.set(address, value),
        }
        self.settle();
    }

    /// What a primitive does to the victim when a value is written.
    fn written(&mut self, primitive: Primitive, before: &Self, address: u8, value: bool) {
        let victim = self.fault.cell(Role::Victim);
        match primitive {
            Primitive::Write { condition, from, to }
                if address == victim
                    && value == to
                    && before.get(victim) == from
                    && before.holds(condition) =>
            {
                self.set(victim, !to);
            }
            Primitive::Disturb { .. } => {
                self.disturbed(primitive, before, address, Operation::Write(value));
            }
            _ => {}
        }
    }

    /// What a disturbing operation does to the victim.
    fn disturbed(&mut self, primitive: Primitive, before: &Self, address: u8, done: Operation) {
        let Primitive::Disturb { aggressor, from, operation, victim: held } = primitive else {
            return;
        };
        let victim = self.fault.cell(Role::Victim);
        let is = before.get(victim);
        if address == self.fault.cell(aggressor)
            && done == operation
            && before.get(address) == from
            && held.is_none_or(|held| held == is)
        {
            self.set(victim, !is);
        }
    }

    fn read(&mut self, address: u8) -> bool {
        let (victim, aggressor) = (self.fault.cell(Role::Victim), self.fault.cell(Role::Aggressor));
        match self.fault.behaviour {
            Behaviour::Open => {
                let last = self.state & LATCH != 0;
                let value = if address == victim { last } else { self.get(address) };
                self.state = self.state & !LATCH | u8::from(value) << CELLS;
                value
            }
            Behaviour::NoCell(line) | Behaviour::Borrowed(line) if address == victim => line.rest(),
            Behaviour::Borrowed(line) | Behaviour::ExtraCell(line) if address == aggressor => {
                line.join(self.get(aggressor), self.get(victim))
            }
            Behaviour::OtherCell if address == victim => self.get(aggressor),
            Behaviour::Primitives(one, other) => {
                let before = *self;
                let mut value = self.get(address);
                for primitive in [Some(one), other].into_iter().flatten() {
                    self.disturbed(
                        primitive,
                        &before,
                        address,
                        Operation::Read(before.get(address)),
                    );
                    if let Primitive::Read { condition, held, becomes, returns } = primitive
                        && address == victim
                        && before.get(victim) == held
                        && before.holds(condition)
                    {
                        self.set(victim, becomes);
                        value = returns;
                    }
                }
                self.settle();
                value
            }
            _ => self.get(address),
        }
    }

    /// Whether the aggressor holds what a primitive asks for.
    fn holds(&self, condition: While) -> bool {
        condition.is_none_or(|(role, value)| self.get(self.fault.cell(role)) == value)
    }

    /// Takes from the victim what it cannot hold.
    fn settle(&mut self) {
        let victim = self.fault.cell(Role::Victim);
        match self.fault.behaviour {
            Behaviour::Stuck(value) => self.set(victim, value),
            Behaviour::Primitives(Primitive::Holds(value), _) if self.get(victim) == value => {
                self.set(victim, !value);
            }
            _ => {}
        }
    }

    fn get(&self, cell: u8) -> bool {
        self.state >> cell & 1 == 1
    }

    fn set(&mut self, cell: u8, value: bool) {
        self.state = self.state & !(1 << cell) | u8::from(value) << cell;
    }
}
