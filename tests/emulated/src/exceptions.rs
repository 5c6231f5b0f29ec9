//! Entry into and return from exceptions (ARM DDI 0403, exception entry behavior), for handlers
//! of one priority and code without floats.

use crate::Board;
use unicorn_engine::{RegisterARM, Unicorn, uc_error};

/// Numbers of ARM DDI 0403.
pub(crate) const NMI: u32 = 2;
pub(crate) const HARD_FAULT: u32 = 3;
/// The first external interrupt.
pub(crate) const EXTERNAL: u32 = 16;
/// Back to thread mode and the main stack.
const RETURN: u32 = 0xffff_fff9;
/// xPSR: the stack was not aligned to 8 bytes; Thumb; IT bits; exception number.
const UNALIGNED: u32 = 1 << 9;
const THUMB: u32 = 1 << 24;
const NUMBER: u32 = 0x1ff;
const IT: u32 = 0x0600_fc00;

const STACKED: [RegisterARM; 8] = [
    RegisterARM::R0,
    RegisterARM::R1,
    RegisterARM::R2,
    RegisterARM::R3,
    RegisterARM::R12,
    RegisterARM::LR,
    RegisterARM::PC,
    RegisterARM::XPSR,
];

pub(crate) type Core<'a> = Unicorn<'a, Board>;

pub(crate) fn register(core: &Core<'_>, register: RegisterARM) -> Result<u32, uc_error> {
    core.reg_read(register).map(|value| value as u32)
}

/// The number of the exception that is handled; 0 outside.
pub(crate) fn active(core: &Core<'_>) -> Result<u32, uc_error> {
    Ok(register(core, RegisterARM::XPSR)? & NUMBER)
}

/// Enters the handler at `vector`, to return to `pc`.
pub(crate) fn enter(
    core: &mut Core<'_>,
    number: u32,
    vector: u32,
    pc: u32,
) -> Result<(), uc_error> {
    let status = register(core, RegisterARM::XPSR)?;
    let mut stack = register(core, RegisterARM::SP)?;
    let unaligned = stack & 4 != 0;
    stack = (stack & !4).wrapping_sub(32);
    for (at, &place) in (stack..).step_by(4).zip(&STACKED) {
        let value = match place {
            RegisterARM::PC => pc & !1,
            RegisterARM::XPSR => {
                status & !UNALIGNED | THUMB | if unaligned { UNALIGNED } else { 0 }
            }
            other => register(core, other)?,
        };
        // Where the stack has left the memory, the frame is lost, as on the real one.
        let _ = core.mem_write(at.into(), &value.to_le_bytes());
    }
    core.reg_write(RegisterARM::SP, stack.into())?;
    core.reg_write(RegisterARM::XPSR, (status & !(NUMBER | IT) | THUMB | number).into())?;
    core.reg_write(RegisterARM::LR, RETURN.into())?;
    core.reg_write(RegisterARM::PC, (vector | 1).into())
}

/// Returns from the handler.
pub(crate) fn leave(core: &mut Core<'_>) -> Result<(), uc_error> {
    let stack = register(core, RegisterARM::SP)?;
    let mut frame = [0; 32];
    core.mem_read(stack.into(), &mut frame)?;
    let mut status = 0;
    let mut pc = 0;
    for (bytes, &place) in frame.as_chunks::<4>().0.iter().zip(&STACKED) {
        let value = u32::from_le_bytes(*bytes);
        match place {
            RegisterARM::PC => pc = value,
            RegisterARM::XPSR => status = value,
            other => core.reg_write(other, value.into())?,
        }
    }
    let padding = if status & UNALIGNED != 0 { 4 } else { 0 };
    core.reg_write(RegisterARM::SP, (stack + 32 + padding).into())?;
    core.reg_write(RegisterARM::XPSR, (status & !(UNALIGNED | NUMBER) | THUMB).into())?;
    core.reg_write(RegisterARM::PC, (pc | 1).into())
}
