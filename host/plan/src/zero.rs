//! Plans that accept on no failure, for chips from an endless supply.

use crate::interval::upper;
use crate::{PlanError, Share, Tally};
use statrs::function::beta::beta_reg;

/// A ratio that should be whole may come out a little above; a plan is not one chip longer for
/// the last digit of a logarithm.
const ROUNDING: f64 = 1e-9;

/// How many chips without a failure say that at most this share is bad, with this confidence:
/// the smallest n with (1 - bad)^n <= 1 - confidence.
pub fn zero_acceptance(bad: Share, confidence: Share) -> u64 {
    let exact = confidence.rest().fraction().ln() / (-bad.fraction()).ln_1p();
    (exact - ROUNDING).ceil().max(1.0) as u64
}

/// The share of bad chips that is not exceeded, with this confidence, after so many chips
/// without a failure; close to 3/n for 95 %. 1 where none was tested.
pub fn bad_at_most_after_none(tested: u64, confidence: Share) -> f64 {
    Tally::new(0, tested).map_or(1.0, |count| upper(count, confidence.rest().fraction()))
}

/// The probability that a sample holds no more than `accept` bad chips of a supply with this
/// share of bad ones.
pub fn acceptance(sample: u64, accept: u64, bad: Share) -> Result<f64, PlanError> {
    let count = Tally::new(accept.min(sample), sample)?;
    if count.found() == sample {
        return Ok(1.0);
    }
    let (accept, sample) = (accept as f64, sample as f64);
    Ok(beta_reg(sample - accept, accept + 1.0, bad.rest().fraction()))
}
