//! The button, whose contacts bounce.

use dipsift_pins::Nanoseconds;

/// How long a level must last to count. Contacts bounce for some milliseconds (common practice).
const STEADY: Nanoseconds = Nanoseconds::from_millis(20);

/// What is known of the button. It starts as released.
#[derive(Clone, Copy, Debug, Default)]
pub struct Button {
    level: bool,
    since: Nanoseconds,
    pressed: bool,
}

impl Button {
    /// Takes the level, high when pressed, as it is now. Whether this is where a press begins: once
    /// for each.
    pub fn look(&mut self, high: bool, now: Nanoseconds) -> bool {
        if high != self.level {
            (self.level, self.since) = (high, now);
        }
        if now.since(self.since) < STEADY || self.pressed == high {
            return false;
        }
        self.pressed = high;
        high
    }

    /// The press that is on has acted already: it begins nothing else.
    pub const fn spend(&mut self) {
        self.pressed = true;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plays levels, each for so many milliseconds, and gives when a press began.
    fn play(button: &mut Button, levels: &[(bool, u64)]) -> std::vec::Vec<u64> {
        let mut begun = std::vec::Vec::new();
        let mut now = 0;
        for &(high, ms) in levels {
            for _ in 0..ms {
                now += 1;
                if button.look(high, Nanoseconds::from_millis(now)) {
                    begun.push(now);
                }
            }
        }
        begun
    }

    #[test]
    fn a_press_begins_once_however_it_bounces() {
        let levels = [
            (false, 50),
            (true, 3),
            (false, 2),
            (true, 4),
            (false, 1),
            (true, 500),
            (false, 2),
            (true, 3),
            (false, 100),
            (true, 100),
        ];
        assert_eq!(play(&mut Button::default(), &levels), [81, 686]);
    }

    #[test]
    fn a_touch_is_none() {
        assert!(play(&mut Button::default(), &[(true, 19), (false, 100)]).is_empty());
    }

    #[test]
    fn a_spent_press_begins_nothing_and_the_next_one_does() {
        let mut button = Button::default();
        button.look(true, Nanoseconds::from_millis(1));
        button.spend();
        assert_eq!(play(&mut button, &[(true, 300), (false, 60), (true, 60)]), [381]);
    }
}
