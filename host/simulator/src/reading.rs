//! What positions show once they have settled, and what the controller reads of them.

use crate::SimulatedSocket;
use crate::random::coin;

impl SimulatedSocket {
    /// Lets a node show where it rests.
    pub(crate) fn publish(&mut self, node: usize) {
        let state = &mut self.nodes[node];
        state.shown = state.volts;
        self.unsettled &= !(1 << node);
        let positions = self.wiring.nodes[node].positions;
        let (low, high) = (self.fixture.low_volts, self.fixture.high_volts);
        let is_high = state.shown > high;
        let doubtful = !is_high && state.shown >= low;
        self.visible_high = self.visible_high & !positions | if is_high { positions } else { 0 };
        self.visible_doubtful =
            self.visible_doubtful & !positions | if doubtful { positions } else { 0 };
    }

    /// Lets everything show whatever it will come to, at once.
    pub(crate) fn settle_at_once(&mut self, positions: u64) {
        let mut nodes = self.nodes_of(positions);
        while nodes != 0 {
            let node = nodes.trailing_zeros() as usize;
            nodes &= nodes - 1;
            self.nodes[node].due = self.now;
            self.publish(node);
        }
    }

    /// What shows at the controller's pins, and what of it is doubtful. A driven one stands
    /// between the driver's own resistance and the series resistor, so that a position which does
    /// not follow its driver shows there in part only.
    fn before_the_resistors(&self) -> (u64, u64) {
        let (mut levels, mut doubtful) = (self.visible_high, self.visible_doubtful);
        let mut differing = self.driven & (levels ^ self.high | doubtful);
        while differing != 0 {
            let position = differing.trailing_zeros();
            differing &= differing - 1;
            let bit = 1 << position;
            let node = &self.nodes[usize::from(self.wiring.of_position[position as usize])];
            let volts = self.fixture.before_resistor(node.shown, self.high & bit != 0);
            levels = levels & !bit | if volts > self.fixture.high_volts { bit } else { 0 };
            let unclear = volts >= self.fixture.low_volts && volts <= self.fixture.high_volts;
            doubtful = doubtful & !bit | if unclear { bit } else { 0 };
        }
        (levels, doubtful)
    }

    /// The levels that the controller reads for all positions, bit 0 is position 1, and which of
    /// them are doubtful. A doubtful level is decided by the seed, the position and the number of
    /// the sample.
    pub(crate) fn read_levels(&mut self) -> (u64, u64) {
        let mut waiting = self.unsettled;
        while waiting != 0 {
            let node = waiting.trailing_zeros() as usize;
            waiting &= waiting - 1;
            if self.nodes[node].due <= self.now {
                self.publish(node);
            }
        }
        self.counters.samples += 1;
        let (mut levels, mut doubtful) = self.before_the_resistors();
        while doubtful != 0 {
            let position = doubtful.trailing_zeros();
            doubtful &= doubtful - 1;
            if coin(self.seed, u64::from(position), self.counters.samples) {
                levels |= 1 << position;
            }
        }
        (levels, self.visible_doubtful)
    }
}
