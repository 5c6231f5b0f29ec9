//! A seeded search for steps that bring a section to all its goals: every output at both levels,
//! every register both ways, neighbours apart, every stuck input and gate found.

use crate::Player;
use crate::expect::{comparable, differing};
use crate::faults::{self, Fault, FaultyChips, Site};
use crate::mover::Mover;
use crate::random::Random;
use crate::section::Task;
use crate::walk;
use dipsift_language::{Node, StateId};
use dipsift_wire::{Pins, Rail, Step};
use std::collections::BTreeSet;

/// Candidates tried for each stretch of steps.
const CANDIDATES: usize = 10;
/// Stretches without progress after which the search ends.
const PATIENCE: usize = 6;
/// Stretches at most.
const STRETCHES: usize = 120;
/// Blocks of faulty chips that judge a candidate.
const JUDGES: usize = 2;
/// Candidates tried for stuck inputs and registers that are still not found in the end.
const LAST_TRIES: usize = 800;

/// Something that is to be seen once.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Goal {
    /// An output at a level.
    Level(u8, bool),
    /// A register's change.
    Change(u32, bool),
    /// A pin high beside a low one.
    Apart(u8, u8),
    /// A content after a content, under some inputs.
    Transition(u64),
}

impl Goal {
    /// Transitions are many; once the quota is full they do not count.
    fn worth(self, full: bool) -> i64 {
        match self {
            Self::Level(..) => 40,
            Self::Change(..) => 20,
            Self::Apart(..) => 12,
            Self::Transition(_) => {
                if full {
                    0
                } else {
                    4
                }
            }
        }
    }
}

const FAULT_WORTH: i64 = 30;

/// Steps that might be taken, with what they reach.
struct Candidate {
    mover: Mover,
    goals: BTreeSet<Goal>,
    /// How many judged faults they find.
    found: usize,
}

struct Search<'a> {
    task: &'a Task<'a>,
    calm: Vec<u8>,
    clocks: Vec<u8>,
    seen: BTreeSet<Goal>,
    random: Random,
}

/// The steps for a section that is too wide for all combinations or has contents.
pub(crate) fn directed(task: &Task<'_>) -> Vec<Step> {
    let chip = &task.player.chip;
    let is_clock = |pin: &u8| chip.id(*pin).is_some_and(|id| task.structure.is_clock(id));
    let (clocks, calm) = task.inputs().iter().partition(is_clock);
    let mut search = Search {
        task,
        calm,
        clocks,
        seen: BTreeSet::new(),
        random: Random::new(&task.part.number, 1 + task.index as u64),
    };
    let (mut mover, open) = search.run();
    walk::counters(task, &search.clocks, &search.calm, &mut search.random, &mut mover);
    search.find(&open, &mut mover);
    mover.steps
}

/// Takes steps with faulty chips, compared with a good one that starts as `player`.
fn follow(faulty: &mut FaultyChips, player: &Player, steps: &[Step]) {
    let mut player = player.clone();
    for step in steps {
        // Steps of a mover are legal.
        let _ = player.step(step);
        faulty.run(step);
        let (pins, high) = comparable(&player);
        faulty.compare(pins, high);
        faulty.drop_done();
    }
}

