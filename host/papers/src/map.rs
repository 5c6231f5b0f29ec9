//! Where a memory failed, as a picture.

use crate::page::{picture, text};
use dipsift_ledger::MemoryMap;
use maud::{Markup, html};
use std::collections::BTreeSet;

/// How many tiles a plane has across and down at most; smaller ones would not be seen.
const MOST_TILES: u32 = 64;
/// Planes beside each other.
const PLANES: usize = 8;

/// How a memory's words are laid on a plane: the low half of the address across, the high half
/// down. The order on the chip is the maker's and is not known here.
struct Plane {
    columns: u32,
    rows: u32,
    /// So many columns, and rows, share a tile.
    share: u32,
}

impl Plane {
    fn of(words: u32) -> Self {
        let address_bits = 32 - (words - 1).leading_zeros();
        let columns = 1 << (address_bits / 2);
        let rows = words.div_ceil(columns);
        let share = columns.max(rows).div_ceil(MOST_TILES);
        Self { columns, rows, share }
    }

    fn tile(&self, address: u32) -> (u32, u32) {
        (address % self.columns / self.share, address / self.columns / self.share)
    }

    fn across(&self) -> u32 {
        self.columns.div_ceil(self.share)
    }

    fn down(&self) -> u32 {
        self.rows.div_ceil(self.share)
    }
}

/// One plane for each data bit, failing cells dark.
pub fn failures(map: &MemoryMap) -> Markup {
    let plane = Plane::of(map.words());
    let bits = usize::from(map.bits());
    // Few planes have room to be larger.
    let size = if bits == 1 { 176 } else { 80 };
    let (step, per_row) = (size + 8, bits.min(PLANES));
    let rows = bits.div_ceil(PLANES) as i32;
    let caption = if bits > 1 { 14 } else { 0 };
    let width = step * per_row as i32;
    picture(
        width,
        (step + caption) * rows,
        "failing cells by data bit",
        html! {
            @for bit in 0..bits {
                @let (x, y) = (step * (bit % PLANES) as i32 + 2, (step + caption) * (bit / PLANES) as i32 + 2);
                @let tiles = tiles(map, &plane, bit);
                @let scale = f64::from(size) / f64::from(plane.across().max(plane.down()));
                g transform=(format!("translate({x} {y}) scale({scale:.4})")) {
                    rect class="plane" width=(plane.across()) height=(plane.down()) {}
                    @if !tiles.is_empty() { path class="cell" d=(outline(&tiles)) {} }
                }
                @if bits > 1 {
                    (text(x + size / 2, y + size + 14, "small", "middle", &format!("bit {bit}")))
                }
            }
        },
    )
}

/// How many words a tile stands for.
pub fn words_in_a_tile(map: &MemoryMap) -> u32 {
    let plane = Plane::of(map.words());
    plane.share.min(plane.columns) * plane.share.min(plane.rows)
}

/// The tiles with a failing cell, by row and column.
fn tiles(map: &MemoryMap, plane: &Plane, bit: usize) -> BTreeSet<(u32, u32)> {
    map.failing()
        .filter(|(_, mask)| mask >> bit & 1 == 1)
        .map(|(address, _)| {
            let (column, row) = plane.tile(address);
            (row, column)
        })
        .collect()
}

/// A path over the tiles, one rectangle for each run of a row.
fn outline(tiles: &BTreeSet<(u32, u32)>) -> String {
    let mut path = String::new();
    let mut runs: Vec<(u32, u32, u32)> = Vec::new();
    for &(row, column) in tiles {
        match runs.last_mut() {
            Some((same, start, length)) if *same == row && *start + *length == column => {
                *length += 1;
            }
            _ => runs.push((row, column, 1)),
        }
    }
    for (row, column, length) in runs {
        path += &format!("M{column} {row}h{length}v1h-{length}z");
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_lie_where_their_halves_say() {
        // 16384 words: 128 across, 128 down, two by two to a tile.
        let plane = Plane::of(16_384);
        assert_eq!((plane.across(), plane.down(), plane.share), (64, 64, 2));
        assert_eq!(plane.tile(0), (0, 0));
        assert_eq!(plane.tile(127), (63, 0));
        assert_eq!(plane.tile(16_383), (63, 63));
        // 1024 words have a tile each, an odd number of address bits has more rows.
        assert_eq!((Plane::of(1024).across(), Plane::of(1024).down()), (32, 32));
        assert_eq!((Plane::of(2048).across(), Plane::of(2048).down()), (32, 64));
        // A single word, and sizes that are no powers of two.
        assert_eq!((Plane::of(1).across(), Plane::of(1).down()), (1, 1));
        assert_eq!((Plane::of(24).columns, Plane::of(24).rows), (4, 6));
    }

    #[test]
    fn runs_are_one_rectangle() {
        let map = MemoryMap::new(16, 1, [(4, 1), (5, 1), (6, 1), (12, 1)]).unwrap();
        let tiles = tiles(&map, &Plane::of(16), 0);
        assert_eq!(outline(&tiles), "M0 1h3v1h-3zM0 3h1v1h-1z");
        assert_eq!(words_in_a_tile(&map), 1);
        assert_eq!(words_in_a_tile(&MemoryMap::new(16_384, 1, []).unwrap()), 4);
    }
}
