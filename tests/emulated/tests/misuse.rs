//! What no image may do ends the test.

mod support;

use dipsift_emulated::Trouble;
use support::talk::Talk;

/// str r0, [r0]; ldrb r0, [r0]
const STORE: u16 = 0x6000;
const LOAD_BYTE: u16 = 0x7800;

#[test]
fn strange_accesses_end_the_run() {
    for (instruction, address, wanted) in [
        // TIM2; a byte of GPIOA_MODER; SysTick.
        (STORE, 0x4000_0000, Trouble::Nothing(0x4000_0000)),
        (LOAD_BYTE, 0x4002_0000, Trouble::Width(0x4002_0000, 1)),
        (STORE, 0xe000_e010, Trouble::Unmodelled { part: "core", offset: 0xe000_e010 }),
        (STORE, 0x0800_0000, Trouble::Misuse("the image writes to the bank that holds it")),
    ] {
        let mut talk = Talk::new();
        talk.machine().execute(instruction, address).expect("it goes there");
        assert_eq!(talk.machine().run(1_000_000), Err(wanted));
    }
}
