//! The processor.

use crate::board::Reset;
use crate::exceptions::{EXTERNAL, HARD_FAULT, NMI, active, enter, leave, register};
use crate::flash::{BANK, BANK_SIZE, Flash};
use crate::image::FLASH;
use crate::thumb::{Cost, cost};
use crate::{Board, Fixture, Image, PinEvent, Sources, Trouble};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use unicorn_engine::{Arch, ArmCpuModel, HookType, Mode, Prot, RegisterARM, Unicorn, uc_error};

/// The memory in one piece (ST DS9405).
const RAM: u64 = 0x2000_0000;
const RAM_SIZE: u64 = 192 << 10;
/// All peripherals; the processor's own registers.
const PERIPHERALS: (u64, u64) = (0x4000_0000, 0x2000_0000);
const PROCESSOR: (u64, u64) = (0xe000_0000, 0x0010_0000);
/// The exceptions that the emulator reports (QEMU, target/arm/cpu.h).
const EXCEPTION_EXIT: u32 = 8;
/// An undefined instruction, and an endless loop (ARM DDI 0403, UDF and B).
const UNDEFINED: u16 = 0xde00;
const ENDLESS: u16 = 0xe7fe;

/// What has been run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Instructions.
    pub instructions: u64,
    /// Those of them that only wait: rounds of loops beyond the first, a block that comes right
    /// after itself, and moves of r8 to itself.
    pub waiting: u64,
    /// Cycles, estimated.
    pub cycles: u64,
    /// Interrupts taken.
    pub interrupts: u64,
    /// Faults and other exceptions that cannot be masked.
    pub faults: u64,
    /// Resets after the first start.
    pub resets: u64,
}

#[derive(Default)]
struct Shared {
    /// Where a write went that the memory does not take.
    refused: Cell<u64>,
    exception: Cell<Option<u32>>,
    stop_for_output: Cell<bool>,
    by_instruction: Cell<bool>,
    /// The block that ran last.
    last_block: Cell<u64>,
}

/// An emulated board.
pub struct Machine {
    core: Unicorn<'static, Board>,
    image: Rc<Image>,
    shared: Rc<Shared>,
    counts: Counts,
    last_reset: Reset,
    last_fault: Option<Fault>,
    left_at_reset: Vec<String>,
}

/// Where a fault was, and how the emulator names its cause.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The instruction, or one before it in its block.
    pub address: u32,
    /// The cause.
    pub cause: String,
}

fn emulator(error: uc_error) -> Trouble {
    Trouble::Emulator(format!("{error:?}"))
}

