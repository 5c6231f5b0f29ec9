//! Faults of the whole chip: its lines and its halves.

use crate::cause::{Cause, LineFault, Wins};
use crate::evidence::{Evidence, Extent};
use crate::play::Predicted;
use std::collections::BTreeMap;

/// A cause, and what it does to all addresses, by their levels on some lines.
struct Hypothesis {
    cause: Cause,
    bits: u16,
    lines: Vec<u8>,
    predicted: Vec<Predicted>,
}

/// A cause that agrees with the failures of given bits.
pub(crate) struct Accepted {
    pub(crate) cause: Cause,
    pub(crate) or: Vec<Cause>,
    pub(crate) bits: u16,
    /// How many addresses fail otherwise.
    pub(crate) strays: u32,
    /// By address: whether it fails as it should.
    agrees: Vec<bool>,
}

impl Accepted {
    /// The bits that the cause explains at an address.
    pub(crate) fn covers(&self, address: u32) -> u16 {
        if self.agrees[address as usize] { self.bits } else { 0 }
    }
}

/// A chip or some of its data lines dead, or data lines shorted.
pub(crate) fn data_lines(evidence: &Evidence<'_>) -> Vec<Accepted> {
    let count = evidence.shape.bits();
    let mut accepted = Vec::new();
    let mut taken = 0;
    let mut word = 0;
    for line in 0..count {
        for high in [false, true] {
            let stuck = stuck_line(evidence, line, high);
            if let Some(found) = stuck.judge(evidence) {
                taken |= 1 << line;
                word |= u16::from(high) << line;
                accepted.push(found);
                break;
            }
        }
    }
    if taken == evidence.shape.mask() {
        let dead = Hypothesis {
            cause: Cause::Dead { word },
            bits: taken,
            lines: Vec::new(),
            predicted: vec![Predicted::seeing(evidence, |_| word)],
        };
        if let Some(mut dead) = dead.judge(evidence) {
            if count == 1 {
                dead.or = accepted.into_iter().map(|found| found.cause).collect();
            }
            return vec![dead];
        }
    }
    for line in 0..count {
        for other in line + 1..count {
            if (taken >> line | taken >> other) & 1 == 1 {
                continue;
            }
            let all = [Wins::Low, Wins::High, Wins::Line(line), Wins::Line(other)];
            let found: Vec<Accepted> = all
                .into_iter()
                .filter_map(|wins| shorted_lines(evidence, line, other, wins).judge(evidence))
                .collect();
            if let Some(found) = best(found) {
                taken |= found.bits;
                accepted.push(found);
            }
        }
    }
    accepted
}

/// Address lines without effect or shorted, or a half dead, in given bits.
pub(crate) fn address_lines(evidence: &Evidence<'_>, bits: u16) -> Option<Accepted> {
    let used = evidence.shape.address_bits();
    if evidence.shape.words != 1 << used || bits == 0 {
        return None;
    }
    // The least that any of them fails is a quarter of the addresses; strays may hide some.
    let failing = (0..evidence.shape.words).filter(|&at| evidence.open(at) & bits != 0).count();
    if evidence.observation.extent == Extent::Whole && failing < (1 << used) / 8 {
        return None;
    }
    let mut hypotheses = Vec::new();
    let pins = pins(evidence);
    for lines in pins.values() {
        hypotheses.push(without(evidence, bits, lines.clone()));
        if lines.len() > 1 {
            hypotheses.extend(lines.iter().map(|&line| without(evidence, bits, vec![line])));
        }
    }
    let all: Vec<&Vec<u8>> = pins.values().collect();
    for (at, first) in all.iter().enumerate() {
        for second in &all[at + 1..] {
            let pairs = pairs(evidence, first, second);
            for wins in [Wins::Low, Wins::High] {
                if pairs.len() > 1 {
                    hypotheses.push(joined(evidence, bits, pairs.clone(), wins));
                }
                hypotheses
                    .extend(pairs.iter().map(|&pair| joined(evidence, bits, vec![pair], wins)));
            }
        }
    }
    for line in 0..used {
        for high in [false, true] {
            hypotheses.extend(half(evidence, bits, line, high));
        }
    }
    best(hypotheses.iter().filter_map(|hypothesis| hypothesis.judge(evidence)).collect())
}

/// The address bits of each package pin.
fn pins(evidence: &Evidence<'_>) -> BTreeMap<u8, Vec<u8>> {
    let mut pins: BTreeMap<u8, Vec<u8>> = BTreeMap::new();
    let used = evidence.shape.address_bits();
    for (bit, line) in evidence.shape.address.iter().enumerate().take(used.into()) {
        pins.entry(line.pin).or_default().push(bit as u8);
    }
    pins
}

/// The bits of two pins that are taken in together.
fn pairs(evidence: &Evidence<'_>, first: &[u8], second: &[u8]) -> Vec<(u8, u8)> {
    let strobe = |bit: u8| evidence.shape.address[usize::from(bit)].strobe;
    let all = first.iter().flat_map(|&a| second.iter().map(move |&b| (a, b)));
    all.filter(|&(a, b)| strobe(a) == strobe(b)).map(|(a, b)| (a.min(b), a.max(b))).collect()
}

