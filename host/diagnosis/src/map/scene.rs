//! What a picture of a map consists of.

use super::grid::Grid;
use super::terminal::wrap;
use super::{Map, Reads};

/// The height of a line of text.
pub(super) const LINE: u32 = 16;
/// The width of a letter at most.
pub(super) const LETTER: u32 = 8;
const MARGIN: u32 = 16;
const GAP: u32 = 24;
const LEAST_WIDTH: u32 = 480;

/// A rectangle in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Rect {
    pub(super) x: u32,
    pub(super) y: u32,
    pub(super) wide: u32,
    pub(super) tall: u32,
}

/// A line of text by its upper left corner.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Text {
    pub(super) x: u32,
    pub(super) y: u32,
    pub(super) text: String,
}

/// A picture.
#[derive(Clone, Debug)]
pub(super) struct Scene {
    pub(super) wide: u32,
    pub(super) tall: u32,
    pub(super) title: String,
    pub(super) texts: Vec<Text>,
    pub(super) frames: Vec<Rect>,
    pub(super) areas: Vec<(Reads, Rect)>,
}

impl Scene {
    pub(super) fn of(map: &Map) -> Self {
        // Blocks large enough to tell their patterns.
        let (most, scale, abreast) = match map.bits {
            1 => (128, 5, 1),
            2..=4 => (64, 5, 2),
            5..=9 => (64, 4, 4),
            _ => (32, 6, 4),
        };
        let grid = Grid::new(map, most, most);
        let larger = grid.down.max(grid.across).max(1);
        let scale = (most * scale / larger).clamp(scale, 24);
        let label = LETTER * (map.arrangement.rows() - 1).to_string().len() as u32 + 4;
        let (inner_wide, inner_tall) = (grid.across * scale, grid.down * scale);
        let last = (map.arrangement.columns() - 1).to_string();
        // Room for a panel's name, and for its two column numbers below.
        let least = LETTER * (last.len() as u32 + 3);
        let panel_wide = label + inner_wide.max(least) + GAP;
        let panel_tall = LINE + inner_tall + 2 * LINE;
        let across = abreast.min(u32::from(map.bits));
        let wide = (2 * MARGIN + across * panel_wide - GAP).max(LEAST_WIDTH);
        let mut scene = Self {
            wide,
            tall: 0,
            title: map.title(),
            texts: Vec::new(),
            frames: Vec::new(),
            areas: Vec::new(),
        };
        let mut y = MARGIN;
        scene.lines(&map.title(), &mut y);
        y += LINE / 2;
        for bit in 0..map.bits {
            let (at, line) = (u32::from(bit) % across, u32::from(bit) / across);
            let left = MARGIN + at * panel_wide + label;
            let top = y + line * panel_tall + LINE;
            scene.panel(map, &grid, bit, scale, (left, top));
        }
        y += u32::from(map.bits).div_ceil(across) * panel_tall;
        for reads in Reads::ALL {
            let swatch = Rect { x: MARGIN, y: y + 1, wide: 20, tall: 12 };
            scene.areas.push((reads, swatch));
            scene.frames.push(swatch);
            scene.text(MARGIN + 28, y, reads.legend());
            y += LINE + 2;
        }
        if grid.cells() > 1 {
            let size = format!(
                "a square is {} x {} cells, rows x columns, and marked where one of them fails",
                grid.tall, grid.wide
            );
            scene.lines(&size, &mut y);
        }
        scene.lines(&map.rows_axis(), &mut y);
        scene.lines(&map.columns_axis(), &mut y);
        scene.tall = y + MARGIN;
        scene
    }

    fn text(&mut self, x: u32, y: u32, text: impl Into<String>) {
        self.texts.push(Text { x, y, text: text.into() });
    }

    fn lines(&mut self, text: &str, y: &mut u32) {
        for line in wrap(text, ((self.wide - 2 * MARGIN) / LETTER) as usize) {
            self.text(MARGIN, *y, line);
            *y += LINE;
        }
    }

    fn panel(&mut self, map: &Map, grid: &Grid, bit: u8, scale: u32, (left, top): (u32, u32)) {
        let (wide, tall) = (grid.across * scale, grid.down * scale);
        self.text(left, top - LINE, map.data_names[usize::from(bit)].clone());
        let last_row = (map.arrangement.rows() - 1).to_string();
        let beside = |text: &str| left.saturating_sub(LETTER * text.len() as u32 + 4);
        self.text(beside("0"), top, "0");
        if tall >= 2 * LINE {
            self.text(beside(&last_row), top + tall - LINE, last_row);
        }
        let last_column = (map.arrangement.columns() - 1).to_string();
        self.text(left, top + tall + 2, "0");
        let end = (left + wide).saturating_sub(LETTER * last_column.len() as u32);
        self.text(end.max(left + 2 * LETTER), top + tall + 2, last_column);
        self.frames.push(Rect { x: left, y: top, wide, tall });
        let mut open: Vec<(Reads, Rect)> = Vec::new();
        for y in 0..grid.down {
            let mut row: Vec<(Reads, Rect)> = Vec::new();
            for x in 0..grid.across {
                let Some(reads) = grid.block(bit, y, x).reads else { continue };
                let at = Rect { x: left + x * scale, y: top + y * scale, wide: scale, tall: scale };
                match row.last_mut() {
                    Some((same, run)) if *same == reads && run.x + run.wide == at.x => {
                        run.wide += scale;
                    }
                    _ => row.push((reads, at)),
                }
            }
            // A run that repeats the one above it makes that one taller.
            let mut next = Vec::new();
            for (reads, run) in row {
                let above = open.iter().position(|(same, above)| {
                    (*same, above.x, above.wide) == (reads, run.x, run.wide)
                });
                next.push(match above {
                    Some(at) => {
                        let (_, mut above) = open.swap_remove(at);
                        above.tall += scale;
                        (reads, above)
                    }
                    None => (reads, run),
                });
            }
            self.areas.append(&mut open);
            open = next;
        }
        self.areas.append(&mut open);
    }
}
