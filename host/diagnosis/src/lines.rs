//! Rows, columns and blocks of which every cell fails.

use crate::cause::{Block, Cause, LineFault};
use crate::cells::{Signs, signs};
use crate::evidence::Evidence;
use crate::shape::Arrangement;
use std::collections::BTreeMap;

/// A cause, the cells it covers by address, and whether it covers all of its line or block.
pub(crate) struct Found {
    pub(crate) cause: Cause,
    pub(crate) covers: BTreeMap<u32, u16>,
    pub(crate) complete: bool,
}

/// A row or a column with fewer cells than this is not told from single cells.
const FEWEST: u32 = 4;
/// The same for a block, which has no known place on the chip.
const FEWEST_OF_BLOCK: u32 = 8;
/// The most groups of addresses that are looked at.
const MOST_GROUPS: usize = 64;

/// Half of the chip, whatever is read there.
pub(crate) fn half(evidence: &Evidence<'_>) -> Option<Found> {
    let failing = failing(evidence);
    let count = failing.len() as u32;
    let words = evidence.shape.words;
    let (fixed, levels) = common(evidence, &failing);
    let bits = failing.values().fold(0, |bits, of| bits | of);
    // Where reads are right by chance, not every word is seen to fail.
    let enough =
        count >= FEWEST_OF_BLOCK && (count == words / 2 || (count >= words / 8 * 3 && count >= 64));
    if fixed.count_ones() != 1 || !enough || bits != evidence.shape.mask() {
        return None;
    }
    let fault = fault_of(evidence, failing.iter().map(|(&address, &bits)| (address, bits)));
    let line = fixed.trailing_zeros() as u8;
    let cause = Cause::HalfDead { line, high: levels != 0, reads: fault };
    Some(Found { cause, covers: failing, complete: count == words / 2 })
}

/// Rows and columns, where they are known.
pub(crate) fn rows_and_columns(evidence: &Evidence<'_>, arrangement: &Arrangement) -> Vec<Found> {
    if !arrangement.is_known() {
        return Vec::new();
    }
    let failing = failing(evidence);
    let (rows, columns) = (arrangement.rows(), arrangement.columns());
    let row_of = |address| arrangement.row_of(address);
    let column_of = |address| arrangement.column_of(address);
    let by_row = full(evidence, &failing, (rows, columns), row_of);
    let by_column = full(evidence, &failing, (columns, rows), column_of);
    let mut found = Vec::new();
    for (bits, fault, complete, covers, rows) in
        alike(evidence, &by_row, |at| bits_of(&by_column, column_of(at)))
    {
        found.push(Found { cause: Cause::Rows { rows, bits, fault }, covers, complete });
    }
    for (bits, fault, complete, covers, columns) in
        alike(evidence, &by_column, |at| bits_of(&by_row, row_of(at)))
    {
        found.push(Found { cause: Cause::Columns { columns, bits, fault }, covers, complete });
    }
    found
}

/// Blocks of words, by what they have in common.
pub(crate) fn blocks(evidence: &Evidence<'_>) -> Vec<Found> {
    let mut groups: BTreeMap<u16, BTreeMap<u32, u16>> = BTreeMap::new();
    for (address, bits) in failing(evidence) {
        groups.entry(bits).or_default().insert(address, bits);
    }
    let mut found = Vec::new();
    for (bits, group) in groups.into_iter().take(MOST_GROUPS) {
        if let Some(block) = block_of(evidence, &group) {
            found.push(as_block(evidence, block, bits, group));
            continue;
        }
        let mut kinds: BTreeMap<u32, BTreeMap<u32, u16>> = BTreeMap::new();
        for address in group.into_keys() {
            let kind = evidence.kind_of[address as usize];
            kinds.entry(kind).or_default().insert(address, bits);
        }
        for group in kinds.into_values().take(MOST_GROUPS) {
            if let Some(block) = block_of(evidence, &group) {
                found.push(as_block(evidence, block, bits, group));
            }
        }
    }
    found
}

fn failing(evidence: &Evidence<'_>) -> BTreeMap<u32, u16> {
    (0..evidence.shape.words)
        .map(|address| (address, evidence.open(address)))
        .filter(|(_, bits)| *bits != 0)
        .collect()
}

fn as_block(evidence: &Evidence<'_>, block: Block, bits: u16, covers: BTreeMap<u32, u16>) -> Found {
    let fault = fault_of(evidence, covers.iter().map(|(&address, &bits)| (address, bits)));
    Found { cause: Cause::Block { block, bits, fault }, covers, complete: true }
}

/// The address bits in which addresses agree, and their levels.
fn common(evidence: &Evidence<'_>, addresses: &BTreeMap<u32, u16>) -> (u32, u32) {
    let used = (1_u32 << evidence.shape.address_bits()) - 1;
    let all = addresses.keys().fold(used, |all, address| all & address);
    let any = addresses.keys().fold(0, |any, address| any | address);
    (used & !(all ^ any), all)
}