impl Machine {
    /// A board that was just switched on, its memory in a random state, its clock sources as
    /// given.
    pub fn new(image: Image, fixture: Fixture, sources: Sources) -> Result<Self, Trouble> {
        let first = BANK_SIZE;
        let second = Flash::new(image.flash[first..].to_vec());
        let mut board = Board::new(fixture, second);
        board.clocks.sources = sources;
        let core = Unicorn::new_with_data(Arch::ARM, Mode::THUMB | Mode::MCLASS, board);
        let mut core = core.map_err(emulator)?;
        core.ctl_set_cpu_model(ArmCpuModel::CORTEX_M4 as i32).map_err(emulator)?;
        let image = Rc::new(image);
        let shared = Rc::new(Shared::default());
        core.mem_map(FLASH.into(), first as u64, Prot::READ | Prot::EXEC).map_err(emulator)?;
        core.mem_write(FLASH.into(), &image.flash[..first]).map_err(emulator)?;
        map_second_bank(&mut core).map_err(emulator)?;
        core.mem_map(RAM, RAM_SIZE, Prot::ALL).map_err(emulator)?;
        for (base, size) in [PERIPHERALS, PROCESSOR] {
            core.mmio_map(
                base,
                size,
                Some(move |core: &mut Unicorn<'_, Board>, offset: u64, size: usize| {
                    let board = core.get_data_mut();
                    board.read((base + offset) as u32, size).map_or_else(
                        |trouble| {
                            board.trouble.get_or_insert(trouble);
                            0
                        },
                        u64::from,
                    )
                }),
                Some(move |core: &mut Unicorn<'_, Board>, offset: u64, size: usize, value: u64| {
                    let board = core.get_data_mut();
                    let result = board.write((base + offset) as u32, size, value as u32);
                    if let Err(trouble) = result {
                        board.trouble.get_or_insert(trouble);
                    }
                }),
            )
            .map_err(emulator)?;
        }
        add_block_hook(&mut core, &image, &shared).map_err(emulator)?;
        let hooked = Rc::clone(&shared);
        core.add_mem_hook(HookType::MEM_WRITE_PROT, 1, 0, move |_, _, address, _, _| {
            hooked.refused.set(address);
            false
        })
        .map_err(emulator)?;
        let hooked = Rc::clone(&shared);
        core.add_intr_hook(move |core, number| {
            hooked.exception.set(Some(number));
            // Nothing can be done about it here; the flag ends the run as well.
            let _ = core.emu_stop();
        })
        .map_err(emulator)?;
        let mut machine = Self {
            core,
            image,
            shared,
            counts: Counts::default(),
            last_reset: Reset::PowerOn,
            last_fault: None,
            left_at_reset: Vec::new(),
        };
        machine.power_cycle()?;
        machine.counts = Counts::default();
        Ok(machine)
    }

    /// Registers and fixture.
    pub fn board(&self) -> &Board {
        self.core.get_data()
    }

    /// Registers and fixture, to change what is outside.
    pub fn board_mut(&mut self) -> &mut Board {
        self.core.get_data_mut()
    }

    /// What has been run.
    pub fn counts(&self) -> Counts {
        let &Board { instructions, cycles, waiting, .. } = self.board();
        Counts { instructions, waiting, cycles, ..self.counts }
    }

    /// What has reset the board last.
    pub fn last_reset(&self) -> Reset {
        self.last_reset
    }

    /// What was not safe yet at the moment of the last reset: what the image had left to it.
    pub fn left_at_reset(&self) -> &[String] {
        &self.left_at_reset
    }

    /// The last fault, if there was one.
    pub fn last_fault(&self) -> Option<&Fault> {
        self.last_fault.as_ref()
    }

    /// The supply goes and comes: memory is random afterwards, the same each time.
    pub fn power_cycle(&mut self) -> Result<(), Trouble> {
        let mut random = 0x9e37_79b9_u32;
        let garbage: Vec<u8> = (0..RAM_SIZE)
            .map(|_| {
                random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (random >> 24) as u8
            })
            .collect();
        self.core.mem_protect(RAM, RAM_SIZE, Prot::ALL).map_err(emulator)?;
        self.core.mem_write(RAM, &garbage).map_err(emulator)?;
        self.reset(Reset::PowerOn)
    }

    /// Resets the controller. Memory stays.
    pub fn reset(&mut self, reset: Reset) -> Result<(), Trouble> {
        self.last_reset = reset;
        self.left_at_reset = self.board().unsafe_pins();
        self.counts.resets += 1;
        self.core.mem_protect(RAM, RAM_SIZE, Prot::ALL).map_err(emulator)?;
        self.board_mut().reset(reset)?;
        let (stack, start) = (self.image.vector(0), self.image.vector(1));
        let core = &mut self.core;
        core.reg_write(RegisterARM::XPSR, 1 << 24).map_err(emulator)?;
        core.reg_write(RegisterARM::PRIMASK, 0).map_err(emulator)?;
        core.reg_write(RegisterARM::CONTROL, 0).map_err(emulator)?;
        core.reg_write(RegisterARM::MSP, stack.into()).map_err(emulator)?;
        core.reg_write(RegisterARM::SP, stack.into()).map_err(emulator)?;
        core.reg_write(RegisterARM::LR, 0xffff_ffff).map_err(emulator)?;
        core.reg_write(RegisterARM::PC, (start | 1).into()).map_err(emulator)
    }

    /// Nanoseconds since the start.
    pub fn nanoseconds(&self) -> u64 {
        self.board().nanoseconds()
    }

    /// Runs for a time.
    pub fn run(&mut self, nanoseconds: u64) -> Result<(), Trouble> {
        self.run_until(self.nanoseconds().saturating_add(nanoseconds), false)
    }

    /// Runs up to a time, or until a byte has been transmitted.
    pub fn run_for_output(&mut self, until: u64) -> Result<(), Trouble> {
        self.run_until(until, true)
    }

    fn run_until(&mut self, until: u64, for_output: bool) -> Result<(), Trouble> {
        self.shared.stop_for_output.set(for_output);
        loop {
            let now = self.nanoseconds();
            if let Some(trouble) = &self.board().trouble {
                return Err(trouble.clone());
            }
            match self.board_mut().wanted_reset.take() {
                Some(Reset::PowerOn) => self.power_cycle()?,
                Some(reset) => self.reset(reset)?,
                None => {}
            }
            if let Some((base, size)) = self.board_mut().closed.take() {
                let (base, size) = (base.into(), size.into());
                self.core.mem_protect(base, size, Prot::NONE).map_err(emulator)?;
            }
            if now >= until || for_output && self.board().has_output() {
                return Ok(());
            }
            self.interrupt()?;
            let board = self.board_mut();
            // At a slower clock than this the time comes later: the loop goes on.
            board.stop_at = board.cycles + board.clocks.cycles(until - now).max(1);
            self.go()?;
        }
    }

    /// Takes an interrupt that is asserted and not masked.
    fn interrupt(&mut self) -> Result<(), Trouble> {
        if !self.board().asserted || !is_interruptible(&self.core) {
            return Ok(());
        }
        let number = if self.board().clock_lost {
            self.board_mut().clock_lost = false;
            self.counts.faults += 1;
            NMI
        } else {
            let Some(interrupt) = self.board().interrupt() else {
                return Ok(());
            };
            self.counts.interrupts += 1;
            EXTERNAL + interrupt
        };
        self.except(number)
    }

    fn except(&mut self, number: u32) -> Result<(), Trouble> {
        // Entry takes 12 cycles (ARM DDI 0439).
        self.board_mut().cycles += 12;
        let pc = register(&self.core, RegisterARM::PC).map_err(emulator)?;
        enter(&mut self.core, number, self.image.vector(number), pc).map_err(emulator)
    }

    /// A fault that nothing handles but the hard fault's handler.
    fn fault(&mut self, cause: String) -> Result<(), Trouble> {
        let active = active(&self.core).map_err(emulator)?;
        let address = register(&self.core, RegisterARM::PC).map_err(emulator)?;
        if active == HARD_FAULT || active == NMI {
            return Err(Trouble::Lockup(address));
        }
        self.counts.faults += 1;
        self.last_fault = Some(Fault { address, cause });
        // The memory protection is off in the handler.
        self.core.mem_protect(RAM, RAM_SIZE, Prot::ALL).map_err(emulator)?;
        self.except(HARD_FAULT)
    }

    /// Runs until something is to be done outside.
    fn go(&mut self) -> Result<(), Trouble> {
        let pc = register(&self.core, RegisterARM::PC).map_err(emulator)?;
        self.shared.exception.set(None);
        let result = self.core.emu_start(u64::from(pc | 1), 0, 0, 0);
        if self.board().trouble.is_some() {
            return Ok(());
        }
        match (result, self.shared.exception.get()) {
            (_, Some(EXCEPTION_EXIT)) => {
                // Return takes 12 cycles as well.
                self.board_mut().cycles += 12;
                leave(&mut self.core).map_err(emulator)
            }
            (_, Some(number)) => self.fault(format!("exception {number}")),
            (Ok(()), None) => Ok(()),
            (Err(uc_error::WRITE_PROT), None) if self.shared.refused.get() < RAM => {
                Err(Trouble::Misuse("the image writes to the bank that holds it"))
            }
            (Err(error), None) => match error {
                uc_error::READ_UNMAPPED
                | uc_error::WRITE_UNMAPPED
                | uc_error::FETCH_UNMAPPED
                | uc_error::READ_PROT
                | uc_error::WRITE_PROT
                | uc_error::FETCH_PROT
                | uc_error::INSN_INVALID
                | uc_error::EXCEPTION => self.fault(format!("{error:?}")),
                _ => Err(emulator(error)),
            },
        }
    }

    /// Presses or releases the button.
    pub fn press(&mut self, pressed: bool) {
        self.board_mut().button = pressed;
    }

    /// The controller's supply sags below 2.9 V, or recovers.
    pub fn sag(&mut self, sags: bool) {
        let board = self.board_mut();
        board.lines.sag(sags);
        board.look_at_interrupts();
    }

    /// The debug probe's clock ends. Under its watch the processor gets an interrupt that cannot
    /// be masked, and runs on from the internal clock.
    pub fn lose_clock(&mut self) {
        let board = self.board_mut();
        board.clocks.sources.external = false;
        board.clock_lost = board.clocks.security_on();
        board.look_at_interrupts();
    }

    /// The second bank's content: what the image keeps over resets and without power.
    pub fn kept(&self) -> &[u8] {
        self.board().flash.memory()
    }

    /// How many words the image has programmed and sectors it has erased.
    pub fn flash_operations(&self) -> u64 {
        self.board().flash.operations()
    }

    /// The power goes in the middle of a word that is programmed or a sector that is erased, after
    /// so many more that are completed.
    pub fn cut_power_after(&mut self, operations: Option<u64>) {
        self.board_mut().flash.cut_power_after(operations);
    }

    /// Protects sector 12 or another of the second bank against writing, by its number.
    pub fn protect_sector(&mut self, number: u32) {
        // Sector 12 has the code 16 (ST RM0090, FLASH_CR).
        self.board_mut().flash.protect(number + 4);
    }

    /// Replaces some of the second bank's content, as a programming tool would.
    pub fn keep(&mut self, at: usize, bytes: &[u8]) {
        self.board_mut().flash.replace(at, bytes);
    }

    /// Overwrites the stack that is in use.
    pub fn spoil_stack(&mut self) -> Result<(), Trouble> {
        let (stack, top) = (register(&self.core, RegisterARM::SP), self.image.vector(0));
        let stack = stack.map_err(emulator)?;
        let garbage = vec![0xff; top.saturating_sub(stack) as usize];
        self.core.mem_write(stack.into(), &garbage).map_err(emulator)
    }

    /// Makes the processor execute a narrow instruction next, with this value in r0.
    pub fn execute(&mut self, instruction: u16, r0: u32) -> Result<(), Trouble> {
        self.core.reg_write(RegisterARM::R0, r0.into()).map_err(emulator)?;
        self.go_to_instruction(instruction)
    }

    /// Makes the processor go to an address where nothing is.
    pub fn go_astray(&mut self) -> Result<(), Trouble> {
        self.core.reg_write(RegisterARM::PC, 0x6000_0001).map_err(emulator)
    }

    /// Makes the processor meet an undefined instruction next.
    pub fn derail(&mut self) -> Result<(), Trouble> {
        self.go_to_instruction(UNDEFINED)
    }

    /// Makes the processor hang in an endless loop.
    pub fn hang(&mut self) -> Result<(), Trouble> {
        self.go_to_instruction(ENDLESS)
    }

    /// Lets the stack run out: the next push or call is into the closed end of the stack.
    pub fn exhaust_stack(&mut self) -> Result<(), Trouble> {
        // push {r0}
        self.go_to_instruction(0xb401)?;
        let end = self.image.symbol("_stack_end").unwrap_or(RAM as u32);
        self.core.reg_write(RegisterARM::SP, u64::from(end + 1024)).map_err(emulator)
    }

    /// Puts an instruction at the end of the memory, which the image does not use, and goes there.
    fn go_to_instruction(&mut self, instruction: u16) -> Result<(), Trouble> {
        let at = RAM + RAM_SIZE - 16;
        let code = [instruction, ENDLESS].map(u16::to_le_bytes).concat();
        self.core.mem_write(at, &code).map_err(emulator)?;
        self.core.ctl_remove_cache(at, at + 4).map_err(emulator)?;
        self.core.reg_write(RegisterARM::PC, at | 1).map_err(emulator)
    }

    /// Collects what happens at the socket's pins from now on, and returns what was collected
    /// before.
    pub fn trace_pins(&mut self) -> Vec<PinEvent> {
        self.board_mut().events.replace(Vec::new()).unwrap_or_default()
    }

    /// From now on counts time instruction by instruction, so that what happens at the pins within
    /// a block has times of its own. It is slow.
    pub fn count_by_instruction(&mut self) -> Result<(), Trouble> {
        if self.shared.by_instruction.replace(true) {
            return Ok(());
        }
        let image = Rc::clone(&self.image);
        let known = RefCell::new(vec![Cost::default(); BANK_SIZE / 2]);
        self.core
            .add_code_hook(1, 0, move |core, address, size| {
                let offset = (address as u32).wrapping_sub(FLASH) as usize;
                let mut known = known.borrow_mut();
                let place = known.get_mut(offset / 2);
                let spent = match place {
                    Some(spent) if spent.instructions > 0 => *spent,
                    place => {
                        let code = image.flash.get(offset..offset + size as usize);
                        let spent = code.map_or(Cost { instructions: 1, cycles: 1, idle: 0 }, cost);
                        if let Some(place) = place {
                            *place = spent;
                        }
                        spent
                    }
                };
                let board = core.get_data_mut();
                board.instructions += u64::from(spent.instructions);
                board.cycles += u64::from(spent.cycles);
            })
            .map_err(emulator)?;
        // What has been translated does not know the hook.
        self.core.ctl_flush_tb().map_err(emulator)
    }

    /// Collects the instructions and cycles at which levels are applied to the socket from now on, and returns
    /// those collected before.
    pub fn trace_applications(&mut self) -> Vec<(u64, u64)> {
        self.board_mut().applied.replace(Vec::new()).unwrap_or_default()
    }
}

