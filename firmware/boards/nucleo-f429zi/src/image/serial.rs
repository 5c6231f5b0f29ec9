//! The line to the host: USART3, received by circular DMA, so that nothing is lost while the core
//! samples.

use super::clock::wait_for;
use super::{BoardStation, fmt};
use core::ptr::addr_of_mut;
use dipsift_nucleo_f429zi::clocking::Clocking;
use dipsift_nucleo_f429zi::ring::Ring;
use dipsift_wire::SERIAL_BAUD;
use stm32f4::stm32f429::{self as pac, dma2::ST, usart1};

/// A third of a second at 1 Mbaud; a window and its reply take less.
const BUFFER: usize = 32_768;

/// Filled by DMA.
static mut RECEIVED: [u8; BUFFER] = [0; BUFFER];

/// Bits of ST RM0090: the stream of USART3's receiver (stream 1, channel 4), memory increment,
/// circular, high priority.
const CHANNEL: u32 = 4 << 25 | 2 << 16 | 1 << 10 | 1 << 8;
const ENABLE: u32 = 1;
/// All flags of stream 1, and those for its end and its failure.
const FLAGS: u32 = 0xf40;
const AT_END: u32 = 1 << 11;
const FAILED: u32 = 1 << 9;
/// USART_CR1: on, transmitter, receiver. USART_CR3: receive by DMA. USART_SR: may transmit.
const SERIAL_ON: u16 = 1 << 13 | 1 << 3 | 1 << 2;
const BY_DMA: u16 = 1 << 6;
const MAY_TRANSMIT: u16 = 1 << 7;

/// The serial port.
pub(crate) struct Serial {
    ring: Ring<BUFFER>,
}

fn usart() -> &'static usart1::RegisterBlock {
    // SAFETY: only this module uses it.
    unsafe { &*pac::USART3::PTR }
}

fn dma() -> &'static pac::dma2::RegisterBlock {
    // SAFETY: only this module uses it.
    unsafe { &*pac::DMA1::PTR }
}

fn stream() -> &'static ST {
    dma().st(1)
}

/// Clears all flags of the stream.
fn clear_flags() {
    // SAFETY: writing ones clears the flags of this stream only.
    dma().lifcr().write(|w| unsafe { w.bits(FLAGS) });
}

/// Starts the stream at the buffer's beginning.
fn receive() {
    // SAFETY: the stream is off while it is set up; the buffer is static and as long as said.
    unsafe {
        stream().cr().write(|w| w.bits(0));
        wait_for(|| stream().cr().read().bits() & ENABLE == 0);
        clear_flags();
        stream().par().write(|w| w.bits(usart().dr().as_ptr() as u32));
        stream().m0ar().write(|w| w.bits(addr_of_mut!(RECEIVED) as u32));
        stream().ndtr().write(|w| w.bits(BUFFER as u32));
        stream().cr().write(|w| w.bits(CHANNEL));
        stream().cr().write(|w| w.bits(CHANNEL | ENABLE));
    }
}

fn transmit(byte: u8) {
    // A line that does not move is not waited for: the host asks again.
    if wait_for(|| usart().sr().read().bits() & MAY_TRANSMIT != 0) {
        // SAFETY: every byte is valid.
        usart().dr().write(|w| unsafe { w.bits(byte.into()) });
    }
}

impl Serial {
    /// Starts port and stream.
    pub(crate) fn start(clocking: Clocking) -> Self {
        // SAFETY: start-up owns these registers, and the values are described in ST RM0090.
        unsafe {
            let rcc = &*pac::RCC::PTR;
            rcc.apb1enr().modify(|r, w| w.bits(r.bits() | 1 << 18));
            rcc.ahb1enr().modify(|r, w| w.bits(r.bits() | 1 << 21));
            usart().brr().write(|w| w.bits(clocking.divisor(SERIAL_BAUD).get()));
            usart().cr3().write(|w| w.bits(BY_DMA));
        }
        receive();
        // SAFETY: as above.
        usart().cr1().write(|w| unsafe { w.bits(SERIAL_ON) });
        Self { ring: Ring::new() }
    }

    /// Hands the station what has arrived and transmits what it replies.
    pub(crate) fn serve(&mut self, station: &mut BoardStation) {
        let before = dma().lisr().read().bits();
        if before & FAILED != 0 {
            fmt::warning!("receiver failed");
            receive();
            self.ring = Ring::new();
            return;
        }
        // The counter is read between two looks at the flag: if it wraps in between, read again.
        let mut remaining = stream().ndtr().read().bits();
        let wrapped = dma().lisr().read().bits() & AT_END != 0;
        if wrapped {
            clear_flags();
            remaining = stream().ndtr().read().bits();
        }
        let Ok(arrived) = self.ring.arrived(remaining as usize, wrapped) else {
            fmt::warning!("overrun");
            return station.poll();
        };
        let mut out = |bytes: &[u8]| bytes.iter().copied().for_each(transmit);
        for range in [arrived.first, arrived.second] {
            // SAFETY: the stream writes elsewhere: what has arrived is read before it comes round.
            let buffer = unsafe { &*addr_of_mut!(RECEIVED) };
            station.receive(buffer.get(range).unwrap_or_default(), &mut out);
        }
    }
}
