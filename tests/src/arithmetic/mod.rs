//! Parts against plain integers: adders add, counters count, shifters shift.
//!
//! Pin numbers, and which level means what, are from the data sheets named at each check.

mod counters;
mod functions;
mod modes;
mod storage;

use crate::Check;
use crate::bench::Bench;

/// A check that starts with a chip just powered.
pub type Arithmetic = fn(&Bench) -> Check;

/// The arithmetic of a part, where it has one.
pub fn of(number: &str) -> Option<Arithmetic> {
    Some(match number {
        "7442" => functions::bcd_to_decimal,
        "74138" => functions::three_to_eight,
        "74139" => functions::two_to_four,
        "74154" => functions::four_to_sixteen,
        "74148" => functions::priority,
        "74151" => functions::one_of_eight,
        "74153" => functions::one_of_four,
        "7483" => functions::adder,
        "7485" => functions::comparator,
        "74181" => functions::alu,
        "7490" => counters::decade,
        "7492" => counters::twelve,
        "7493" => counters::sixteen,
        "74393" => counters::dual_binary,
        "4017" => counters::ring_of_ten,
        "4020" => counters::fourteen_stages,
        "4040" => counters::twelve_stages,
        "4518" => counters::dual_decade,
        "74161" => modes::direct_clear,
        "74163" => modes::synchronous_clear,
        "74190" => modes::up_down_decade,
        "74192" => modes::two_clocks_decade,
        "74193" => modes::two_clocks_binary,
        "4516" => modes::preset_up_down,
        "74164" => storage::serial_in,
        "74165" => storage::parallel_in,
        "74194" => storage::bidirectional,
        "74299" => storage::universal,
        "74595" => storage::with_output_latch,
        "74670" => storage::register_file,
        _ => return None,
    })
}

/// The parts that must have an arithmetic check.
pub const PARTS: &[&str] = &[
    "7442", "7483", "7485", "7490", "7492", "7493", "74138", "74139", "74148", "74151", "74153",
    "74154", "74161", "74163", "74164", "74165", "74181", "74190", "74192", "74193", "74194",
    "74299", "74393", "74595", "74670", "4017", "4020", "4040", "4516", "4518",
];

/// A reproducible sequence of numbers (Marsaglia, "Xorshift RNGs", Journal of Statistical
/// Software 8(14), 2003; the 64-bit triple 13, 7, 17; from memory).
struct Sequence(u64);

impl Sequence {
    fn new() -> Self {
        Self(0x9E37_79B9_7F4A_7C15)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, limit: u64) -> u64 {
        (self.next() >> 11) % limit
    }
}
