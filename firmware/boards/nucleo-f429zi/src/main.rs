#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "registers, the reset mark and the one large static")]
//! The image that is flashed: see [`image`].

mod image;

#[cortex_m_rt::entry]
fn main() -> ! {
    image::run()
}
