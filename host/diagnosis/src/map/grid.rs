//! Cells merged into blocks, so that a map fits its page.

use super::{Map, Reads};

/// A block of cells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Block {
    /// How the cells that fail do so; `None` where none fails.
    pub(super) reads: Option<Reads>,
    /// How many of them fail.
    pub(super) failing: u32,
}

/// The blocks of a map, the bits of the word side by side.
pub(super) struct Grid {
    /// The rows of cells in a block.
    pub(super) tall: u32,
    /// The columns of cells in a block.
    pub(super) wide: u32,
    /// Blocks from top to bottom.
    pub(super) down: u32,
    /// Blocks from left to right, for each bit.
    pub(super) across: u32,
    blocks: Vec<Block>,
}

impl Grid {
    /// Merges cells so far that there are at most so many blocks down, and across for each bit.
    pub(super) fn new(map: &Map, most_down: u32, most_across: u32) -> Self {
        let (rows, columns) = (map.arrangement.rows(), map.arrangement.columns());
        let tall = rows.div_ceil(most_down.max(1)).next_power_of_two();
        let wide = columns.div_ceil(most_across.max(1)).next_power_of_two();
        let (down, across) = (rows.div_ceil(tall), columns.div_ceil(wide));
        let count = down * across * u32::from(map.bits);
        let mut grid =
            Self { tall, wide, down, across, blocks: vec![Block::default(); count as usize] };
        for cell in &map.failing {
            let at = grid.index(cell.bit, cell.row / tall, cell.column / wide);
            let block = &mut grid.blocks[at];
            block.failing += 1;
            block.reads = Some(match block.reads {
                None => cell.reads,
                Some(reads) => merged(reads, cell.reads),
            });
        }
        grid
    }

    pub(super) fn block(&self, bit: u8, y: u32, x: u32) -> Block {
        self.blocks[self.index(bit, y, x)]
    }

    /// How many cells a block has.
    pub(super) fn cells(&self) -> u32 {
        self.tall * self.wide
    }

    fn index(&self, bit: u8, y: u32, x: u32) -> usize {
        ((u32::from(bit) * self.down + y) * self.across + x) as usize
    }
}

fn merged(one: Reads, other: Reads) -> Reads {
    match (one, other) {
        (a, b) if a == b => a,
        (Reads::AfterPause, a) | (a, Reads::AfterPause) => a,
        _ => Reads::Both,
    }
}
