//! Access time, by moving the sample.
//!
//! The last event of a read is one pin, the select or the column strobe, so that no two ports'
//! difference counts; the address has come long before. The memory is written whole, then read
//! whole. Between reads the outputs are left to the light keepers for long enough to reach the
//! other level, so that a sample that comes too early does not see the word that was read last.

use super::layout::{Layout, Pull, ReadForm};
use super::report::{GradeLine, GradeReport, Kept};
use super::times::{Times, slowest};
use super::{Mark, Running};
use dipsift_language::Memory;
use dipsift_link::{LinkError, Transport};
use dipsift_wire::{Capabilities, Element, Ended, Operation, Order};

/// How long the light keepers take to move an output: three time constants of 22 kΩ and 60 pF.
const REST_NS: u32 = 4_000;
/// How far ahead the address comes where it must not count, beyond the slowest grade.
const AHEAD_NS: u32 = 200;
/// The steps of the search in nanoseconds, where the station's waits are not coarser.
const STEP_NS: u32 = 5;
/// How many words the search reads; what it finds is then tried on all of them.
const SEARCHED: u32 = 4_096;
/// A position's capacitance, 60 pF, in femtofarads an ohm nanosecond: RC in ns is ohms × 60 / 1000.
const PICOFARADS: u32 = 60;
/// An output's resistance at most: 2.4 V at -1 mA and 5 V (2114 data sheets; from memory) leave
/// some 600 ohm before the level that decides is passed.
const OUTPUT_OHMS: u32 = 600;

/// How much earlier and later than the sample says the data may have been valid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Uncertainty {
    /// The chip may be this much slower: the input synchroniser, and one step.
    pub early_ns: u32,
    /// The chip may be this much faster: the same, and one and a half time constants of the
    /// driver's series resistor and of the output with a position's capacitance, after which every
    /// level that decides is passed.
    pub late_ns: u32,
}

impl Uncertainty {
    pub fn of(capabilities: &Capabilities) -> Self {
        let early_ns = capabilities.sample_ns + step(capabilities);
        let charge = (capabilities.series_ohms + OUTPUT_OHMS) * PICOFARADS * 3 / 2_000;
        Self { early_ns, late_ns: early_ns + charge }
    }
}

fn step(capabilities: &Capabilities) -> u32 {
    STEP_NS.max(capabilities.step_ns)
}

/// Measures the speed of a memory that has passed its march.
pub(crate) fn measure<T: Transport>(
    running: &mut Running<'_, T>,
    layout: &Layout,
    memory: &Memory,
    mark: Option<&Mark>,
    capabilities: &Capabilities,
) -> Result<GradeReport, LinkError> {
    let dynamic = layout.is_dynamic();
    let Uncertainty { early_ns, late_ns } = Uncertainty::of(capabilities);
    let step = step(capabilities);
    let relaxed = Times::of(memory, slowest(memory));
    let mut probe = Probe { running, layout, relaxed };
    let ahead = relaxed.access + AHEAD_NS;
    let most = relaxed.after_last(dynamic) + late_ns + AHEAD_NS;
    // The earliest at which a part of the memory reads right, then the rest of it.
    let (mut low, mut high) = (0, most.div_ceil(step));
    while low < high {
        let middle = low.midpoint(high);
        if probe.reads(ahead, middle * step, SEARCHED)? {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    let mut fastest_ns = None;
    while low * step <= most {
        if probe.reads(ahead, low * step, u32::MAX)? {
            fastest_ns = Some(low * step);
            break;
        }
        low += 1;
    }
    let grades = memory.grades.iter().map(|(grade, access_ns)| {
        let promised_ns = Times::of(memory, Some(*access_ns)).after_last(dynamic);
        let compares =
            fastest_ns.map_or(Kept::Slower, |ns| compare(ns, promised_ns, early_ns, late_ns));
        GradeLine { mark: grade.clone(), access_ns: *access_ns, promised_ns, compares }
    });
    let grades = grades.collect();
    let kept = match mark {
        Some(mark) => Some(probe.keeps(memory, mark.access_ns, early_ns, late_ns)?),
        None => None,
    };
    Ok(GradeReport {
        mark: mark.map(|mark| mark.text.clone()),
        access_ns: mark.map(|mark| mark.access_ns),
        kept,
        event: if dynamic { "column strobe" } else { "select" },
        fastest_ns,
        early_ns,
        late_ns,
        grades,
    })
}

/// How a measured time compares with a promised one.
const fn compare(measured: u32, promised: u32, early: u32, late: u32) -> Kept {
    if measured + early <= promised {
        Kept::Keeps
    } else if measured > promised + late {
        Kept::Slower
    } else {
        Kept::NotDistinguishable
    }
}

struct Probe<'r, 'b, T: Transport> {
    running: &'r mut Running<'b, T>,
    layout: &'r Layout,
    relaxed: Times,
}

impl<T: Transport> Probe<'_, '_, T> {
    /// Whether words read right, both values, when they are sampled so early.
    fn reads(&mut self, lead_ns: u32, sample_ns: u32, words: u32) -> Result<bool, LinkError> {
        let each = |operation| Element::Each {
            order: Order::Up,
            operations: [operation].into_iter().collect(),
        };
        let elements = [Operation::W0, Operation::R0, Operation::W1, Operation::R1].map(each);
        let form = ReadForm { lead_ns, sample_ns, rest_ns: REST_NS };
        for pull in [Pull::Up, Pull::Down] {
            let mut setup = self.layout.setup(&self.relaxed, &form, pull, &elements, &[0], 1);
            setup.words = setup.words.min(words);
            let run = self.running.march("speed", &setup)?;
            if run.summary.ended != Ended::Complete || run.summary.failures > 0 {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Whether the whole memory keeps a grade: the address, or the row strobe, leads by what the
    /// grade's times differ, so that both of them are used up at the sample.
    fn keeps(
        &mut self,
        memory: &Memory,
        access_ns: u32,
        early_ns: u32,
        late_ns: u32,
    ) -> Result<Kept, LinkError> {
        let dynamic = self.layout.is_dynamic();
        let times = Times::of(memory, Some(access_ns));
        let (lead, after) = (times.lead(dynamic), times.after_last(dynamic));
        if self.reads(lead, after.saturating_sub(early_ns), u32::MAX)? {
            return Ok(Kept::Keeps);
        }
        let late = self.reads(lead, after + late_ns, u32::MAX)?;
        Ok(if late { Kept::NotDistinguishable } else { Kept::Slower })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grades_within_the_uncertainty_are_not_distinguishable() {
        assert_eq!(compare(100, 120, 20, 60), Kept::Keeps);
        assert_eq!(compare(101, 120, 20, 60), Kept::NotDistinguishable);
        assert_eq!(compare(180, 120, 20, 60), Kept::NotDistinguishable);
        assert_eq!(compare(181, 120, 20, 60), Kept::Slower);
    }
}
