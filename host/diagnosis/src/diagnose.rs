//! From failing reads to findings.

use crate::cause::{Cause, Cell, CellFault, Finding, Half};
use crate::cells::{Verdict, judge, signs};
use crate::coupling::aggressors;
use crate::evidence::{Evidence, Extent, Observation, Slow, Unfit};
use crate::lines::{Found, blocks, half, rows_and_columns};
use crate::play::Predicted;
use crate::shape::Shape;
use crate::whole::{Accepted, address_lines, data_lines};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// The most sorts of failing cells that are looked at one by one.
const MOST_SORTS: usize = 256;
/// The most victims of couplings that are named.
const MOST_VICTIMS: usize = 16;
/// The most cells for which a rare fault of single cells is believed.
const MOST_RARE: usize = 64;

/// What failing reads mean.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Diagnosis {
    /// What is wrong: those that cover most first, what has no simple cause last. Empty if
    /// nothing failed.
    pub findings: Vec<Finding>,
    /// How many reads failed.
    pub failing_reads: u64,
    /// How many cells failed.
    pub failing_cells: u32,
    /// Whether the march was ended early: then the findings are about its beginning.
    pub cut: bool,
    /// The halves without a failing cell, which make a part of half the capacity where one is made
    /// that uses them. None where the march was ended early, or where lines fail by which all
    /// cells are reached.
    pub good_halves: Vec<Half>,
}

impl Diagnosis {
    /// Finds what is wrong.
    ///
    /// # Errors
    ///
    /// The failing reads are not those of this march on this memory.
    pub fn of(shape: &Shape, observation: &Observation<'_>) -> Result<Self, Unfit> {
        let mut work = Work {
            evidence: Evidence::new(shape, observation)?,
            findings: Vec::new(),
            unsettled: false,
        };
        work.slow();
        work.data_lines();
        work.address_lines();
        if !work.unsettled {
            work.lines();
            work.shared_words();
            work.cells();
        }
        work.scattered();
        let good_halves = work.good_halves();
        let mut findings = work.findings;
        findings.sort_by_key(|finding| {
            let scattered = matches!(finding.cause, Cause::Scattered { .. });
            (scattered, u64::MAX - finding.reads)
        });
        let (_, failing_cells) = work.evidence.count(|_| shape.mask());
        Ok(Self {
            findings,
            failing_reads: observation.misses.len() as u64,
            failing_cells,
            cut: observation.extent == Extent::Cut,
            good_halves,
        })
    }
}

struct Work<'a> {
    evidence: Evidence<'a>,
    findings: Vec<Finding>,
    /// Whether a fault that is found makes what else fails hard to read.
    unsettled: bool,
}