impl Search<'_> {
    /// The search, and the stuck inputs and registers that it has not found.
    fn run(&mut self) -> (Mover, Vec<Fault>) {
        let task = self.task;
        let all = faults::of_section(task.part, task.structure, task.index);
        let mut mover = Mover::new(task.player.clone());
        let mut faulty = self.faulty(&all);
        let quota = self.quota();
        let mut idle = 0;
        for turn in 0..STRETCHES {
            let full = mover.steps.len() >= quota;
            let judges = if turn < 4 { FaultyChips::default() } else { faulty.few(turn, JUDGES) };
            let mut best: Option<(i64, Candidate)> = None;
            for _ in 0..CANDIDATES {
                let tried = self.candidate(&mover, judges.clone(), full);
                let worth: i64 = tried.goals.iter().map(|goal| goal.worth(full)).sum();
                let steps = tried.mover.steps.len() - mover.steps.len();
                let cost = if full { 0 } else { steps as i64 };
                let score = worth + FAULT_WORTH * tried.found as i64 - cost;
                if steps > 0 && best.as_ref().is_none_or(|(other, _)| score > *other) {
                    best = Some((score, tried));
                }
            }
            let Some((score, chosen)) = best else { break };
            idle = if score > 0 { 0 } else { idle + 1 };
            if full && idle >= PATIENCE {
                break;
            }
            if full && score <= 0 {
                continue;
            }
            follow(&mut faulty, &mover.player, &chosen.mover.steps[mover.steps.len()..]);
            self.seen.extend(chosen.goals);
            mover = chosen.mover;
        }
        let mut open = faulty.undetected();
        // Gates may be redundant; inputs and registers hardly are.
        open.retain(|fault| match fault.site {
            Site::Pin(_) => true,
            Site::Node(node) => matches!(task.part.network.node(node), Node::State(_)),
        });
        (mover, open)
    }

    /// Looks longer for stuck inputs and registers.
    fn find(&mut self, open: &[Fault], mover: &mut Mover) {
        if open.is_empty() {
            return;
        }
        let mut faulty = self.faulty(open);
        follow(&mut faulty, self.task.player, &mover.steps);
        for attempt in 1..=LAST_TRIES {
            if faulty.undetected().is_empty() {
                break;
            }
            let tried = self.candidate(mover, faulty.clone(), true);
            // Where nothing helps, it is time to leave the place.
            if tried.found > 0 || attempt % 100 == 0 {
                follow(&mut faulty, &mover.player, &tried.mover.steps[mover.steps.len()..]);
                *mover = tried.mover;
            }
        }
    }

    fn faulty(&self, faults: &[Fault]) -> FaultyChips {
        let task = self.task;
        let mut faulty = FaultyChips::new(task.part, task.package, task.conditions, faults);
        faulty.run(&task.conditions.keep(Rail::High));
        faulty
    }

    /// How many steps a section gets even when its goals are met before.
    fn quota(&self) -> usize {
        let inputs = self.calm.len() + self.clocks.len();
        (24 + 8 * inputs + 12 * self.task.section().registers.len()).min(320)
    }

    /// One stretch from where the mover is, or up to three of them.
    fn candidate(&mut self, from: &Mover, mut judges: FaultyChips, longer: bool) -> Candidate {
        let before = judges.detected();
        let mut mover = from.clone();
        let mut goals = BTreeSet::new();
        let start = mover.steps.len();
        let stretches = if longer { 1 + self.random.below(3) } else { 1 };
        for _ in 0..stretches {
            self.mode(&mut mover);
            self.clock(&mut mover);
        }
        let mut player = from.player.clone();
        for step in &mover.steps[start..] {
            let earlier = self.contents(&player);
            // Steps of a mover are legal.
            let _ = player.step(step);
            self.note(&player, &earlier, &mut goals);
            judges.run(step);
            let (pins, high) = comparable(&player);
            judges.compare(pins, high);
        }
        Candidate { mover, goals, found: judges.detected() - before }
    }

    /// New levels for the inputs that are no clocks.
    fn mode(&mut self, mover: &mut Mover) {
        let (_, now) = mover.player.driven();
        let pins: Pins = self.calm.iter().copied().collect();
        let high = match self.random.below(4) {
            0 => self.weighted(pins, 1, 2),
            1 => {
                let numerator = [1, 7][self.random.below(2)];
                self.weighted(pins, numerator, 8)
            }
            2 => Pins(now.0 ^ self.weighted(pins, 1, 4).0),
            _ if self.calm.is_empty() => now,
            _ => Pins(now.0 ^ Pins::one(self.calm[self.random.below(self.calm.len())]).0),
        };
        let driven = mover.player.driven().0;
        // The first stretch drives everything, clocks too.
        let all: Pins = self.calm.iter().chain(&self.clocks).copied().collect();
        if driven.0 & all.0 == 0 {
            let high = Pins(high.0 | self.weighted(all, 1, 2).0 & !pins.0);
            mover.set(all, high);
        } else {
            self.set(mover, pins, high);
        }
    }

    /// Sets levels; where inputs have to hold still while a clock is as it is, turns it first.
    fn set(&self, mover: &mut Mover, pins: Pins, high: Pins) -> bool {
        mover.set(pins, high)
            || self.clocks.iter().any(|&clock| mover.toggle(clock) && mover.set(pins, high))
    }

    fn clock(&mut self, mover: &mut Mover) {
        if self.clocks.is_empty() {
            return;
        }
        if self.random.chance(1, 4) {
            let other = self.clocks[self.random.below(self.clocks.len())];
            mover.toggle(other);
        }
        let clock = self.clocks[self.random.below(self.clocks.len())];
        let times = [0, 1, 1, 2, 3, 5, 9, 17][self.random.below(8)];
        let pins: Pins = self.calm.iter().copied().collect();
        let jitter = if self.random.flip() { Pins::NONE } else { self.weighted(pins, 1, 4) };
        for _ in 0..times {
            if !jitter.is_empty() {
                let high = self.weighted(jitter, 1, 2);
                self.set(mover, jitter, high);
            }
            mover.toggle(clock);
            mover.toggle(clock);
        }
        if self.random.chance(1, 4) {
            mover.toggle(clock);
        }
    }

    fn weighted(&mut self, pins: Pins, numerator: usize, denominator: usize) -> Pins {
        pins.iter().filter(|_| self.random.chance(numerator, denominator)).collect()
    }

    fn contents(&self, player: &Player) -> Vec<Option<bool>> {
        let machine = &player.chip.machine;
        self.task.section().registers.iter().map(|&state| machine.state(state).known()).collect()
    }

    fn note(&self, player: &Player, earlier: &[Option<bool>], goals: &mut BTreeSet<Goal>) {
        let mut note = |goal: Goal| {
            if !self.seen.contains(&goal) {
                goals.insert(goal);
            }
        };
        for pin in self.task.outputs().iter() {
            if let Some(level) = player.reads(pin) {
                note(Goal::Level(pin, level));
            }
        }
        let now = self.contents(player);
        for ((StateId(index), was), is) in
            self.task.section().registers.iter().zip(earlier).zip(&now)
        {
            if let (Some(was), Some(is)) = (was, is)
                && was != is
            {
                note(Goal::Change(*index, *is));
            }
        }
        let own = Pins(self.task.inputs().0 | self.task.outputs().0);
        for (high, low) in differing(player) {
            if own.contains(high) && own.contains(low) {
                note(Goal::Apart(high, low));
            }
        }
        if !now.is_empty() && now.iter().all(Option::is_some) && earlier != now {
            let hash = earlier.iter().chain(&now).fold(0_u64, |hash, content| {
                let digit = content.map_or(2, u64::from);
                hash.wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(5) ^ digit
            });
            note(Goal::Transition(hash));
        }
    }
}
