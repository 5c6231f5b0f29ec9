//! Levels at the socket.

use crate::Positions;

/// What a keeper rail is tied to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rail {
    /// Every keeper of this strength is disconnected.
    #[default]
    Off,
    /// Every keeper of this strength pulls to ground.
    Low,
    /// Every keeper of this strength pulls to the drivers' high level.
    High,
}

/// The state of both keeper rails.
///
/// A keeper is a resistor on each position behind a three-state buffer, so a rail that is off
/// leaves its positions separate from each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Keepers {
    /// The light keepers, 22 kΩ on the reference fixture.
    pub light: Rail,
    /// The firm keepers, 2.2 kΩ on the reference fixture.
    pub firm: Rail,
}

impl Keepers {
    /// Both rails off: the state at rest.
    pub const OFF: Self = Self { light: Rail::Off, firm: Rail::Off };
}

/// Drives and reads the socket's positions.
///
/// Masks over positions are turned into a board's own port words once, by the `prepare` methods;
/// [`apply`](Self::apply) and [`sample`](Self::sample) then only copy words. A prepared value is
/// absolute: it says what every position does, not what changes.
pub trait Socket {
    /// Port words that set the driver of every position.
    type Drive: Clone;
    /// Port words that a sample is compared with.
    type Compare: Clone;
    /// Port words as read from all positions at one moment.
    type Sample: Copy;

    /// The words that drive `driven`, those of them in `high` to the high level and the rest low,
    /// and release every other position. Touches no pin.
    fn prepare_drive(&self, driven: Positions, high: Positions) -> Self::Drive;

    /// The words that compare the positions `compared` with the levels `high`. Touches no pin.
    fn prepare_compare(&self, compared: Positions, high: Positions) -> Self::Compare;

    /// Sets every driver. On return the drivers are as prepared; while it runs, positions may
    /// change port by port, in any order.
    fn apply(&mut self, drive: &Self::Drive);

    /// Reads every position. Changes nothing.
    fn sample(&mut self) -> Self::Sample;

    /// The compared positions at which the sample differs; empty where all agree.
    fn differing(&self, sample: &Self::Sample, compare: &Self::Compare) -> Positions;

    /// Whether the sample agrees; the cheap form of [`differing`](Self::differing).
    fn agrees(&self, sample: &Self::Sample, compare: &Self::Compare) -> bool {
        self.differing(sample, compare).is_empty()
    }

    /// The positions at which the sample is high.
    fn high(&self, sample: &Self::Sample) -> Positions;

    /// Sets both keeper rails. Drivers are untouched.
    fn keep(&mut self, keepers: Keepers);

    /// Releases every position and turns both keeper rails off. Cannot fail; used on every way
    /// into the safe state.
    fn release(&mut self);
}
