//! Current into a node: every element is a piecewise-linear branch.

/// Where a branch's far end is, so that the current it delivers can be charged to a rail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// The station.
    Station,
    /// The station's supply through a feed switch.
    Feed,
    /// The chip's supply rail.
    Vcc,
    /// The chip's ground rail.
    Gnd,
}

/// A voltage behind a resistance whose current is kept within limits; a diode is one that
/// conducts one way only. The current into the node never rises with the node's voltage, so a
/// node has exactly one solution.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Branch {
    volts: f64,
    ohms: f64,
    least_amps: f64,
    most_amps: f64,
    /// It sources only while the node is below this.
    until_volts: f64,
    pub(crate) end: End,
}

/// How sharply a branch with an upper bound stops: the slope of the last millivolts.
const STOP_OHMS: f64 = 10.0;

impl Branch {
    /// A voltage behind a resistance, both ways.
    pub(crate) const fn both(end: End, volts: f64, ohms: f64) -> Self {
        Self {
            volts,
            ohms,
            least_amps: f64::NEG_INFINITY,
            most_amps: f64::INFINITY,
            until_volts: f64::INFINITY,
            end,
        }
    }

    /// Only into the node.
    pub(crate) const fn source(end: End, volts: f64, ohms: f64) -> Self {
        let mut branch = Self::both(end, volts, ohms);
        branch.least_amps = 0.0;
        branch
    }

    /// Only out of the node.
    pub(crate) const fn sink(end: End, volts: f64, ohms: f64) -> Self {
        let mut branch = Self::both(end, volts, ohms);
        branch.most_amps = 0.0;
        branch
    }

    /// At most this current either way.
    pub(crate) fn limited(mut self, amps: f64) -> Self {
        self.least_amps = self.least_amps.max(-amps);
        self.most_amps = self.most_amps.min(amps);
        self
    }

    /// Sources only while the node is below a voltage.
    pub(crate) const fn until(mut self, volts: f64) -> Self {
        self.until_volts = volts;
        self
    }

    /// The current into a node at this voltage, and how it changes with the voltage.
    pub(crate) fn at(&self, volts: f64) -> (f64, f64) {
        let free = (self.volts - volts) / self.ohms;
        let (mut amps, mut slope) = if free < self.least_amps {
            (self.least_amps, 0.0)
        } else if free > self.most_amps {
            (self.most_amps, 0.0)
        } else {
            (free, -1.0 / self.ohms)
        };
        let stop = (self.until_volts - volts) / STOP_OHMS;
        if amps > 0.0 && stop < amps {
            (amps, slope) = if stop > 0.0 { (stop, -1.0 / STOP_OHMS) } else { (0.0, 0.0) };
        }
        (amps, slope)
    }
}

/// The current of several branches into a node, and its slope.
pub(crate) fn total(branches: &[Branch], volts: f64) -> (f64, f64) {
    branches.iter().fold((0.0, 0.0), |(amps, slope), branch| {
        let (more, steeper) = branch.at(volts);
        (amps + more, slope + steeper)
    })
}

/// When a node that moves shows its new level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shows {
    /// When it has come to rest, within e⁻⁵ of the way. Nothing is looked at before, but where a
    /// defect makes a chip slow.
    AtRest,
    /// When every level that decides has been passed, within e⁻¹·⁵ of the way: from 3.3 V down,
    /// 0.8 V is passed after 1.42 time constants, from 0 V up, 2.0 V after 0.93. For memories,
    /// whose access times are measured.
    WhenDecided,
}

/// How long a capacitance at the node takes from one voltage to its rest, in seconds: five or one
/// and a half time constants where the branches are linear.
pub(crate) fn settling_seconds(
    branches: &[Branch],
    from: f64,
    rest: f64,
    farads: f64,
    shows: Shows,
) -> f64 {
    // Half a time constant each.
    let steps = match shows {
        Shows::AtRest => 10,
        Shows::WhenDecided => 3,
    };
    let way = rest - from;
    let mut seconds = 0.0;
    let mut volts = from;
    let mut amps = total(branches, volts).0;
    for step in 1..=steps {
        let next = rest - way * (-0.5 * f64::from(step)).exp();
        let amps_there = total(branches, next).0;
        let (a, b) = ((amps / way).max(1e-15), (amps_there / way).max(1e-15));
        // The current is taken as linear in between.
        let mean = if (a - b).abs() < 1e-6 * a { a } else { (a - b) / (a / b).ln() };
        seconds += farads * (next - volts) / (way * mean);
        (volts, amps) = (next, amps_there);
    }
    seconds
}

