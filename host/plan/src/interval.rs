//! Exact binomial intervals (Clopper and Pearson, "The use of confidence or fiducial limits
//! illustrated in the case of the binomial", Biometrika 26, 1934).

use crate::{Share, Tally};
use statrs::function::beta::beta_reg;

/// A closed interval of shares, from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The lower end.
    pub lower: f64,
    /// The upper end.
    pub upper: f64,
}

/// The share of the whole that a count stands for, with at least this confidence. What the
/// confidence leaves is split evenly between both ends.
///
/// It takes the sample as drawn from an endless supply, which is on the safe side for a bag.
pub fn yield_interval(count: Tally, confidence: Share) -> Interval {
    let tail = confidence.rest().fraction() / 2.0;
    Interval { lower: lower(count, tail), upper: upper(count, tail) }
}

/// The share that the whole has at least, with this confidence, all the rest of it below.
pub fn yield_at_least(count: Tally, confidence: Share) -> f64 {
    lower(count, confidence.rest().fraction())
}

/// The largest share under which finding at least so many has no more than probability `tail`.
fn lower(count: Tally, tail: f64) -> f64 {
    let (found, tested) = (count.found() as f64, count.tested() as f64);
    if count.found() == 0 {
        0.0
    } else if count.found() == count.tested() {
        (tail.ln() / tested).exp()
    } else {
        // P(X >= found) = I_p(found, tested - found + 1), rising with p.
        bisect(|share| beta_reg(found, tested - found + 1.0, share) > tail)
    }
}

/// The smallest share under which finding no more than so many has no more than that probability.
pub(crate) fn upper(count: Tally, tail: f64) -> f64 {
    let (found, tested) = (count.found() as f64, count.tested() as f64);
    if count.found() == count.tested() {
        1.0
    } else if count.found() == 0 {
        -(tail.ln() / tested).exp_m1()
    } else {
        // P(X <= found) = I_{1-p}(tested - found, found + 1), falling with p.
        bisect(|share| beta_reg(tested - found, found + 1.0, 1.0 - share) < tail)
    }
}

/// Where a condition that is false at 0 and true at 1 changes.
fn bisect(beyond: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    loop {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            return middle;
        }
        if beyond(middle) { high = middle } else { low = middle }
    }
}
