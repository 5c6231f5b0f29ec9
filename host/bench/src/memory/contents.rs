//! Parts that are only read: what they hold, read twice.

use super::Running;
use super::layout::{Layout, Pull, ReadForm};
use super::report::ContentsReport;
use super::times::Times;
use crc::{CRC_32_ISO_HDLC, Crc};
use dipsift_link::{LinkError, ReadOut, Transport};
use dipsift_wire::{MarchSetup, Summary};

/// The second read samples this much later, in tenths.
const LATER_TENTHS: u32 = 15;

/// The words, how the first read ended, and what can be said of them.
pub(crate) struct Contents {
    pub words: Vec<u16>,
    pub summary: Summary,
    /// `None` where the supply tripped.
    pub report: Option<ContentsReport>,
    /// Addresses at which the reads differ, the first few.
    pub differing: Vec<u32>,
}

impl Contents {
    /// The supply has tripped.
    fn broken_off(read: ReadOut) -> Self {
        Self { words: read.words, summary: read.summary, report: None, differing: Vec::new() }
    }
}

/// How many differing addresses are kept.
const KEPT: usize = 8;

/// The two reads: at the grade's time with the outputs pulled up, and later with them pulled down,
/// so that an output that nothing drives reads differently.
pub(crate) fn setups(layout: &Layout, times: &Times) -> [MarchSetup; 2] {
    let [first, second] = forms(layout, times);
    [(first, Pull::Up), (second, Pull::Down)]
        .map(|(form, pull)| layout.setup(times, &form, pull, &[], &[0], 1))
}

fn forms(layout: &Layout, times: &Times) -> [ReadForm; 2] {
    let first = ReadForm::usual(times, layout);
    [first, ReadForm { sample_ns: first.sample_ns * LATER_TENTHS / 10, ..first }]
}

/// Reads the part twice.
pub(crate) fn read<T: Transport>(
    running: &mut Running<'_, T>,
    layout: &Layout,
    times: &Times,
) -> Result<Contents, LinkError> {
    let [first, second] = setups(layout, times);
    let one = running.read_out("first read", &first)?;
    if one.words.len() as u32 != layout.words {
        return Ok(Contents::broken_off(one));
    }
    let two = running.read_out("second read", &second)?;
    if two.words.len() as u32 != layout.words {
        return Ok(Contents::broken_off(two));
    }
    let pairs = one.words.iter().zip(&two.words);
    let differing: Vec<u32> =
        (0..).zip(pairs).filter(|(_, (a, b))| a != b).map(|(address, _)| address).collect();
    let all = |word: u16| one.words.iter().all(|&at| at == word);
    let all_bits = match (all(0), all(layout.mask())) {
        (true, _) => Some(false),
        (_, true) => Some(true),
        _ => None,
    };
    let report = ContentsReport {
        blank: all_bits.is_some(),
        all_bits,
        sum: one.words.iter().fold(0, |sum, &word| sum.wrapping_add(word.into())),
        crc32: crc32(&bytes(&one.words, layout.bits())),
        differing: differing.len() as u32,
        sampled_ns: forms(layout, times).map(|form| form.sample_ns),
    };
    Ok(Contents {
        words: one.words,
        summary: two.summary,
        report: Some(report),
        differing: differing.into_iter().take(KEPT).collect(),
    })
}

/// Words as bytes: one each for up to eight bits, else the low byte first.
pub fn bytes(words: &[u16], bits: u32) -> Vec<u8> {
    if bits <= 8 {
        words.iter().map(|&word| word as u8).collect()
    } else {
        words.iter().flat_map(|word| word.to_le_bytes()).collect()
    }
}

fn crc32(bytes: &[u8]) -> u32 {
    Crc::<u32>::new(&CRC_32_ISO_HDLC).checksum(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-32/ISO-HDLC, 0xCBF43926 for "123456789" (catalogue of parametrised
    /// CRC algorithms, G. Cook; from memory).
    #[test]
    fn the_crc_is_the_one_of_zip() {
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }
}