/// Every voltage that can occur at a node.
const RANGE_VOLTS: (f64, f64) = (-3.0, 9.0);

/// The voltage at which the branches' currents cancel, searched from a guess: Newton steps, which
/// are exact once on the right piece, kept inside a shrinking bracket.
pub(crate) fn solve(branches: &[Branch], guess: f64) -> f64 {
    let (mut low, mut high) = RANGE_VOLTS;
    let mut volts = guess.clamp(low, high);
    for _ in 0..80 {
        let (amps, slope) = total(branches, volts);
        if amps.abs() < 1e-13 {
            break;
        }
        if amps > 0.0 {
            low = volts;
        } else {
            high = volts;
        }
        let step = volts - amps / slope;
        volts = if step > low && step < high { step } else { 0.5 * (low + high) };
        if high - low < 1e-9 {
            break;
        }
    }
    volts
}

/// A zero of a falling piecewise-linear function, searched from a guess as in [`solve`], with the
/// slope taken from a second look close by.
pub(crate) fn root(guess: f64, mut falling: impl FnMut(f64) -> f64) -> f64 {
    const STEP_VOLTS: f64 = 1e-4;
    let (mut low, mut high) = RANGE_VOLTS;
    let mut at = guess.clamp(low, high);
    for _ in 0..60 {
        let value = falling(at);
        if value.abs() < 1e-10 || high - low < 1e-7 {
            break;
        }
        let towards = if value > 0.0 { STEP_VOLTS } else { -STEP_VOLTS };
        if value > 0.0 {
            low = at;
        } else {
            high = at;
        }
        let slope = (falling(at + towards) - value) / towards;
        let step = at - value / slope;
        at = if step > low && step < high { step } else { 0.5 * (low + high) };
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_divider_divides() {
        let branches =
            [Branch::both(End::Station, 5.0, 1_000.0), Branch::both(End::Station, 0.0, 4_000.0)];
        assert!((solve(&branches, 0.0) - 4.0).abs() < 1e-9);
    }

    #[test]
    fn a_diode_conducts_one_way() {
        let keeper = Branch::both(End::Station, 3.3, 22_000.0);
        let to_low = [keeper, Branch::sink(End::Gnd, 0.6, 20.0)];
        let expected = 0.6 + (3.3 - 0.6) * 20.0 / 22_020.0;
        assert!((solve(&to_low, 3.0) - expected).abs() < 1e-9);
        let blocked = [keeper, Branch::source(End::Gnd, 0.6, 20.0)];
        assert!((solve(&blocked, 0.0) - 3.3).abs() < 1e-9);
    }

    #[test]
    fn a_limited_branch_is_a_current_source() {
        // 200 µA through 2.2 kΩ is 0.44 V, through 22 kΩ 4.4 V, limited by its own 3 V.
        let leak = Branch::source(End::Vcc, 5.0, 1_000.0).limited(200e-6);
        let firm = [leak, Branch::both(End::Station, 0.0, 2_200.0)];
        assert!((solve(&firm, 0.0) - 0.44).abs() < 1e-9);
        let light = [leak, Branch::both(End::Station, 0.0, 22_000.0)];
        assert!((solve(&light, 0.0) - 4.4).abs() < 1e-9);
    }

    #[test]
    fn settling_takes_five_time_constants() {
        let keeper = [Branch::both(End::Station, 3.3, 22_000.0)];
        let seconds = settling_seconds(&keeper, 0.0, 3.3, 60e-12, Shows::AtRest);
        assert!((seconds - 5.0 * 22_000.0 * 60e-12).abs() < 1e-9, "{seconds}");
        let seconds = settling_seconds(&keeper, 0.0, 3.3, 60e-12, Shows::WhenDecided);
        assert!((seconds - 1.5 * 22_000.0 * 60e-12).abs() < 1e-9, "{seconds}");
        // A constant current: C·U/I, less the last e⁻⁵ of the way.
        let leak = [Branch::source(End::Vcc, 3.3, 1.0).limited(100e-6)];
        let seconds = settling_seconds(&leak, 0.3, 3.3, 60e-12, Shows::AtRest);
        assert!((seconds - 60e-12 * 3.0 * 0.9933 / 100e-6).abs() < 1e-9, "{seconds}");
    }

    #[test]
    fn a_root_is_found_from_any_guess() {
        for guess in [-2.0, 0.0, 1.234, 6.0] {
            let zero = root(guess, |v| if v < 1.5 { 1.0 * (1.5 - v) } else { 1e-3 * (1.5 - v) });
            assert!((zero - 1.5).abs() < 1e-5, "{guess}: {zero}");
        }
    }
}
