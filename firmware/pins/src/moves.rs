//! Partial changes of the drivers, for what changes few positions very often.

use crate::{Positions, Socket};

/// Moves some positions and leaves the others alone.
///
/// A position has a level whether it is driven or not: a driver that is turned on starts with the
/// level that was set last. [`Socket::apply`] sets the levels of the positions that it drives.
///
/// Short times are counted in ticks of a counter that runs through all 32 bits and around, so that
/// a program can tell in a few instructions whether something is due.
pub trait Moves: Socket {
    /// Port words that set the levels of some positions.
    type Levels: Copy;
    /// Port words that say of every position whether it is driven.
    type Directions: Copy;

    /// The words that change nothing.
    const NO_LEVELS: Self::Levels;

    /// How many ticks pass at least, whatever they are spent on, from the end of a read to the
    /// first move of what follows: the comparison lies between. 0 where it takes no time.
    const AFTER_READ: u32 = 0;

    /// The words that set `positions`, those of them in `high` to the high level and the rest low.
    /// Touches no pin.
    fn prepare_levels(&self, positions: Positions, high: Positions) -> Self::Levels;

    /// The words that do what both do. No position may be in both.
    fn join(first: Self::Levels, second: Self::Levels) -> Self::Levels;

    /// Sets the levels. On return they are as prepared; while it runs, positions may change port
    /// by port, in any order.
    fn set(&mut self, levels: &Self::Levels);

    /// The words that drive `driven` and release every other position. Touches no pin.
    fn prepare_directions(&self, driven: Positions) -> Self::Directions;

    /// Turns drivers on and off; levels stay. Positions may change port by port, in any order.
    fn direct(&mut self, directions: &Self::Directions);

    /// Whether the supply has tripped, as far as a single look can tell: for inner loops.
    /// [`Supply::tripped`](crate::Supply::tripped) looks closer.
    fn is_tripped(&self) -> bool;

    /// The counter now.
    fn ticks(&mut self) -> u32;

    /// How many ticks last at least this long.
    fn prepare_wait(&self, ns: u32) -> u32;

    /// Waits at least this many ticks.
    fn wait(&mut self, ticks: u32);

    /// Waits at least this many ticks, and as little longer as the station can: before what is
    /// measured.
    fn wait_closely(&mut self, ticks: u32) {
        self.wait(ticks);
    }
}
