//! The map as text, readable without colour.

use super::grid::Grid;
use super::{Map, Reads};

/// The most lines of the map itself.
const MOST_LINES: u32 = 32;

fn letter(reads: Reads) -> char {
    match reads {
        Reads::ZeroForOne => '0',
        Reads::OneForZero => '1',
        Reads::Both => 'x',
        Reads::AfterPause => 'p',
    }
}

impl Map {
    /// The map in lines of at most `width` columns, 80 at most and 24 at least; each ends with a
    /// line feed. A character stands for a block of cells, whose size is told below it.
    pub fn terminal(&self, width: usize) -> String {
        let width = width.clamp(24, 80);
        let bits = usize::from(self.bits);
        let label = (self.arrangement.rows() - 1).to_string().len();
        // Each bit has a separator on its left, and the last one on its right too.
        let room = (width - label - 2).saturating_sub(bits) / bits;
        let grid = Grid::new(self, MOST_LINES, room as u32);
        let mut text = String::new();
        let mut line = |line: &str| {
            text.push_str(line);
            text.push('\n');
        };
        wrap(&self.title(), width).iter().for_each(|part| line(part));
        let indent = " ".repeat(label + 1);
        let panel = grid.across as usize;
        if bits > 1 {
            let names = self.data_names.iter().map(|name| {
                let short: String = name.chars().take(panel).collect();
                format!(" {short:<panel$}")
            });
            line(format!("{indent}{}", names.collect::<String>()).trim_end());
        }
        let edge = format!("{indent}{}+", format!("+{}", "-".repeat(panel)).repeat(bits));
        line(&edge);
        for y in 0..grid.down {
            let row = y * grid.tall;
            let mut out = format!("{row:>label$} ");
            for bit in 0..self.bits {
                out.push('|');
                for x in 0..grid.across {
                    let block = grid.block(bit, y, x);
                    out.push(match block.reads {
                        None => '.',
                        Some(_) if block.failing == grid.cells() && grid.cells() > 1 => '#',
                        Some(reads) => letter(reads),
                    });
                }
            }
            out.push('|');
            line(&out);
        }
        line(&edge);
        let mut legend = vec![".  no failure".to_owned()];
        let reads =
            Reads::ALL.iter().map(|&reads| format!("{}  {}", letter(reads), reads.legend()));
        legend.extend(reads);
        if grid.cells() > 1 {
            legend.push("#  every cell of the block fails".to_owned());
        }
        wrap(&legend.join("   "), width).iter().for_each(|part| line(part));
        if grid.cells() > 1 {
            let size =
                format!("each character is {} x {} cells, rows x columns", grid.tall, grid.wide);
            wrap(&size, width).iter().for_each(|part| line(part));
        }
        if bits > 1 {
            let side = format!("side by side: the bits of the word, {} first", self.data_names[0]);
            wrap(&side, width).iter().for_each(|part| line(part));
        }
        for axis in [self.rows_axis(), self.columns_axis()] {
            wrap(&axis, width).iter().for_each(|part| line(part));
        }
        text
    }
}

/// Breaks a text at blanks.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    // Two blanks and more belong to what they follow: the legend's entries stay whole.
    for word in text
        .split("   ")
        .flat_map(|part| if text.contains("   ") { vec![part] } else { part.split(' ').collect() })
    {
        let gap = if text.contains("   ") { "   " } else { " " };
        let last = lines.last_mut().expect("there is always a line");
        if last.is_empty() {
            last.push_str(word);
        } else if last.chars().count() + gap.len() + word.chars().count() <= width {
            last.push_str(gap);
            last.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}
