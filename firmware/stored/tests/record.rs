//! Power cuts at every word and in every erasure.

use dipsift_stored::{Memory, MemoryFault, RECORD_WORDS, Sector, arm, armed};

/// What a cut leaves of the word that was being programmed, or of the words of a sector that was
/// being erased.
#[derive(Clone, Copy, Debug)]
enum Rest {
    /// As before.
    Old,
    /// As it was to be.
    New,
    /// Some of the bits are done.
    Half,
    /// Anything.
    Random,
}

const RESTS: [Rest; 4] = [Rest::Old, Rest::New, Rest::Half, Rest::Random];

/// Flash memory as ST RM0090 describes it: programming clears bits, erasing sets a whole sector.
/// After `left` operations the power fails in the middle of the next one.
#[derive(Clone)]
struct Flash {
    sectors: [Vec<u32>; 2],
    left: Option<u32>,
    rest: Rest,
    random: u64,
    operations: u32,
    erasures: u32,
}

const SLOTS: usize = 4;
/// A few words that belong to no record.
const WORDS: usize = SLOTS * RECORD_WORDS + 2;

impl Flash {
    fn new() -> Self {
        Self {
            sectors: [vec![u32::MAX; WORDS], vec![u32::MAX; WORDS]],
            left: None,
            rest: Rest::Old,
            random: 1,
            operations: 0,
            erasures: 0,
        }
    }

    /// Any bits (Marsaglia's xorshift, Journal of Statistical Software 8 (2003) 14).
    fn any(&mut self) -> u32 {
        self.random ^= self.random << 13;
        self.random ^= self.random >> 7;
        self.random ^= self.random << 17;
        (self.random >> 16) as u32
    }

    /// Counts an operation; `true` where the power fails in it.
    fn cut(&mut self) -> Result<bool, MemoryFault> {
        self.operations += 1;
        match &mut self.left {
            None => Ok(false),
            Some(u32::MAX) => Err(MemoryFault),
            Some(0) => {
                // Without power nothing more is done.
                self.left = Some(u32::MAX);
                Ok(true)
            }
            Some(left) => {
                *left -= 1;
                Ok(false)
            }
        }
    }

    fn spoil(&mut self, old: u32, new: u32) -> u32 {
        match self.rest {
            Rest::Old => old,
            Rest::New => new,
            Rest::Half => {
                let done = self.any();
                old & !done | new & done
            }
            Rest::Random => self.any(),
        }
    }
}

const fn index(sector: Sector) -> usize {
    match sector {
        Sector::First => 0,
        Sector::Second => 1,
    }
}

impl Memory for Flash {
    fn words(&self) -> usize {
        WORDS
    }

    fn read(&self, sector: Sector, word: usize) -> u32 {
        self.sectors[index(sector)][word]
    }

    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault> {
        let cut = self.cut()?;
        let old = self.sectors[index(sector)][word];
        let new = old & value;
        self.sectors[index(sector)][word] = if cut { self.spoil(old, new) } else { new };
        if cut { Err(MemoryFault) } else { Ok(()) }
    }

    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault> {
        let cut = self.cut()?;
        self.erasures += 1;
        for word in 0..WORDS {
            let old = self.sectors[index(sector)][word];
            self.sectors[index(sector)][word] =
                if cut { self.spoil(old, u32::MAX) } else { u32::MAX };
        }
        if cut { Err(MemoryFault) } else { Ok(()) }
    }
}

/// Names in turn, with nothing in between now and then.
fn wanted(turn: u32) -> Option<String> {
    (turn % 5 != 4).then(|| format!("part {turn}"))
}

fn read(flash: &Flash) -> Option<String> {
    armed(flash).map(|name| name.to_string())
}

#[test]
fn what_is_armed_is_read_back_over_many_erasures() {
    let mut flash = Flash::new();
    assert_eq!(read(&flash), None);
    for turn in 0..100 {
        arm(&mut flash, wanted(turn).as_deref()).unwrap();
        assert_eq!(read(&flash), wanted(turn));
        let operations = flash.operations;
        arm(&mut flash, wanted(turn).as_deref()).unwrap();
        assert_eq!(flash.operations, operations, "the same again wears nothing");
    }
    // One for each sector that is full, and the first two were erased from the start.
    assert!((20..=25).contains(&flash.erasures), "{}", flash.erasures);
}

