//! Where numbers are claimed to lie, and what is said of that.

use std::fmt;

use serde::{Deserialize, Serialize, Serializer};
use statrs::distribution::{ContinuousCDF, Normal};
use tallyhouse_words::Outcome;

use crate::estimate::Law;
use crate::share::log_odds;
use crate::{Estimate, StatsError};

/// The probability with which as much data as [`Planned`](crate::Planned) says decides a claim.
pub const POWER: f64 = 0.8;

/// What is known of a claim.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Decision {
    /// The data put the number on the claimed side of the threshold.
    Supported,
    /// The data put the number on the other side.
    Refuted,
    /// The data leave it open.
    Undecided,
    /// It depends on how one counts: the data put the number on the claimed side in one way, and on the
    /// other side in another.
    Depends,
    /// It follows from definitions that the claim is true, or that it is false; no data are needed.
    Certain(bool),
}

impl From<Decision> for Outcome {
    fn from(decision: Decision) -> Self {
        match decision {
            Decision::Supported => Self::Supported,
            Decision::Refuted => Self::Refuted,
            Decision::Undecided => Self::Undecided,
            Decision::Depends => Self::Depends,
            Decision::Certain(true) => Self::CertainlyTrue,
            Decision::Certain(false) => Self::CertainlyFalse,
        }
    }
}

impl fmt::Display for Decision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&Outcome::from(*self).word())
    }
}

impl Serialize for Decision {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Outcome::from(*self).serialize(serializer)
    }
}

/// Where a claim says that a number lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Threshold {
    /// Below this.
    Below(f64),
    /// Above this.
    Above(f64),
    /// Between these.
    Within([f64; 2]),
}

impl Threshold {
    /// Returns the numbers at which the answer changes.
    #[must_use]
    pub fn bounds(&self) -> &[f64] {
        match self {
            Self::Below(bound) | Self::Above(bound) => std::slice::from_ref(bound),
            Self::Within(band) => band,
        }
    }

    /// Tests if a number lies where the claim says.
    #[must_use]
    pub fn holds(self, value: f64) -> bool {
        match self {
            Self::Below(bound) => value < bound,
            Self::Above(bound) => bound < value,
            Self::Within([low, high]) => low < value && value < high,
        }
    }

    /// Answers a claim about a number that is known to lie between two others, these included;
    /// `None` if it may lie on either side.
    #[must_use]
    pub fn holds_between(self, least: f64, most: f64) -> Option<bool> {
        let never = match self {
            Self::Below(bound) => bound <= least,
            Self::Above(bound) => most <= bound,
            Self::Within([low, high]) => most <= low || high <= least,
        };
        match self.holds(least) && self.holds(most) {
            true => Some(true),
            false => never.then_some(false),
        }
    }
}

impl fmt::Display for Threshold {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Below(bound) => format!("below {bound}"),
            Self::Above(bound) => format!("above {bound}"),
            Self::Within([low, high]) => format!("from {low} to {high}"),
        })
    }
}

/// Returns the two-sided p-value: twice the smaller tail beyond the threshold. Inside a band both
/// ends must be cleared at once, so the larger of their tails counts.
pub(crate) fn p_value(estimate: &Estimate, threshold: Threshold) -> Result<f64, StatsError> {
    match threshold {
        Threshold::Below(bound) | Threshold::Above(bound) => estimate.p_value(bound),
        Threshold::Within([low, high]) => {
            let tail = if threshold.holds(estimate.value) {
                estimate.p_value_above(low)?.max(estimate.p_value_below(high)?)
            } else {
                estimate.p_value_below(low)?.min(estimate.p_value_above(high)?)
            };
            Ok((2.0 * tail).min(1.0))
        }
    }
}

