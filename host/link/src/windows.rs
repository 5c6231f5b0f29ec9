//! A program, cut into windows that fit the station.

use dipsift_wire::{Capabilities, Header, MAX_CAPTURE, MAX_CODE, Refusal, Step, Window, push_step};
use heapless::Vec as Bounded;

/// The longest waiting time of a window. Half of what the station would take leaves time for what
/// the steps themselves take.
const WINDOW_NS: u64 = 100_000_000;

/// A whole program as windows that fit a station.
///
/// # Errors
///
/// [`Refusal::TooLarge`] where a step alone needs more memory than the station has.
pub fn windows(
    header: &Header,
    steps: &[Step],
    capabilities: &Capabilities,
) -> Result<Vec<Window>, Refusal> {
    let mut cutter = Cutter::new(header, steps, capabilities);
    let mut windows = Vec::new();
    loop {
        let window = cutter.cut()?.window;
        let last = window.last;
        windows.push(window);
        if last {
            return Ok(windows);
        }
    }
}

/// Cuts a program into windows, one at a time, and remembers whose steps are in them.
///
/// Pulse trains and waits that are too long for a window become several steps; every other step
/// stays whole. There is at least one window.
#[derive(Debug)]
pub(crate) struct Cutter<'a> {
    header: &'a Header,
    steps: &'a [Step],
    most_bytes: usize,
    most_steps: usize,
    /// The next step to be sent.
    next: usize,
    /// How much of it has been sent already: pulses or nanoseconds.
    done: u32,
    index: u32,
    /// The caller's step number of each step sent, ascending.
    origin: Vec<u32>,
}

/// One window.
#[derive(Debug)]
pub(crate) struct Cut {
    pub(crate) window: Window,
    /// How long the station waits in it.
    pub(crate) wait_ns: u64,
    /// How many records come back.
    pub(crate) records: usize,
    record_bytes: usize,
    steps: usize,
}

impl<'a> Cutter<'a> {
    pub(crate) fn new(header: &'a Header, steps: &'a [Step], capabilities: &Capabilities) -> Self {
        Self {
            header,
            steps,
            most_bytes: usize::from(capabilities.window_bytes).min(MAX_CODE),
            most_steps: usize::from(capabilities.window_steps),
            next: 0,
            done: 0,
            index: 0,
            origin: Vec::with_capacity(steps.len()),
        }
    }

    /// The next window.
    ///
    /// # Errors
    ///
    /// [`Refusal::TooLarge`] where a step alone needs more memory than the station has.
    pub(crate) fn cut(&mut self) -> Result<Cut, Refusal> {
        let mut cut = Cut {
            window: Window { index: self.index, last: false, code: Bounded::new() },
            wait_ns: 0,
            records: 0,
            record_bytes: 0,
            steps: 0,
        };
        self.index += 1;
        while let Some((step, amount)) = self.piece() {
            if !self.put(&mut cut, &step) {
                if cut.steps == 0 {
                    return Err(Refusal::TooLarge);
                }
                return Ok(cut);
            }
            self.origin.push(self.next as u32);
            self.done += amount;
            if self.piece_left() == 0 {
                self.next += 1;
                self.done = 0;
            }
        }
        cut.window.last = true;
        Ok(cut)
    }

    /// How much of a pulse train or wait is left.
    fn piece_left(&self) -> u32 {
        match self.steps.get(self.next) {
            Some(Step::Pulse { times, .. }) => times - self.done,
            Some(Step::Wait { ns }) => ns - self.done,
            _ => 0,
        }
    }

    /// The next step or piece of one, and how much it is of a train or wait.
    fn piece(&self) -> Option<(Step, u32)> {
        let left = self.piece_left();
        Some(match *self.steps.get(self.next)? {
            Step::Pulse { pin, .. } => {
                let one = 2 * u64::from(self.header.pulse_level_ns());
                let most = WINDOW_NS.saturating_sub(u64::from(self.header.settle_ns)) / one;
                let times = left.min(u32::try_from(most).unwrap_or(u32::MAX).max(1));
                (Step::Pulse { pin, times }, times)
            }
            Step::Wait { .. } => {
                let ns = left.min(WINDOW_NS as u32);
                (Step::Wait { ns }, ns)
            }
            step => (step, 0),
        })
    }

    /// Adds a step where it fits.
    fn put(&self, cut: &mut Cut, step: &Step) -> bool {
        let wait_ns = cut.wait_ns.saturating_add(self.header.wait_ns(step));
        let record_bytes = cut.record_bytes + self.header.record_bytes(step);
        // A single step may wait for all that the station allows; the station itself judges that.
        let long = wait_ns > WINDOW_NS && cut.steps > 0;
        if long || record_bytes > MAX_CAPTURE || cut.steps >= self.most_steps {
            return false;
        }
        let before = cut.window.code.len();
        if push_step(step, &mut cut.window.code).is_err() {
            return false;
        }
        if cut.window.code.len() > self.most_bytes {
            cut.window.code.truncate(before);
            return false;
        }
        cut.wait_ns = wait_ns;
        cut.records += self.header.records(step);
        cut.record_bytes = record_bytes;
        cut.steps += 1;
        true
    }

    /// The caller's number of a step that the station counted from 0.
    pub(crate) fn caller(&self, sent: u32) -> Option<u32> {
        self.origin.get(sent as usize).copied()
    }

