//! Measuring, and the watch over the supply current.
//!
//! ADC1 converts the supply current without a pause; its analog watchdog interrupts as soon as a
//! conversion passes the limit, and the interrupt cuts the supply. ADC2 measures everything else.

use super::{clock::wait_for, safe};
use cortex_m::peripheral::NVIC;
use dipsift_nucleo_f429zi::map::{Analog, CURRENT, LIMITER_FAULT, Port};
use stm32f4::stm32f429::{self as pac, Interrupt, adc1::RegisterBlock, interrupt};

/// Bits of ST RM0090, ADC_CR1, ADC_CR2 and ADC_SR.
const ON: u32 = 1;
const CONTINUOUS: u32 = 1 << 1;
const START: u32 = 1 << 30;
const WATCH: u32 = 1 << 23 | 1 << 9 | CURRENT.channel as u32;
const WATCH_INTERRUPT: u32 = 1 << 6;
const WATCH_FLAG: u32 = 1;
const CONVERTED: u32 = 1 << 1;
/// Sampling times: 56 cycles, so that a conversion takes 3.2 µs; 480 cycles for what comes through
/// a divider.
const SAMPLING_56: u32 = 3;
const SAMPLING_480: u32 = 7;
/// A mean of this many.
const CONVERSIONS: u32 = 8;
/// The limiter's line at the interrupt controller.
const LIMITER_LINE: u32 = 1 << LIMITER_FAULT.bit;
const _: () = assert!(LIMITER_FAULT.bit == 10 && matches!(LIMITER_FAULT.port, Port::B));

fn adc1() -> &'static RegisterBlock {
    // SAFETY: shared with the interrupt; both write whole registers only.
    unsafe { &*pac::ADC1::PTR }
}

fn adc2() -> &'static RegisterBlock {
    // SAFETY: only this module uses it, never in an interrupt.
    unsafe { &*pac::ADC2::PTR }
}

/// The same three bits for all ten channels of a sampling time register.
const fn every(code: u32) -> u32 {
    code * 0o1_111_111_111
}

/// Starts both converters and arms what cuts the supply.
pub(crate) fn start() {
    // SAFETY: start-up owns all of these registers, and the values are described in ST RM0090.
    unsafe {
        (*pac::RCC::PTR).apb2enr().modify(|r, w| w.bits(r.bits() | 3 << 8));
        // A quarter of the bus: 21 MHz.
        (*pac::ADC_COMMON::PTR).ccr().write(|w| w.bits(1 << 16));
        for (adc, sampling) in [(adc1(), SAMPLING_56), (adc2(), SAMPLING_480)] {
            adc.smpr1().write(|w| w.bits(every(sampling) & 0o777_777_777));
            adc.smpr2().write(|w| w.bits(every(sampling)));
            adc.cr2().write(|w| w.bits(ON));
        }
        adc1().sqr3().write(|w| w.bits(CURRENT.channel.into()));
        adc1().ltr().write(|w| w.bits(0));
        // Longer than a converter takes to wake, 3 µs.
        cortex_m::asm::delay(1_000);
        adc1().cr2().write(|w| w.bits(ON | CONTINUOUS));
        adc1().cr2().write(|w| w.bits(ON | CONTINUOUS | START));
        let (exti, syscfg) = (&*pac::EXTI::PTR, &*pac::SYSCFG::PTR);
        // Line 10 from port B, on its falling edge.
        syscfg.exticr3().modify(|r, w| w.bits(r.bits() & !0xf00 | 1 << 8));
        exti.ftsr().modify(|r, w| w.bits(r.bits() | LIMITER_LINE));
        exti.imr().modify(|r, w| w.bits(r.bits() | LIMITER_LINE));
        // All at the highest priority, which is that after reset; nothing else interrupts.
        NVIC::unmask(Interrupt::ADC);
        NVIC::unmask(Interrupt::EXTI15_10);
    }
    // Without a limit until something is connected.
    watch(u16::MAX >> 4);
}

/// Cuts the supply from now on as soon as a reading passes the threshold.
pub(crate) fn watch(threshold: u16) {
    // SAFETY: the values are described in ST RM0090; the interrupt is off while they change.
    unsafe {
        adc1().cr1().write(|w| w.bits(WATCH));
        adc1().htr().write(|w| w.bits(u32::from(threshold)));
        adc1().sr().write(|w| w.bits(!WATCH_FLAG));
        adc1().cr1().write(|w| w.bits(WATCH | WATCH_INTERRUPT));
    }
}

/// The next conversion of a converter; the last one where none comes.
fn converted(adc: &RegisterBlock) -> u16 {
    wait_for(|| adc.sr().read().bits() & CONVERTED != 0);
    adc.dr().read().bits() as u16
}

/// A mean of readings of the watched current.
pub(crate) fn watched() -> u16 {
    // What was converted before now does not count.
    let _ = adc1().dr().read().bits();
    let sum: u32 = (0..CONVERSIONS).map(|_| u32::from(converted(adc1()))).sum();
    (sum / CONVERSIONS) as u16
}

/// One reading of another channel.
pub(crate) fn measure(analog: Analog) -> u16 {
    // SAFETY: the values are described in ST RM0090.
    unsafe {
        adc2().sqr3().write(|w| w.bits(analog.channel.into()));
        adc2().sr().write(|w| w.bits(0));
        adc2().cr2().write(|w| w.bits(ON | START));
    }
    converted(adc2())
}

/// The supply current has passed its limit.
#[interrupt]
fn ADC() {
    safe::trip();
    // SAFETY: the values are described in ST RM0090. Without its enable bit the condition, which
    // lasts a while, would interrupt again and again.
    unsafe {
        adc1().cr1().write(|w| w.bits(WATCH));
        adc1().sr().write(|w| w.bits(!WATCH_FLAG));
    }
}

/// The hardware limiter has acted.
#[interrupt]
fn EXTI15_10() {
    safe::trip();
    // SAFETY: writing one clears the line's flag.
    unsafe { (*pac::EXTI::PTR).pr().write(|w| w.bits(LIMITER_LINE)) };
}