impl Work<'_> {
    fn add(&mut self, cause: Cause, or: Vec<Cause>, certain: bool, covers: impl Fn(u32) -> u16) {
        let evidence = &mut self.evidence;
        let open: Vec<u16> =
            (0..evidence.shape.words).map(|at| covers(at) & evidence.open(at)).collect();
        let (reads, cells) = evidence.count(|address| open[address as usize]);
        if cells == 0 {
            return;
        }
        for (address, explained) in evidence.explained.iter_mut().enumerate() {
            *explained |= covers(address as u32);
        }
        let certain = certain && !evidence.is_early();
        self.findings.push(Finding { cause, or, certain, reads, cells });
    }

    fn slow(&mut self) {
        let flags = self.evidence.observation.slow;
        if flags.is_empty() {
            return;
        }
        let mask = self.evidence.shape.mask();
        if flags.contains(&Slow::Chip) {
            self.add(Cause::Slow { cells: Vec::new(), count: 0 }, Vec::new(), true, |_| mask);
            return;
        }
        let mut slow: BTreeMap<u32, u16> = BTreeMap::new();
        for flag in flags {
            if let Slow::Cell(Cell { address, bit }) = *flag {
                *slow.entry(address).or_default() |= 1_u16.checked_shl(bit.into()).unwrap_or(0);
            }
        }
        let failing = |address: u32| {
            slow.get(&address).map_or(0, |bits| bits & self.evidence.kind(address).bits())
        };
        let of = |&address: &u32| {
            let bits = failing(address);
            (0..16).filter(move |bit| bits >> bit & 1 == 1).map(move |bit| Cell { address, bit })
        };
        let known = slow.keys().filter(|address| **address < self.evidence.shape.words);
        let cells: Vec<Cell> = known.flat_map(of).collect();
        let count = cells.len() as u32;
        let listed = cells.iter().copied().take(Cause::MOST_CELLS).collect();
        self.add(Cause::Slow { cells: listed, count }, Vec::new(), true, |address| {
            slow.get(&address).copied().unwrap_or(0)
        });
    }

    fn accept(&mut self, found: Accepted) {
        let certain = found.strays == 0;
        let (cause, or) = (found.cause.clone(), found.or.clone());
        self.add(cause, or, certain, |address| found.covers(address));
    }

    fn data_lines(&mut self) {
        if self.is_done() {
            return;
        }
        let mut found = data_lines(&self.evidence);
        if self.evidence.is_early() {
            // What was seen of the march may just as well be the beginning of these.
            let other = address_lines(&self.evidence, self.evidence.shape.mask());
            let other = other.into_iter().flat_map(|other| [vec![other.cause], other.or].concat());
            let other: Vec<Cause> = other.collect();
            found.iter_mut().for_each(|found| found.or.extend(other.iter().cloned()));
        }
        found.into_iter().for_each(|found| self.accept(found));
    }

    fn is_done(&self) -> bool {
        (0..self.evidence.shape.words).all(|address| self.evidence.open(address) == 0)
    }

    fn address_lines(&mut self) {
        let taken = self.findings.iter().fold(0, |bits, finding| match finding.cause {
            Cause::DataStuck { line, .. } => bits | 1 << line,
            Cause::DataShorted { line, other, .. } => bits | 1 << line | 1 << other,
            _ => bits,
        });
        if self.is_done() {
            return;
        }
        if let Some(found) = address_lines(&self.evidence, self.evidence.shape.mask() & !taken) {
            self.unsettled = !matches!(found.cause, Cause::HalfDead { .. });
            self.accept(found);
        }
    }

    fn lines(&mut self) {
        let arrangement = self.evidence.shape.arrangement();
        let take = |this: &mut Self, found: Found| {
            let Found { cause, covers, complete } = found;
            this.add(cause, Vec::new(), complete, |at| covers.get(&at).copied().unwrap_or(0));
        };
        if let Some(found) = half(&self.evidence) {
            take(self, found);
        }
        for found in rows_and_columns(&self.evidence, &arrangement) {
            take(self, found);
        }
        for found in blocks(&self.evidence) {
            take(self, found);
        }
    }

    /// Two addresses of one word fail as with an address line without effect, but alone. Where
    /// both fail like cells that are stuck as well, which is likelier, they are left to those.
    fn shared_words(&mut self) {
        let mask = self.evidence.shape.mask();
        let pair = Predicted::aliased(&self.evidence, &[0, 0]);
        if pair.iter().any(|predicted| predicted.is_right(mask)) {
            return;
        }
        let like = |predicted: &Predicted| -> Vec<u32> {
            (0..self.evidence.shape.words)
                .filter(|&address| self.evidence.open(address) != 0)
                .filter(|&address| predicted.agrees(self.evidence.kind(address), mask))
                .collect()
        };
        if let ([address], [other]) = (&like(&pair[0])[..], &like(&pair[1])[..])
            && address < other
            && ![*address, *other].iter().all(|&at| self.is_like_stuck(at))
        {
            let (address, other) = (*address, *other);
            self.add(Cause::SharedWord { address, other }, Vec::new(), true, |at| {
                if at == address || at == other { mask } else { 0 }
            });
        }
    }

    fn is_like_stuck(&self, address: u32) -> bool {
        let open = self.evidence.open(address);
        let kind = self.evidence.kind(address);
        (0..self.evidence.shape.bits())
            .filter(|bit| open >> bit & 1 == 1)
            .all(|bit| signs(&self.evidence, kind, bit).stuck != [false; 2])
    }

    fn cells(&mut self) {
        let evidence = &self.evidence;
        let last = evidence.shape.words - 1;
        let mut known: HashMap<(u32, u8, bool, bool), Verdict> = HashMap::new();
        let mut groups: BTreeMap<Verdict, Vec<Cell>> = BTreeMap::new();
        let mut failing = 0;
        for address in 0..=last {
            let open = evidence.open(address);
            failing += open.count_ones() as usize;
            for bit in (0..evidence.shape.bits()).filter(|bit| open >> bit & 1 == 1) {
                let sort = (evidence.kind_of[address as usize], bit, address == 0, address == last);
                if !known.contains_key(&sort) {
                    if known.len() >= MOST_SORTS {
                        continue;
                    }
                    known.insert(sort, judge(evidence, address, bit));
                }
                groups.entry(known[&sort].clone()).or_default().push(Cell { address, bit });
            }
        }
        if is_noise(&groups, failing, evidence.shape) {
            return;
        }
        let mut victims = 0;
        for (verdict, cells) in groups {
            match verdict.faults.first() {
                Some(&fault) => self.lone(fault, &verdict, &cells),
                None if verdict.couplings.is_empty() => {}
                None => {
                    victims += cells.len();
                    if victims <= MOST_VICTIMS {
                        cells.iter().for_each(|&cell| self.coupled(cell, &verdict));
                    }
                }
            }
        }
    }

    fn lone(&mut self, fault: CellFault, verdict: &Verdict, cells: &[Cell]) {
        let usual = matches!(
            fault,
            CellFault::StuckAt(_) | CellFault::Loses { .. } | CellFault::Leaks { .. }
        );
        if !usual && cells.len() > MOST_RARE {
            return;
        }
        let listed: Vec<Cell> = cells.iter().copied().take(Cause::MOST_CELLS).collect();
        let count = cells.len() as u32;
        let cause = |fault| Cause::Cells { fault, cells: listed.clone(), count };
        let mut or: Vec<Cause> = verdict.faults[1..].iter().map(|&fault| cause(fault)).collect();
        if let [cell] = cells {
            or.extend(self.causes(*cell, verdict));
        }
        let covers = by_address(cells);
        self.add(cause(fault), or, true, |at| covers.get(&at).copied().unwrap_or(0));
    }

    fn coupled(&mut self, victim: Cell, verdict: &Verdict) {
        let mut causes = self.causes(victim, verdict);
        if !causes.is_empty() {
            let first = causes.remove(0);
            self.add(first, causes, true, |address| {
                if address == victim.address { 1 << victim.bit } else { 0 }
            });
        }
    }

    /// The couplings of a verdict; the aggressors of the first by name.
    fn causes(&self, victim: Cell, verdict: &Verdict) -> Vec<Cause> {
        let couplings = verdict.couplings.iter().enumerate();
        couplings
            .map(|(at, coupled)| Cause::Coupling {
                victim,
                effect: coupled.effect,
                aggressors: aggressors(self.evidence.shape, victim, coupled, at == 0),
            })
            .collect()
    }

    fn good_halves(&self) -> Vec<Half> {
        let evidence = &self.evidence;
        let used = evidence.shape.address_bits();
        let lines = self.findings.iter().any(|finding| {
            matches!(
                finding.cause,
                Cause::Dead { .. }
                    | Cause::DataStuck { .. }
                    | Cause::DataShorted { .. }
                    | Cause::AddressLine { .. }
                    | Cause::AddressShorted { .. }
            )
        });
        let cut = evidence.observation.extent == Extent::Cut;
        if self.findings.is_empty() || lines || cut || evidence.shape.words != 1 << used {
            return Vec::new();
        }
        let all = evidence.observation.misses.iter().fold(u32::MAX, |all, at| all & at.address);
        let any = evidence.observation.misses.iter().fold(0, |any, at| any | at.address);
        (0..used)
            .filter(|line| (all ^ any) >> line & 1 == 0)
            .map(|line| Half { line, high: any >> line & 1 == 0 })
            .collect()
    }

    fn scattered(&mut self) {
        let evidence = &self.evidence;
        let (mut zeros_for_ones, mut ones_for_zeros, mut bits) = (0, 0, 0);
        let mut addresses = BTreeSet::new();
        for address in 0..evidence.shape.words {
            let open = evidence.open(address);
            if open == 0 {
                continue;
            }
            addresses.insert(address);
            bits |= open;
            for &(read, wrong) in &evidence.kind(address).wrong {
                let expected = evidence.reads[usize::from(read)].expected;
                zeros_for_ones += u64::from((wrong & open & expected).count_ones());
                ones_for_zeros += u64::from((wrong & open & !expected).count_ones());
            }
        }
        let (_, cells) = evidence.count(|address| evidence.open(address));
        let cause = Cause::Scattered { cells, zeros_for_ones, ones_for_zeros, bits };
        self.add(cause, Vec::new(), false, |_| u16::MAX);
    }
}

/// Whether so many cells fail in so many ways that those which look like a fault of single cells
/// do so by chance.
fn is_noise(groups: &BTreeMap<Verdict, Vec<Cell>>, failing: usize, shape: &Shape) -> bool {
    let simple = groups.iter().filter(|(verdict, _)| !verdict.faults.is_empty());
    let mut counts: Vec<usize> = simple.map(|(_, cells)| cells.len()).collect();
    counts.sort_unstable();
    let most: usize = counts.iter().rev().take(2).sum();
    let cells = shape.words as usize * shape.data.len();
    failing > MOST_RARE && failing > cells / 32 && most * 10 < failing * 9
}

fn by_address(cells: &[Cell]) -> BTreeMap<u32, u16> {
    let mut bits: BTreeMap<u32, u16> = BTreeMap::new();
    for cell in cells {
        *bits.entry(cell.address).or_default() |= 1 << cell.bit;
    }
    bits
}
