//! The flash controller against ST RM0090, as an image would use it.

use super::*;

/// Sectors 12 and 13 by their codes and places.
const FIRST: (u32, usize) = (16, 0);
const SECOND: (u32, usize) = (17, 0x4000);
const WORDS: u32 = 2 << 8;

/// An unlocked controller over an erased bank.
fn open() -> Flash {
    let mut flash = Flash::new(vec![0xff; BANK_SIZE]);
    unlock(&mut flash);
    flash
}

fn unlock(flash: &mut Flash) {
    for key in KEYS {
        flash.write(0x04, key, 0).expect("a right key");
    }
}

fn status(flash: &Flash) -> u32 {
    flash.read(0x0c).expect("modelled")
}

/// Programs a word and waits for its end.
fn program(flash: &mut Flash, at: usize, value: u32, now: u64) -> bool {
    flash.write(0x10, WORDS | PROGRAM, now).expect("unlocked");
    flash.store(at, 4, value, now);
    flash.tick(now + PROGRAM_NS)
}

fn erase(flash: &mut Flash, code: u32, now: u64) -> bool {
    let chosen = WORDS | ERASE | code << 3;
    flash.write(0x10, chosen, now).expect("unlocked");
    flash.write(0x10, chosen | START, now).expect("unlocked");
    flash.tick(now + erase_ns(16 << 10))
}

fn word(flash: &mut Flash, at: usize) -> u32 {
    flash.load(at, 4).expect("readable") as u32
}

#[test]
fn it_is_locked_until_both_keys_come() {
    let mut flash = Flash::new(vec![0xff; BANK_SIZE]);
    assert_eq!(flash.read(0x10), Ok(LOCK));
    assert!(flash.write(0x10, PROGRAM, 0).is_err());
    flash.store(0, 4, 0, 0);
    assert_eq!(status(&flash), SEQUENCE);
    assert_eq!(word(&mut flash, 0), u32::MAX);
    flash.write(0x04, KEYS[0], 0).expect("the first key");
    assert_eq!(flash.read(0x10), Ok(LOCK));
    flash.write(0x04, KEYS[1], 0).expect("the second key");
    assert_eq!(flash.read(0x10), Ok(0));
    flash.write(0x10, LOCK, 0).expect("unlocked");
    assert_eq!(flash.read(0x10), Ok(LOCK));
}

#[test]
fn a_wrong_key_locks_it_until_a_reset() {
    for first in [KEYS[1], 0] {
        let mut flash = Flash::new(vec![0xff; BANK_SIZE]);
        assert!(flash.write(0x04, first, 0).is_err());
        assert!(flash.write(0x04, KEYS[0], 0).is_err());
        assert_eq!(flash.read(0x10), Ok(LOCK));
        flash.reset();
        unlock(&mut flash);
        assert_eq!(flash.read(0x10), Ok(0));
    }
}

#[test]
fn a_word_is_programmed_and_only_loses_bits() {
    let mut flash = open();
    flash.write(0x10, WORDS | PROGRAM, 0).expect("unlocked");
    flash.store(8, 4, 0xffff_0ff0, 1_000);
    assert_eq!(status(&flash), BUSY);
    assert_eq!(flash.due(), 1_000 + PROGRAM_NS);
    assert!(!flash.tick(PROGRAM_NS));
    assert_eq!(status(&flash), BUSY);
    assert!(!flash.tick(1_000 + PROGRAM_NS));
    // Its end shows only where it is asked for (ST RM0090, FLASH_SR, EOP).
    assert_eq!(status(&flash), 0);
    assert_eq!(word(&mut flash, 8), 0xffff_0ff0);
    program(&mut flash, 8, 0x1234_5678, 0);
    assert_eq!(word(&mut flash, 8), 0x1234_5678 & 0xffff_0ff0);
    assert_eq!(word(&mut flash, 4), u32::MAX);
    assert_eq!(word(&mut flash, 12), u32::MAX);
    assert_eq!(flash.operations(), 2);
    flash.write(0x10, WORDS | PROGRAM | END_REPORTED, 0).expect("unlocked");
    flash.store(16, 4, 0, 0);
    flash.tick(PROGRAM_NS);
    assert_eq!(status(&flash), END);
    flash.write(0x0c, END, 0).expect("modelled");
    assert_eq!(status(&flash), 0);
}

