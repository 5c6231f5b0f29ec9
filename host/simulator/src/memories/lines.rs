//! Address and data lines inside the chip.

use super::fault::Wired;

/// What becomes of levels on their way inside.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lines {
    stuck: u32,
    stuck_high: u32,
    shorts: Vec<(u32, Wired)>,
}

impl Lines {
    pub(crate) fn stick(&mut self, line: u8, high: bool) {
        self.stuck |= 1 << line;
        self.stuck_high |= u32::from(high) << line;
    }

    pub(crate) fn short(&mut self, line: u8, other: u8, wired: Wired) {
        self.shorts.push((1 << line | 1 << other, wired));
    }

    pub(crate) fn through(&self, levels: u32) -> u32 {
        let mut levels = levels & !self.stuck | self.stuck_high;
        for &(both, wired) in &self.shorts {
            let high = match wired {
                Wired::And => levels & both == both,
                Wired::Or => levels & both != 0,
            };
            levels = if high { levels | both } else { levels & !both };
        }
        levels
    }
}