    /// The caller's number of a step in the window that was cut last.
    pub(crate) fn caller_in(&self, cut: &Cut, index: u16) -> Option<u32> {
        let before = self.origin.len() - cut.steps;
        self.origin.get(before + usize::from(index)).copied()
    }

    /// How many of the caller's steps have run when the station has run this many. One that was
    /// cut counts once its last piece has run.
    pub(crate) fn complete(&self, ran: u32) -> u32 {
        let Some(last) = (ran as usize).checked_sub(1).and_then(|at| self.origin.get(at)) else {
            return 0;
        };
        let cut = self.origin.get(ran as usize) == Some(last)
            || (ran as usize == self.origin.len() && self.next as u32 == *last);
        if cut { *last } else { last + 1 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dipsift_wire::{Kind, MAX_CAPTURE, Pins, Steps};

    fn header(settle_ns: u32) -> Header {
        Header {
            kind: Kind::Vector,
            pins: 14,
            shift: 0,
            power: None,
            settle_ns,
            keeper_ns: 1_000,
            capture: false,
        }
    }

    fn capabilities(window_bytes: u16, window_steps: u16) -> Capabilities {
        Capabilities {
            feed: 0,
            ground: 0,
            v3_3: true,
            v5: true,
            light_keeper_ohms: 0,
            firm_keeper_ohms: 0,
            series_ohms: 0,
            drive_mv: 0,
            current_max_ua: 0,
            current_step_ua: 0,
            window_bytes,
            window_steps,
            step_ns: 0,
            sample_ns: 0,
            kinds: 1,
        }
    }

    fn all(cutter: &mut Cutter<'_>) -> Vec<Cut> {
        let mut cuts = Vec::new();
        loop {
            let cut = cutter.cut().unwrap();
            let last = cut.window.last;
            cuts.push(cut);
            if last {
                return cuts;
            }
        }
    }

    fn decoded(cuts: &[Cut]) -> Vec<Step> {
        cuts.iter().flat_map(|cut| Steps::new(&cut.window.code)).map(Result::unwrap).collect()
    }

    #[test]
    fn a_long_train_is_cut_and_keeps_its_number() {
        let steps = [
            Step::Drive { pins: Pins(1), high: Pins(0) },
            Step::Pulse { pin: 1, times: 1_000_000 },
            Step::Sample,
        ];
        let header = header(1_000);
        let mut cutter = Cutter::new(&header, &steps, &capabilities(1024, 256));
        let cuts = all(&mut cutter);
        assert!(cuts.iter().all(|cut| cut.wait_ns <= 100_000_000));
        let pulses: u64 = decoded(&cuts)
            .iter()
            .map(|step| match step {
                Step::Pulse { pin: 1, times } => u64::from(*times),
                _ => 0,
            })
            .sum();
        assert_eq!(pulses, 1_000_000);
        let sent = decoded(&cuts).len() as u32;
        assert_eq!(cutter.caller(0), Some(0));
        assert!((1..sent - 1).all(|step| cutter.caller(step) == Some(1)));
        assert_eq!(cutter.caller(sent - 1), Some(2));
        assert_eq!(cutter.complete(0), 0);
        assert_eq!(cutter.complete(1), 1);
        assert_eq!(cutter.complete(2), 1);
        assert_eq!(cutter.complete(sent - 1), 2);
        assert_eq!(cutter.complete(sent), 3);
    }

    #[test]
    fn a_program_of_no_steps_is_one_window() {
        let header = header(1_000);
        let mut cutter = Cutter::new(&header, &[], &capabilities(1024, 256));
        let cuts = all(&mut cutter);
        assert_eq!(cuts.len(), 1);
        assert!(cuts[0].window.code.is_empty());
    }

    #[test]
    fn every_limit_cuts() {
        let drive = Step::Drive { pins: Pins(1), high: Pins(1) };
        let header = Header { capture: true, ..header(1_000) };
        let cases: [(&[Step], Capabilities, usize); 4] = [
            (&[drive; 10], capabilities(30, 256), 1), // 3 bytes each
            (&[drive; 11], capabilities(30, 256), 2),
            (&[drive; 11], capabilities(1024, 5), 3),
            (&[Step::Wait { ns: 60_000_000 }; 3], capabilities(1024, 256), 3),
        ];
        for (steps, capabilities, windows) in cases {
            let mut cutter = Cutter::new(&header, steps, &capabilities);
            let cuts = all(&mut cutter);
            assert_eq!(cuts.len(), windows);
            assert_eq!(decoded(&cuts), steps);
        }
        // 14 pins are two bytes and the tag.
        let samples = vec![Step::Sample; MAX_CAPTURE / 3 + 1];
        let large = capabilities(1024, 1000);
        assert_eq!(all(&mut Cutter::new(&header, &samples, &large)).len(), 2);
    }

    #[test]
    fn zero_waits_and_trains_are_sent_once() {
        let steps = [Step::Wait { ns: 0 }, Step::Pulse { pin: 1, times: 0 }, Step::Sample];
        let header = header(1_000);
        let mut cutter = Cutter::new(&header, &steps, &capabilities(1024, 256));
        assert_eq!(decoded(&all(&mut cutter)), steps);
    }

    #[test]
    fn a_station_without_memory_is_no_endless_loop() {
        let header = header(1_000);
        for capabilities in [capabilities(0, 256), capabilities(1024, 0)] {
            let mut cutter = Cutter::new(&header, &[Step::Sample], &capabilities);
            assert_eq!(cutter.cut().unwrap_err(), Refusal::TooLarge);
        }
    }
}