#[test]
fn what_is_programmed_wrongly_is_flagged_and_not_done() {
    let mut flash = open();
    for (control, at, size, flag) in [
        (WORDS, 0, 4, SEQUENCE),
        (WORDS | PROGRAM, 0, 2, PARALLELISM),
        (PROGRAM, 0, 4, PARALLELISM),
        (WORDS | PROGRAM, 14, 4, ALIGNMENT),
    ] {
        flash.write(0x10, control, 0).expect("unlocked");
        flash.store(at, size, 0, 0);
        assert_eq!(status(&flash), flag);
        flash.write(0x0c, flag, 0).expect("modelled");
        assert_eq!(status(&flash), 0);
    }
    flash.protect(SECOND.0);
    assert!(!erase(&mut flash, SECOND.0, 0));
    assert_eq!(status(&flash), PROTECTED);
    flash.write(0x0c, PROTECTED, 0).expect("modelled");
    program(&mut flash, SECOND.1, 0, 0);
    assert_eq!(status(&flash), PROTECTED);
    assert!(flash.memory().iter().all(|&byte| byte == 0xff));
    assert_eq!(flash.operations(), 0);
}

#[test]
fn a_sector_is_erased_and_no_other() {
    for (code, at) in [FIRST, SECOND] {
        let mut flash = Flash::new(vec![0x5a; BANK_SIZE]);
        unlock(&mut flash);
        erase(&mut flash, code, 0);
        for (index, &byte) in flash.memory().iter().enumerate() {
            let inside = (at..at + 0x4000).contains(&index);
            assert_eq!(byte, if inside { 0xff } else { 0x5a }, "{index:#x}");
        }
    }
    // Places and sizes from the manual's table of sectors.
    for (code, address, kilobytes) in [
        (19, 0x0810_c000, 16),
        (20, 0x0811_0000, 64),
        (21, 0x0812_0000, 128),
        (27, 0x081e_0000, 128),
    ] {
        assert_eq!(sector(code), Some(((address - BANK) as usize, kilobytes << 10)));
    }
}

#[test]
fn what_no_image_may_do_is_an_error() {
    for value in [
        ERASE | START | 3 << 3,  // a sector that holds the image
        ERASE | START | 12 << 3, // no sector
        START,                   // nothing chosen
        PROGRAM | ERASE,         // both
        1 << 2 | START,          // a whole bank
        3 << 8 | PROGRAM,        // 64 bits
    ] {
        assert!(open().write(0x10, value, 0).is_err(), "{value:#x}");
    }
}

#[test]
fn the_cache_must_be_emptied_after_an_erasure() {
    let mut flash = open();
    flash.access(CACHE).expect("on");
    assert_eq!(word(&mut flash, 0x20), u32::MAX);
    erase(&mut flash, FIRST.0, 0);
    assert!(flash.load(0x20, 4).is_err());
    // What was not read before is not in the cache.
    assert_eq!(word(&mut flash, 0x40), u32::MAX);
    assert!(flash.access(CACHE | CACHE_RESET).is_err());
    for value in [0, CACHE_RESET, 0, CACHE] {
        flash.access(value).expect("off, reset, on");
    }
    assert_eq!(word(&mut flash, 0x20), u32::MAX);
}

#[test]
fn a_power_cut_leaves_a_word_half_done() {
    for complete in 0..3 {
        let mut flash = open();
        flash.cut_power_after(Some(complete));
        for nth in 0..complete {
            assert!(!program(&mut flash, 4 * nth as usize, 0, 0));
        }
        assert!(program(&mut flash, 4 * complete as usize, 0x0f0f_0000, 0), "the power goes");
        let left = word(&mut flash, 4 * complete as usize);
        // Nothing but the right bits has moved, and not all of them.
        assert_eq!(left & 0x0f0f_0000, 0x0f0f_0000);
        assert!(left != 0x0f0f_0000 && left != u32::MAX, "{left:#x}");
        assert_eq!(flash.operations(), complete);
        flash.reset();
        unlock(&mut flash);
        assert!(!program(&mut flash, 4 * complete as usize, 0x0f0f_0000, 0), "only once");
        assert_eq!(word(&mut flash, 4 * complete as usize), 0x0f0f_0000);
    }
}

#[test]
fn a_power_cut_leaves_a_sector_half_erased() {
    let mut flash = Flash::new(vec![0; BANK_SIZE]);
    unlock(&mut flash);
    flash.cut_power_after(Some(0));
    assert!(erase(&mut flash, SECOND.0, 0), "the power goes");
    let memory = flash.memory();
    assert!(memory[..0x4000].iter().chain(&memory[0x8000..]).all(|&byte| byte == 0));
    let erased = memory[0x4000..0x8000].iter().filter(|&&byte| byte == 0xff).count();
    assert!((0x2000..0x3000).contains(&erased), "{erased}");
}

#[test]
fn a_reset_in_between_leaves_it_half_done_too() {
    let mut flash = open();
    flash.write(0x10, WORDS | PROGRAM, 0).expect("unlocked");
    flash.store(0, 4, 0, 0);
    flash.reset();
    assert_eq!(status(&flash), 0);
    let left = word(&mut flash, 0);
    assert!(left != 0 && left != u32::MAX, "{left:#x}");
}
