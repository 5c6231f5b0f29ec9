//! What is not modelled, and what a real bus would not do, is an error.

use super::*;
use crate::flash::BANK_SIZE;

const AHB1: u32 = 0x4002_3830;
const PORT_A_MODES: u32 = 0x4002_0000;

fn board() -> Board {
    Board::new(Fixture::new(1), Flash::new(vec![0xff; BANK_SIZE]))
}

#[test]
fn a_clock_that_is_off_is_an_error() {
    let mut board = board();
    for address in [PORT_A_MODES, 0x4000_4808, 0x4001_2008, 0x4002_6000, 0x4000_7000, 0x4001_3810] {
        let read = board.read(address, 4);
        assert!(matches!(read, Err(Trouble::NoClock(_))), "{address:#x}: {read:?}");
        let write = board.write(address, 4, 0);
        assert!(matches!(write, Err(Trouble::NoClock(_))), "{address:#x}: {write:?}");
    }
    board.write(AHB1, 4, 1).expect("modelled");
    // The reset value of port A (ST RM0090, GPIOx_MODER).
    assert_eq!(board.read(PORT_A_MODES, 4), Ok(0xa800_0000));
}

#[test]
fn a_wrong_width_is_an_error() {
    let mut board = board();
    board.write(AHB1, 4, 0x7f).expect("modelled");
    for (address, size) in [(PORT_A_MODES, 1), (PORT_A_MODES, 2), (PORT_A_MODES + 2, 4)] {
        assert_eq!(board.read(address, size), Err(Trouble::Width(address, size)));
        assert_eq!(board.write(address, size, 0), Err(Trouble::Width(address, size)));
    }
}

#[test]
fn a_register_that_is_not_modelled_is_an_error() {
    let mut board = board();
    for address in [AHB1, 0x4002_3840, 0x4002_3844] {
        board.write(address, 4, u32::MAX).expect("modelled");
    }
    // TIM2; the bit-band alias; port H; a reserved place in the processor.
    for address in [0x4000_0000, 0x4200_0000, 0x4002_1c00, 0xe010_0000] {
        assert!(board.read(address, 4).is_err(), "{address:#x}");
        assert!(board.write(address, 4, 0).is_err(), "{address:#x}");
    }
    // GPIOA_LCKR, RCC_PLLI2SCFGR, USART3_GTPR, ADC1_JSQR, DMA1_S0CR, EXTI_SWIER, SysTick, SCB_SHCSR.
    for address in [
        0x4002_001c,
        0x4002_3884,
        0x4000_4818,
        0x4001_2038,
        0x4002_6010,
        0x4001_3c10,
        0xe000_e010,
        0xe000_ed24,
    ] {
        assert!(
            matches!(board.write(address, 4, 1), Err(Trouble::Unmodelled { .. })),
            "{address:#x}"
        );
    }
    // An interrupt that no peripheral here raises: TIM2.
    assert!(board.write(0xe000_e100, 4, 1 << 28).is_err());
}
