//! Proof that the order in which pins change makes no difference.
//!
//! Ternary simulation after E. B. Eichelberger, "Hazard detection in combinational and sequential
//! switching circuits", IBM Journal of Research and Development 9(2), 1965: what changes is first
//! made unknown and the network settled, then it gets its final level. What is known at the end is
//! known in every order. Edges need one refinement: a clock that is merely unknown says nothing
//! about the edge, so the few clock pins of a section change one by one, in each of their orders,
//! while all other changing pins are unknown.

use crate::structure::Structure;
use dipsift_language::{Machine, PinId, Settled, StateId, Word};

/// What became of a change of several pins at once.
pub(crate) struct Outcome {
    /// At rest afterwards; unknown where the order matters.
    pub(crate) machine: Machine,
    /// Whether all that one order tells is the same in every order.
    pub(crate) order_free: bool,
    /// Whether the network came to rest.
    pub(crate) rests: bool,
    /// What the change passes through on its way to the end.
    pub(crate) passed: Vec<Machine>,
}

impl Outcome {
    /// The end and what the change passes through.
    pub(crate) fn all(&self) -> impl Iterator<Item = &Machine> {
        self.passed.iter().chain([&self.machine])
    }
}

/// More clock pins than this in one section are not permuted but made unknown all at once.
const PERMUTED: usize = 3;

/// Changes pins in an order that nobody knows.
pub(crate) fn change(
    machine: &Machine,
    structure: &Structure,
    changes: &[(PinId, Word)],
) -> Outcome {
    let mut rests = true;
    let mut settle = |machine: &mut Machine| rests &= machine.settle() == Settled::Stable;
    if changes.len() <= 1 {
        let mut after = machine.clone();
        apply(&mut after, changes);
        settle(&mut after);
        return Outcome { passed: Vec::new(), machine: after, order_free: true, rests };
    }
    let (mut clocks, mut calm): (Vec<_>, Vec<_>) =
        changes.iter().copied().partition(|(pin, _)| structure.is_clock(*pin));
    let mut groups = by_section(structure, &clocks);
    let mut longest = groups.iter().map(Vec::len).max().unwrap_or(0);
    if longest > PERMUTED {
        calm.append(&mut clocks);
        groups.clear();
        longest = 0;
    }

    let mut passed = Vec::new();
    let mut ends: Vec<Machine> = Vec::new();
    for order in permutations(longest) {
        let mut after = machine.clone();
        if !calm.is_empty() {
            for (pin, _) in &calm {
                after.apply(*pin, Word::UNKNOWN);
            }
            settle(&mut after);
            passed.push(after.clone());
        }
        for slot in order {
            for group in &groups {
                apply(&mut after, group.get(slot).as_slice_of_one());
            }
            settle(&mut after);
            passed.push(after.clone());
        }
        if !calm.is_empty() {
            apply(&mut after, &calm);
            settle(&mut after);
        }
        ends.push(after);
    }

    // One order, to see what it tells.
    let mut one = machine.clone();
    apply(&mut one, &calm);
    settle(&mut one);
    for change in &clocks {
        apply(&mut one, &[*change]);
        settle(&mut one);
    }

    let order_free = ends.iter().all(|end| knows_as_much(end, &one));
    let mut after = ends.swap_remove(0);
    if !order_free {
        for index in 0..after.network().registers.len() {
            let state = StateId(index as u32);
            let merged =
                ends.iter().fold(after.state(state), |all, end| all.merge(end.state(state)));
            after.set_state(state, merged);
        }
        settle(&mut after);
    }
    Outcome { machine: after, order_free, rests, passed }
}

/// Whether all that `other` knows of registers and drivers, `machine` knows too, and the same.
fn knows_as_much(machine: &Machine, other: &Machine) -> bool {
    let same = |mine: Word, theirs: Word| theirs.known().is_none() || mine == theirs;
    let network = other.network();
    let states = (0..network.registers.len()).all(|index| {
        let state = StateId(index as u32);
        same(machine.state(state), other.state(state))
    });
    states
        && network.drivers.iter().all(|driver| {
            same(machine.node(driver.value), other.node(driver.value))
                && driver.enable.is_none_or(|node| same(machine.node(node), other.node(node)))
        })
}

fn apply(machine: &mut Machine, changes: &[(PinId, Word)]) {
    for (pin, level) in changes {
        machine.apply(*pin, *level);
    }
}

type Changes = Vec<(PinId, Word)>;

fn by_section(structure: &Structure, pins: &[(PinId, Word)]) -> Vec<Changes> {
    let mut groups: Vec<(Option<usize>, Changes)> = Vec::new();
    for change in pins {
        let section = structure.section_of(change.0);
        match groups.iter_mut().find(|(at, _)| *at == section) {
            Some((_, group)) => group.push(*change),
            None => groups.push((section, vec![*change])),
        }
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

fn permutations(count: usize) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for next in 0..count {
        let longer = |order: &Vec<usize>| {
            let order = order.clone();
            (0..=order.len()).map(move |at| {
                let mut longer = order.clone();
                longer.insert(at, next);
                longer
            })
        };
        all = all.iter().flat_map(longer).collect();
    }
    all
}

/// An optional item as a slice.
trait AsSliceOfOne<T> {
    fn as_slice_of_one(&self) -> &[T];
}

impl<T> AsSliceOfOne<T> for Option<&T> {
    fn as_slice_of_one(&self) -> &[T] {
        self.map_or(&[], std::slice::from_ref)
    }
}

#[cfg(test)]
mod tests {
    use super::permutations;

    #[test]
    fn every_order_occurs_once() {
        assert_eq!(permutations(0), [Vec::<usize>::new()]);
        let mut all = permutations(3);
        all.sort();
        all.dedup();
        assert_eq!(all.len(), 6);
    }
}