/// Returns how many times as much data decide at this two-sided error rate, if the value holds, but
/// for this risk of failing. Inside a band half of the risk goes to either end.
pub(crate) fn times_needed(
    estimate: &Estimate,
    threshold: Threshold,
    error_rate: f64,
    risk: f64,
) -> Option<f64> {
    let value = estimate.value;
    let needed = |bound: f64, risk: f64| times_to_clear(estimate, bound, error_rate, risk);
    let times = match threshold {
        Threshold::Below(bound) | Threshold::Above(bound) => needed(bound, risk),
        Threshold::Within([low, high]) if threshold.holds(value) => {
            needed(low, risk / 2.0).max(needed(high, risk / 2.0))
        }
        Threshold::Within([low, _]) if value <= low => needed(low, risk),
        Threshold::Within([_, high]) => needed(high, risk),
    };
    times.is_finite().then_some(times)
}

/// Infinite if the value is the bound, NaN if the spread is not known.
fn times_to_clear(estimate: &Estimate, bound: f64, error_rate: f64, risk: f64) -> f64 {
    let [sure, powerful] = [error_rate / 2.0, risk].map(upper_z);
    let distance = (estimate.value - bound).abs();
    let by_spread = |error: f64, distance: f64| ((sure + powerful) * error / distance).powi(2);
    match estimate.law {
        // Without a hit, or without a miss, the exact test has a closed form.
        Law::Binomial(trials) if trials.hits == 0.0 => {
            (error_rate / 2.0).ln() / (-bound).ln_1p() / trials.count()
        }
        Law::Binomial(trials) if trials.misses == 0.0 => {
            (error_rate / 2.0).ln() / bound.ln() / trials.count()
        }
        // The test goes by the spread at the bound, what happens by that at the value.
        Law::Binomial(trials) => {
            let spread = |share: f64| (share * (1.0 - share)).sqrt();
            let reach = sure * spread(bound) + powerful * spread(estimate.value);
            (reach / distance).powi(2) / trials.count()
        }
        Law::Student(spread) => by_spread(spread.standard_error, distance),
        Law::LogStudent(spread) => {
            by_spread(spread.standard_error, (estimate.value / bound).ln().abs())
        }
        Law::OddsStudent(spread) => {
            by_spread(spread.standard_error, (log_odds(estimate.value) - log_odds(bound)).abs())
        }
        Law::FewHits(few) => few.times(estimate.value, bound, [sure, powerful], error_rate / 2.0),
        Law::Unknown => f64::NAN,
    }
}

/// The standard normal quantile with this probability above it.
fn upper_z(tail: f64) -> f64 {
    -Normal::standard().inverse_cdf(tail)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn certain_answers_come_from_what_is_possible() {
        let cases = [
            (Threshold::Below(1.0), [Some(true), None, Some(false)]),
            (Threshold::Above(1.0), [Some(false), None, Some(true)]),
            (Threshold::Within([0.9, 1.3]), [None, Some(true), Some(false)]),
        ];
        for (threshold, expected) in cases {
            let found =
                [(0.2, 0.99), (0.95, 1.25), (1.4, 2.0)].map(|(a, b)| threshold.holds_between(a, b));
            assert_eq!(found[0], if threshold.bounds().len() == 2 { None } else { expected[0] });
            assert_eq!(found[1..], expected[1..], "{threshold}");
        }
        // The bound itself is on neither side of "below" and "above".
        assert_eq!(Threshold::Below(1.0).holds_between(1.0, 1.0), Some(false));
        assert_eq!(Threshold::Above(1.0).holds_between(0.5, 1.0), Some(false));
        assert_eq!(Threshold::Within([1.0, 2.0]).holds_between(0.5, 1.0), Some(false));
        assert_eq!(Threshold::Within([1.0, 2.0]).holds_between(2.0, 3.0), Some(false));
    }

    #[test]
    fn decisions_have_a_name_for_files_and_words_for_people() {
        assert_eq!(Decision::Depends.to_string(), "depends");
        assert_eq!(Outcome::from(Decision::Certain(true)).name(), "certainly-true");
        assert_eq!(Decision::Certain(false).to_string(), "certainly false");
        assert_eq!(format!("{:<10}|", Decision::Refuted), "refuted   |");
        let [below, above, within] =
            [Threshold::Below(0.5), Threshold::Above(0.1), Threshold::Within([0.8, 1.25])];
        assert_eq!(
            [below, above, within].map(|threshold| threshold.to_string()),
            ["below 0.5", "above 0.1", "from 0.8 to 1.25"]
        );
    }
}
