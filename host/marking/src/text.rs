//! Taking what is legible apart into words.

/// Words of a marking, at most; what follows is not read.
const MOST_WORDS: usize = 16;

/// The characters of a word, at most.
const LONGEST_WORD: usize = 24;

/// The words of what was typed, in capitals, and whether some were left out.
///
/// A slash parts lines as a space does, except where it belongs to a slash sheet or to military
/// processing behind a number. A dash stays with the word in front of it.
pub(crate) fn words(typed: &str) -> (Vec<String>, bool) {
    let plain: String = typed
        .chars()
        .map(|c| match c {
            // The micro sign and the Greek letter of NEC's prefix are written U in the library.
            '\u{b5}' | '\u{3bc}' => 'U',
            '\u{2010}'..='\u{2014}' | '\u{2212}' => '-',
            ',' | ';' | '\\' | '|' => ' ',
            other => other.to_ascii_uppercase(),
        })
        .collect();
    let mut words: Vec<String> = Vec::new();
    let mut cut = false;
    for piece in plain.split_whitespace() {
        for word in slashes(piece) {
            match words.last_mut() {
                Some(last) if last.ends_with('-') || (word.starts_with('-') && word.len() > 1) => {
                    last.push_str(&word);
                }
                _ if word == "-" => {}
                _ => words.push(word),
            }
        }
    }
    for word in &words {
        cut |= word.chars().count() > LONGEST_WORD;
    }
    words.retain(|word| word.chars().count() <= LONGEST_WORD);
    cut |= words.len() > MOST_WORDS;
    words.truncate(MOST_WORDS);
    (words, cut)
}

fn slashes(piece: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for (index, part) in piece.split('/').enumerate() {
        let last = words.last().map_or("", String::as_str);
        if index > 0 && last.ends_with("38510") {
            // A slash sheet.
            words.push(format!("{}/{part}", words.last().cloned().unwrap_or_default()));
            words.swap_remove(words.len() - 2);
        } else if index > 0 && is_processing(part) {
            words.push(format!("/{part}"));
        } else if !part.is_empty() {
            words.push(part.to_owned());
        }
    }
    words
}

/// `883`, `883B`, `883C`, or class, case outline and finish of a slash sheet (`BCA`, `BEAJC`).
fn is_processing(part: &str) -> bool {
    let processed = |text: &str| text.len() <= 1 && text.bytes().all(|c| c.is_ascii_uppercase());
    part == "B"
        || part.strip_prefix("883").is_some_and(processed)
        || crate::military::is_class_case_finish(part)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(typed: &str) -> Vec<String> {
        words(typed).0
    }

    #[test]
    fn lines_and_dashes() {
        assert_eq!(split("sn74ls00n / 7825"), ["SN74LS00N", "7825"]);
        assert_eq!(split("SN74LS00N/7825\nMALAYSIA"), ["SN74LS00N", "7825", "MALAYSIA"]);
        assert_eq!(split("D2716 -1"), ["D2716-1"]);
        assert_eq!(split("D2716- 1"), ["D2716-1"]);
        assert_eq!(split("\u{b5}PD4164C\u{2013}2"), ["UPD4164C-2"]);
        assert_eq!(split(" - / -"), Vec::<String>::new());
    }

    #[test]
    fn slashes_that_belong_to_a_word() {
        assert_eq!(split("JM38510/00104BCA"), ["JM38510/00104BCA"]);
        assert_eq!(split("54LS00J/883B 8412"), ["54LS00J", "/883B", "8412"]);
        assert_eq!(split("5400/BCA"), ["5400", "/BCA"]);
        assert_eq!(split("M2114A-4/B"), ["M2114A-4", "/B"]);
    }

    #[test]
    fn too_much_is_cut() {
        let (read, cut) = words(&"A ".repeat(100));
        assert!(cut && read.len() == MOST_WORDS);
        assert_eq!(words(&"A".repeat(100)), (Vec::new(), true));
    }
}