/// The second bank is the flash controller's: it is read and written as registers are.
fn map_second_bank(core: &mut Unicorn<'static, Board>) -> Result<(), uc_error> {
    core.mmio_map(
        BANK.into(),
        BANK_SIZE as u64,
        Some(|core: &mut Unicorn<'_, Board>, at: u64, size: usize| {
            let board = core.get_data_mut();
            board.load(at as usize, size).unwrap_or_else(|trouble| {
                board.trouble.get_or_insert(trouble);
                0
            })
        }),
        Some(|core: &mut Unicorn<'_, Board>, at: u64, size: usize, value: u64| {
            core.get_data_mut().store(at as usize, size, value as u32);
        }),
    )
}

/// Costs by address, and what is to be done between two blocks.
fn add_block_hook(
    core: &mut Unicorn<'static, Board>,
    image: &Rc<Image>,
    shared: &Rc<Shared>,
) -> Result<(), uc_error> {
    let image = Rc::clone(image);
    let shared = Rc::clone(shared);
    // By half-word of the flash: the size of the block that was looked at, and its cost.
    let known = RefCell::new(vec![(0_u32, Cost::default()); BANK_SIZE / 2]);
    core.add_block_hook(1, 0, move |core, address, size| {
        if must_stop(core, &shared) {
            // The block does not run now. Where the emulator cannot stop, the next block asks
            // again.
            let _ = core.emu_stop();
            return;
        }
        let offset = (address as u32).wrapping_sub(FLASH) as usize;
        let mut known = known.borrow_mut();
        let block = match known.get_mut(offset / 2) {
            Some((known_size, cost)) if *known_size == size => *cost,
            place => {
                let cost = match image.flash.get(offset..offset + size as usize) {
                    Some(code) => cost(code),
                    None => core
                        .mem_read_as_vec(address, size as usize)
                        .map_or_else(|_| Cost::default(), |code| cost(&code)),
                };
                if let Some(place) = place {
                    *place = (size, cost);
                }
                cost
            }
        };
        drop(known);
        if core.get_data().masked.is_some() {
            let masked = !is_interruptible(core);
            let board = core.get_data_mut();
            let cycles = board.cycles;
            if let Some(watched) = &mut board.masked {
                watched.note(masked, cycles);
            }
        }
        let again = shared.last_block.replace(address) == address;
        let board = core.get_data_mut();
        board.waiting += u64::from(if again { block.instructions } else { block.idle });
        if !shared.by_instruction.get() {
            board.instructions += u64::from(block.instructions);
            board.cycles += u64::from(block.cycles);
        }
        if board.cycles >= board.next_event {
            while let Some(stored) = core.get_data_mut().tick() {
                // The stream's address comes from the image.
                if core.mem_write(stored.address.into(), &[stored.byte]).is_err() {
                    core.get_data_mut().trouble = Some(Trouble::Misuse("DMA1 writes no memory"));
                }
            }
        }
    })
    .map(|_| ())
}

/// Whether something waits that is done outside the emulator.
fn must_stop(core: &Unicorn<'_, Board>, shared: &Shared) -> bool {
    let board = core.get_data();
    board.cycles >= board.stop_at
        || board.trouble.is_some()
        || board.wanted_reset.is_some()
        || board.closed.is_some()
        || shared.stop_for_output.get() && board.has_output()
        || board.asserted && is_interruptible(core)
}

/// Whether an asserted interrupt would be taken. A failing clock's cannot be masked.
fn is_interruptible(core: &Unicorn<'_, Board>) -> bool {
    let masked = register(core, RegisterARM::PRIMASK).is_ok_and(|mask| mask & 1 == 1);
    let handles = active(core).is_ok_and(|number| number != 0);
    !handles && (core.get_data().clock_lost || !masked)
}
