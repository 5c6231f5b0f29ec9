//! A word in large letters, to be read from across the bench and without colour.

use font8x8::legacy::BASIC_LEGACY;

/// The word, eight lines high; each letter is eight columns wide, ten of them fit.
pub fn large(word: &str) -> Vec<String> {
    let glyphs: Vec<[u8; 8]> =
        word.chars().filter_map(|letter| BASIC_LEGACY.get(letter as usize).copied()).collect();
    let line = |row: usize| -> String {
        let dots = glyphs.iter().flat_map(|glyph| (0..8).map(move |bit| glyph[row] >> bit & 1));
        dots.map(|dot| if dot == 1 { '#' } else { ' ' }).collect::<String>().trim_end().into()
    };
    let mut lines: Vec<String> = (0..8).map(line).collect();
    while lines.last().is_some_and(String::is_empty) {
        lines.pop();
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::large;

    #[test]
    fn every_verdict_fits_a_line_and_looks_different() {
        let words = ["GO", "NO-GO", "ASIDE", "RESEAT", "TROUBLE"];
        let pictures: Vec<_> = words.map(large).into();
        for (word, picture) in words.iter().zip(&pictures) {
            assert!(picture.iter().all(|line| line.len() <= 76), "{word}");
            assert!(picture.len() >= 7, "{word}");
            assert_eq!(pictures.iter().filter(|other| *other == picture).count(), 1);
        }
    }
}