/// Of causes that agree, the one with the fewest strays, and those that cannot be told from it.
fn best(found: Vec<Accepted>) -> Option<Accepted> {
    let fewest = found.iter().map(|found| found.strays).min()?;
    let mut alike = found.into_iter().filter(|found| found.strays == fewest);
    let mut first = alike.next()?;
    first.or = alike.map(|found| found.cause).collect();
    Some(first)
}

fn stuck_line(evidence: &Evidence<'_>, line: u8, high: bool) -> Hypothesis {
    Hypothesis {
        cause: Cause::DataStuck { line, high },
        bits: 1 << line,
        lines: Vec::new(),
        predicted: vec![Predicted::seeing(evidence, |expected| {
            expected & !(1 << line) | u16::from(high) << line
        })],
    }
}

fn shorted_lines(evidence: &Evidence<'_>, line: u8, other: u8, wins: Wins) -> Hypothesis {
    let both = 1 << line | 1 << other;
    let seen = |expected: u16| {
        let high = match wins {
            Wins::Low => expected & both == both,
            Wins::High => expected & both != 0,
            Wins::Line(line) => expected >> line & 1 == 1,
        };
        expected & !both | if high { both } else { 0 }
    };
    Hypothesis {
        cause: Cause::DataShorted { line, other, wins },
        bits: both,
        lines: Vec::new(),
        predicted: vec![Predicted::seeing(evidence, seen)],
    }
}

fn without(evidence: &Evidence<'_>, bits: u16, lines: Vec<u8>) -> Hypothesis {
    let target = vec![0; 1 << lines.len()];
    let predicted = Predicted::aliased(evidence, &target);
    Hypothesis { cause: Cause::AddressLine { lines: lines.clone() }, bits, lines, predicted }
}

fn joined(evidence: &Evidence<'_>, bits: u16, pairs: Vec<(u8, u8)>, wins: Wins) -> Hypothesis {
    // The classes are in the order of their addresses.
    let mut lines: Vec<u8> = pairs.iter().flat_map(|&(a, b)| [a, b]).collect();
    lines.sort_unstable();
    let place = |line: u8| lines.iter().position(|&at| at == line).unwrap_or(0);
    let reached = |class: usize| {
        pairs.iter().fold(class, |class, &(a, b)| {
            let both = 1 << place(a) | 1 << place(b);
            let high = match wins {
                Wins::High => class & both != 0,
                _ => class & both == both,
            };
            class & !both | if high { both } else { 0 }
        })
    };
    let target: Vec<usize> = (0..1 << lines.len()).map(reached).collect();
    let predicted = Predicted::aliased(evidence, &target);
    Hypothesis { cause: Cause::AddressShorted { pairs, wins }, bits, lines, predicted }
}

fn half(evidence: &Evidence<'_>, bits: u16, line: u8, high: bool) -> Option<Hypothesis> {
    let mut misses = evidence.observation.misses.iter();
    let word = misses.find(|miss| (miss.address >> line & 1 == 1) == high)?.seen;
    let reads = match word & bits {
        0 => LineFault::Reads(false),
        all if all == bits => LineFault::Reads(true),
        _ => LineFault::Variously,
    };
    let dead = Predicted::seeing(evidence, |_| word);
    let good = Predicted::right(evidence);
    Some(Hypothesis {
        cause: Cause::HalfDead { line, high, reads },
        bits,
        lines: vec![line],
        predicted: if high { vec![good, dead] } else { vec![dead, good] },
    })
}

impl Hypothesis {
    /// The hypothesis, if it agrees with all addresses but a few strays.
    fn judge(&self, evidence: &Evidence<'_>) -> Option<Accepted> {
        if self.predicted.iter().all(|predicted| predicted.is_right(self.bits)) {
            return None;
        }
        let most = evidence.shape.words / 32;
        let classes = self.predicted.len();
        let mut known: Vec<Option<bool>> = vec![None; classes * evidence.kinds.len()];
        let mut agrees = Vec::with_capacity(evidence.shape.words as usize);
        let (mut strays, mut covered) = (0, 0);
        for address in 0..evidence.shape.words {
            let class = self
                .lines
                .iter()
                .enumerate()
                .fold(0, |class, (at, line)| class | (address as usize >> line & 1) << at);
            let kind = evidence.kind_of[address as usize] as usize;
            let does = *known[kind * classes + class].get_or_insert_with(|| {
                self.predicted[class].agrees(&evidence.kinds[kind], self.bits)
            });
            agrees.push(does);
            if !does {
                strays += 1;
                if strays > most {
                    return None;
                }
            } else if evidence.kinds[kind].bits() & self.bits != 0 {
                covered += 1;
            }
        }
        // Strays must be few beside what is covered, however large the chip.
        (covered > 0 && covered >= 8 * strays).then(|| Accepted {
            cause: self.cause.clone(),
            or: Vec::new(),
            bits: self.bits,
            strays,
            agrees,
        })
    }
}
