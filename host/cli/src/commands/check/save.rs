//! What a check of a memory leaves in files.

use crate::exit::Failure;
use dipsift_bench::memory::bytes;
use dipsift_diagnosis::Map;
use std::fs;
use std::path::Path;

/// How many bytes a record of Intel HEX holds.
const RECORD: usize = 16;

/// Writes words: as Intel HEX where the name ends in `.hex`, else as bytes.
pub fn contents(path: &Path, words: &[u16], bits: u32) -> Result<(), Failure> {
    let bytes = bytes(words, bits);
    let hex = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("hex"));
    let result = if hex { fs::write(path, intel_hex(&bytes)) } else { fs::write(path, &bytes) };
    result.map_err(|error| Failure::usage(format!("failed to write {}: {error}", path.display())))
}

/// The formats of a map.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MapFormat {
    /// A drawing.
    Svg,
    /// A picture.
    Png,
}

/// The format that a file's name asks for.
pub fn map_format(path: &Path) -> Result<MapFormat, Failure> {
    let end = path.extension().map(|end| end.to_string_lossy().to_lowercase());
    match end.as_deref() {
        Some("svg") => Ok(MapFormat::Svg),
        Some("png") => Ok(MapFormat::Png),
        _ => Err(Failure::usage(format!(
            "a map is written as SVG or PNG: let {} end in .svg or .png",
            path.display()
        ))),
    }
}

/// Writes a map of failing cells.
pub fn map(path: &Path, map: &Map) -> Result<(), Failure> {
    let failure = |error: &dyn std::fmt::Display| {
        Failure::usage(format!("failed to write {}: {error}", path.display()))
    };
    let bytes = match map_format(path)? {
        MapFormat::Svg => map.svg().into_bytes(),
        MapFormat::Png => map.png().map_err(|error| failure(&error))?,
    };
    fs::write(path, bytes).map_err(|error| failure(&error))
}

/// Bytes as Intel HEX (Intel, Hexadecimal Object File Format Specification, revision A, 1988):
/// data records, extended linear addresses where 64 KB are passed, the end record.
fn intel_hex(bytes: &[u8]) -> String {
    let mut text = String::new();
    let mut upper = 0;
    for (index, chunk) in bytes.chunks(RECORD).enumerate() {
        let address = index * RECORD;
        if address >> 16 != upper {
            upper = address >> 16;
            record(&mut text, 0, 4, &(upper as u16).to_be_bytes());
        }
        record(&mut text, address as u16, 0, chunk);
    }
    record(&mut text, 0, 1, &[]);
    text
}

fn record(text: &mut String, address: u16, kind: u8, data: &[u8]) {
    let [high, low] = address.to_be_bytes();
    let mut all = vec![data.len() as u8, high, low, kind];
    all.extend_from_slice(data);
    let sum = all.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte));
    all.push(sum.wrapping_neg());
    text.push(':');
    for byte in all {
        text.push_str(&format!("{byte:02X}"));
    }
    text.push('\n');
}

#[cfg(test)]
mod tests {
    use super::intel_hex;

    /// The end record and a data record whose check sum is computed by hand: 03 + 00 + 00 + 00 +
    /// 02 + 33 + 7A is B2, its complement 4E (form as in the specification above).
    #[test]
    fn records_are_summed() {
        assert_eq!(intel_hex(&[0x02, 0x33, 0x7A]), ":0300000002337A4E\n:00000001FF\n");
    }

    #[test]
    fn beyond_64_kb_the_upper_address_is_told() {
        let text = intel_hex(&vec![0xFF; 0x1_0010]);
        assert!(text.contains("\n:020000040001F9\n:10000000FFFF"), "{}", &text[text.len() - 90..]);
    }
}
