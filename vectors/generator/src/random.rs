//! A small seeded generator, so that the same part always gets the same vectors.

/// SplitMix64 (Steele, Lea, Flood: "Fast splittable pseudorandom number generators", OOPSLA 2014).
#[derive(Clone, Debug)]
pub(crate) struct Random(u64);

impl Random {
    /// Seeded from words: a part's number, a section's index.
    pub(crate) fn new(text: &str, salt: u64) -> Self {
        // FNV-1a, 64 bits (Fowler, Noll, Vo; constants as in RFC 9923).
        let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        Self(hash ^ salt.wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    pub(crate) fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `bound`, which is not zero.
    pub(crate) fn below(&mut self, bound: usize) -> usize {
        (self.word() >> 16) as usize % bound
    }

    pub(crate) fn flip(&mut self) -> bool {
        self.word() >> 63 == 1
    }

    /// True `numerator` times in `denominator`.
    pub(crate) fn chance(&mut self, numerator: usize, denominator: usize) -> bool {
        self.below(denominator) < numerator
    }

    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for index in (1..items.len()).rev() {
            items.swap(index, self.below(index + 1));
        }
    }
}
