//! Text that stays in its place without a font to measure it with.
//!
//! The widths are those of DejaVu Sans, rounded up by classes of letters; it is wider than the
//! fonts that stand in for it, so a line that fits here fits there.

/// Plain or bold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    Plain,
    Bold,
}

/// How many ems a text is wide, or a little less.
pub fn ems(text: &str, face: Face) -> f64 {
    let plain: f64 =
        text.chars()
            .map(|letter| match letter {
                'i' | 'j' | 'l' | '\'' | '|' => 0.3,
                'f' | 't' | 'r' | 'I' | ' ' | '.' | ',' | ':' | ';' | '!' | '(' | ')' | '/'
                | '-' => 0.41,
                'm' | 'w' | 'M' | 'W' | '@' | '%' => 1.0,
                'A'..='Z' => 0.75,
                '\0'..='\u{24F}' => 0.64,
                // Beyond Latin letters a character may be as wide as it is high.
                _ => 1.0,
            })
            .sum();
    if face == Face::Bold { plain * 1.12 } else { plain }
}

/// A text in lines of one size.
#[derive(Debug)]
pub struct Fitted {
    pub lines: Vec<String>,
    /// Of the type, in the unit of the width.
    pub size: f64,
}

impl Fitted {
    pub fn height(&self) -> f64 {
        self.size * 1.12 * self.lines.len() as f64
    }
}

/// The text in the largest type in which it fits. Where even small type does not help, its end
/// is cut.
pub fn fit(text: &str, face: Face, width: f64, height: f64, largest: f64, most: usize) -> Fitted {
    let smallest = largest * 0.4;
    let mut size = largest;
    loop {
        let mut lines = wrap(text, face, width / size);
        let high = size * 1.12 * lines.len() as f64;
        let fits = lines.len() <= most
            && high <= height
            && lines.iter().all(|line| ems(line, face) * size <= width);
        if fits || size <= smallest {
            if lines.len() > most {
                let rest = lines.split_off(most - 1).join(" ");
                lines.push(rest);
            }
            let lines = lines.iter().map(|line| shorten(line, face, size, width)).collect();
            return Fitted { lines, size };
        }
        size -= largest / 40.0;
    }
}

/// The text, its end cut and marked where it is too wide.
pub fn shorten(text: &str, face: Face, size: f64, width: f64) -> String {
    if ems(text, face) * size <= width {
        return text.to_owned();
    }
    let mut kept = text.to_owned();
    while kept.pop().is_some() {
        let cut = format!("{}\u{2026}", kept.trim_end());
        if ems(&cut, face) * size <= width {
            return cut;
        }
    }
    kept
}

fn wrap(text: &str, face: Face, ems_wide: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if ems(line, face) + ems(" ", face) + ems(word, face) <= ems_wide => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_largest_type_that_fits_is_taken() {
        let short = fit("quad gate", Face::Bold, 60.0, 14.0, 7.0, 2);
        assert_eq!((short.lines.len(), short.size), (1, 7.0));
        let long = fit("dual 4-line to 1-line data selector", Face::Bold, 60.0, 14.0, 7.0, 2);
        assert_eq!(long.lines.len(), 2);
        assert!(long.size > 4.0 && long.size < 7.0, "{}", long.size);
        assert_eq!(long.lines.join(" "), "dual 4-line to 1-line data selector");
    }

    proptest! {
        #[test]
        fn nothing_is_too_wide_or_too_many(text in "[ -~]{0,120}", width in 10.0..80.0_f64) {
            let fitted = fit(&text, Face::Bold, width, 14.0, 7.0, 2);
            prop_assert!(fitted.lines.len() <= 2);
            for line in &fitted.lines {
                prop_assert!(ems(line, Face::Bold) * fitted.size <= width + 1e-9, "{line}");
            }
        }
    }
}