#[test]
fn a_cut_anywhere_leaves_the_old_or_the_new() {
    // Enough to fill both sectors and to erase each of them again.
    const TURNS: u32 = 4 * SLOTS as u32 + 3;
    let mut cuts = 0;
    for turn in 0..TURNS {
        let mut before = Flash::new();
        for turn in 0..turn {
            arm(&mut before, wanted(turn).as_deref()).unwrap();
        }
        let old = read(&before);
        let new = wanted(turn);
        let mut whole = before.clone();
        arm(&mut whole, new.as_deref()).unwrap();
        for left in 0..whole.operations - before.operations {
            for (rest, seed) in
                RESTS.into_iter().flat_map(|rest| [1, 77, 4_242].map(|seed| (rest, seed)))
            {
                cuts += 1;
                let mut flash = before.clone();
                (flash.left, flash.rest, flash.random) = (Some(left), rest, seed);
                let said = arm(&mut flash, new.as_deref());
                let now = read(&flash);
                let what = format!("turn {turn}, cut at {left}, {rest:?}: {now:?}");
                assert!(said.is_err(), "{what}");
                assert!(now == old || now == new, "{what}");
                // Power again: what the cut has left takes whatever comes, cut or not.
                flash.left = None;
                for next in 1..=2 * SLOTS as u32 {
                    let next = Some(format!("next {next}"));
                    arm(&mut flash, next.as_deref()).unwrap_or_else(|_| panic!("{what}"));
                    assert_eq!(read(&flash), next, "{what}");
                }
            }
        }
    }
    println!("{cuts} cuts");
    assert!(cuts > 1_000);
}

#[test]
fn a_cut_after_a_cut_leaves_something_that_was_armed() {
    let mut before = Flash::new();
    for turn in 0..3 {
        arm(&mut before, wanted(turn).as_deref()).unwrap();
    }
    for first in 0..30 {
        for second in 0..30 {
            let mut flash = before.clone();
            flash.rest = Rest::Random;
            flash.random = 1 + u64::from(first * 31 + second);
            let mut may = vec![read(&flash)];
            for (cut, names) in [(first, 10..20), (second, 20..30)] {
                flash.left = Some(cut);
                for name in names {
                    let name = Some(format!("part {name}"));
                    may.push(name.clone());
                    if arm(&mut flash, name.as_deref()).is_err() {
                        break;
                    }
                    may = vec![name];
                }
                flash.left = None;
                let now = read(&flash);
                assert!(may.contains(&now), "{first} {second}: {now:?} of {may:?}");
                may = vec![now];
            }
        }
    }
}

#[test]
fn whatever_the_memory_held_before_it_takes_a_name() {
    for seed in 1..500 {
        let mut flash = Flash::new();
        flash.random = seed;
        for sector in 0..2 {
            for word in 0..WORDS {
                let any = flash.any();
                flash.sectors[sector][word] = match seed % 4 {
                    0 => any,
                    1 => 0,
                    // Begun, but not full.
                    2 if word > 3 => u32::MAX,
                    _ => any | any << 1,
                };
            }
        }
        assert_eq!(read(&flash), None, "{seed}");
        arm(&mut flash, Some("7400")).unwrap();
        assert_eq!(read(&flash).as_deref(), Some("7400"), "{seed}");
    }
}

/// A sector with words that do not take what is programmed.
struct Worn(Flash);

impl Memory for Worn {
    fn words(&self) -> usize {
        WORDS
    }
    fn read(&self, sector: Sector, word: usize) -> u32 {
        self.0.read(sector, word)
    }
    fn program(&mut self, sector: Sector, word: usize, value: u32) -> Result<(), MemoryFault> {
        let stuck = if sector == Sector::First && word < 2 * RECORD_WORDS { 1 } else { 0 };
        self.0.program(sector, word, value | stuck)
    }
    fn erase(&mut self, sector: Sector) -> Result<(), MemoryFault> {
        self.0.erase(sector)
    }
}

#[test]
fn a_record_that_does_not_read_back_is_written_elsewhere() {
    let mut worn = Worn(Flash::new());
    for turn in 0..20 {
        let name = format!("part {turn}");
        arm(&mut worn, Some(&name)).unwrap();
        assert_eq!(armed(&worn).unwrap(), name.as_str());
    }
}

#[test]
fn names_that_are_none_are_declined() {
    let mut flash = Flash::new();
    arm(&mut flash, Some("74LS00")).unwrap();
    for name in ["", "longer than sixteen"] {
        assert_eq!(arm(&mut flash, Some(name)), Err(MemoryFault));
        assert_eq!(read(&flash).as_deref(), Some("74LS00"));
    }
    arm(&mut flash, Some("exactly sixteen.")).unwrap();
    assert_eq!(read(&flash).as_deref(), Some("exactly sixteen."));
}
