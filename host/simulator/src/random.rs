//! Seeded pseudo-random numbers as a pure function, so that a run can be repeated exactly.

/// Mixes two numbers into one: the finaliser of the SplitMix64 generator (Steele, Lea and Flood,
/// "Fast splittable pseudorandom number generators", OOPSLA 2014).
pub(crate) const fn mix(seed: u64, value: u64) -> u64 {
    let mut z = seed ^ value.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// A fair coin.
pub(crate) const fn coin(seed: u64, a: u64, b: u64) -> bool {
    mix(mix(seed, a), b) & 1 == 1
}

/// Puts a list into a seeded order.
pub(crate) fn shuffle<T>(seed: u64, list: &mut [T]) {
    for end in (1..list.len()).rev() {
        list.swap(end, (mix(seed, end as u64) % (end as u64 + 1)) as usize);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coins_are_fair_and_repeatable() {
        let heads = (0..10_000).filter(|&n| coin(7, n, 3)).count();
        assert!((4_800..5_200).contains(&heads), "{heads}");
        assert_eq!(mix(1, 2), mix(1, 2));
        assert_ne!(mix(1, 2), mix(2, 1));
    }

    #[test]
    fn a_shuffle_keeps_every_item() {
        let mut list: Vec<u8> = (0..40).collect();
        shuffle(5, &mut list);
        assert_ne!(list, (0..40).collect::<Vec<u8>>());
        list.sort_unstable();
        assert_eq!(list, (0..40).collect::<Vec<u8>>());
    }
}