/// The block that addresses make up, if they fill one.
fn block_of(evidence: &Evidence<'_>, addresses: &BTreeMap<u32, u16>) -> Option<Block> {
    let count = addresses.len() as u32;
    let (fixed, levels) = common(evidence, addresses);
    let size = 1_u32.checked_shl(u32::from(evidence.shape.address_bits()) - fixed.count_ones())?;
    let fills = count >= FEWEST_OF_BLOCK && count == size && fixed != 0;
    fills.then_some(Block { fixed, levels: levels & fixed })
}

/// A line of which all cells of some bits fail, or nearly all.
struct Full {
    line: u32,
    bits: u16,
    complete: bool,
    cells: BTreeMap<u32, u16>,
}

fn bits_of(full: &[Full], line: u32) -> u16 {
    full.iter().find(|full| full.line == line).map_or(0, |full| full.bits)
}

fn full(
    evidence: &Evidence<'_>,
    failing: &BTreeMap<u32, u16>,
    (lines, cells): (u32, u32),
    line_of: impl Fn(u32) -> u32,
) -> Vec<Full> {
    if cells < FEWEST {
        return Vec::new();
    }
    let mut members: BTreeMap<u32, Vec<(u32, u16)>> = BTreeMap::new();
    for (&address, &bits) in failing {
        members.entry(line_of(address)).or_default().push((address, bits));
    }
    let enough = |count: u32| count == cells || (cells >= 16 && count * 4 >= cells * 3);
    let mut found: Vec<Full> = Vec::new();
    let mut count_by_bit = [0_u32; 16];
    for (line, members) in members {
        let (mut bits, mut complete) = (0, true);
        for bit in 0..evidence.shape.bits() {
            let count = members.iter().filter(|(_, bits)| bits >> bit & 1 == 1).count() as u32;
            if enough(count) {
                bits |= 1 << bit;
                complete &= count == cells;
                count_by_bit[usize::from(bit)] += 1;
            }
        }
        let here = members.into_iter().map(|(address, failing)| (address, failing & bits));
        let cells: BTreeMap<u32, u16> = here.filter(|(_, bits)| *bits != 0).collect();
        if bits != 0 {
            found.push(Full { line, bits, complete, cells });
        }
    }
    // Where most lines fail, it is not the lines.
    let most = (0..16).filter(|&bit| count_by_bit[bit] * 2 > lines);
    let most = most.fold(0_u16, |bits, bit| bits | 1 << bit);
    found.retain(|full| full.bits & most == 0);
    found
}

type Alike = (u16, LineFault, bool, BTreeMap<u32, u16>, Vec<u32>);

/// Lines that fail alike. Where one crosses another that fails, its cell does not count.
fn alike(evidence: &Evidence<'_>, full: &[Full], crossing: impl Fn(u32) -> u16) -> Vec<Alike> {
    let mut found: Vec<Alike> = Vec::new();
    for line in full {
        let own = line.cells.iter().map(|(&address, &bits)| (address, bits & !crossing(address)));
        let own: Vec<(u32, u16)> = own.filter(|(_, bits)| *bits != 0).collect();
        let fault = match own.is_empty() {
            true => LineFault::Variously,
            false => fault_of(evidence, own.into_iter()),
        };
        let same = |at: &&mut Alike| (at.0, at.1, at.2) == (line.bits, fault, line.complete);
        let cells = line.cells.clone();
        match found.iter_mut().find(same) {
            Some(alike) => {
                alike.3.extend(cells);
                alike.4.push(line.line);
            }
            None => found.push((line.bits, fault, line.complete, cells, vec![line.line])),
        }
    }
    found
}

/// How cells fail in common.
fn fault_of(evidence: &Evidence<'_>, cells: impl Iterator<Item = (u32, u16)>) -> LineFault {
    let mut common = Signs::ALL;
    let (mut lost, mut lost_in_pause) = (true, true);
    for (address, bits) in cells {
        for bit in (0..evidence.shape.bits()).filter(|bit| bits >> bit & 1 == 1) {
            let signs = signs(evidence, evidence.kind(address), bit);
            lost &= signs.loses != [false; 2] && signs.stuck == [false; 2];
            lost_in_pause &= signs.in_pause != [false; 2] && signs.stuck == [false; 2];
            common = common.and(signs);
        }
    }
    for value in [false, true] {
        let at = usize::from(value);
        let stuck = common.stuck[usize::from(!value)];
        let loses = common.loses[at] || common.in_pause[at];
        match (stuck, loses) {
            (true, true) => return LineFault::ReadsOrLoses(value),
            (true, false) => return LineFault::Reads(!value),
            (false, true) if common.in_pause[at] => return LineFault::LosesInPause(Some(value)),
            (false, true) => return LineFault::Loses(Some(value)),
            (false, false) => {}
        }
    }
    match (lost_in_pause, lost) {
        (true, _) => LineFault::LosesInPause(None),
        (false, true) => LineFault::Loses(None),
        (false, false) => LineFault::Variously,
    }
}
