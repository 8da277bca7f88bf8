//! Estimates: a value, how sure it is, and how that was found out.

use serde::{Deserialize, Serialize};
use tallyhouse_words::Measured;

use crate::few_hits::FewHits;
use crate::share::{Trials, log_odds};
use crate::spread::Spread;
use crate::{Interval, Level, Method, RARE_BELOW, Share, StatsError};

/// A value, an interval around it, and how the interval was made.
///
/// ```
/// use tallyhouse_stats::{Level, Method, Share};
///
/// let none = Share::new(0, 1000)?.estimate(Level::default());
/// assert_eq!((none.value, none.method), (0.0, Method::ClopperPearson));
/// assert!((none.interval.high - 0.0037).abs() < 0.0001);
/// // How surprising so few hits would be, were the share one in a hundred.
/// assert!(none.p_value_below(0.01)? < 0.0001);
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Estimate {
    /// The point estimate.
    pub value: f64,
    /// The interval. An end that the data don't tell is infinite; so is the value where nothing was
    /// found to divide by.
    pub interval: Interval,
    /// How often such intervals hold the truth.
    pub level: Level,
    /// How the interval was made.
    pub method: Method,
    /// What the value is estimated by, for its p-values.
    #[serde(skip)]
    pub(crate) law: Law,
}

/// The law that a p-value is taken from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum Law {
    /// The value is a share of independent trials, or of as many as dependent ones are worth.
    Binomial(Trials),
    /// The value varies by Student's t.
    Student(Spread),
    /// The logarithm of the value does.
    LogStudent(Spread),
    /// The logarithm of the odds of the value does, which is a share.
    OddsStudent(Spread),
    /// Few hits set a limit on one side at most.
    FewHits(FewHits),
    /// None is known.
    #[default]
    Unknown,
}

impl Estimate {
    /// Takes an answer that the data are too few or too much alike to give as none.
    ///
    /// # Errors
    /// All others.
    pub fn if_known(answer: Result<Self, StatsError>) -> Result<Option<Self>, StatsError> {
        StatsError::if_known(answer)
    }

    /// Returns the standard error: of the value, of its logarithm for costs and their ratios, of the
    /// logarithm of the odds for shares by weight. None for
    /// shares of independent trials and their differences, whose intervals come from exact tails or
    /// from the score; there it says little.
    #[must_use]
    pub const fn standard_error(&self) -> Option<f64> {
        match self.law {
            Law::Student(spread) | Law::LogStudent(spread) | Law::OddsStudent(spread) => {
                Some(spread.standard_error)
            }
            Law::Binomial(_) | Law::FewHits(_) | Law::Unknown => None,
        }
    }

    /// Returns the one-sided p-value against "at least the bound": small values support "below the
    /// bound". Exact binomial tails for shares of independent trials, else Student's t.
    ///
    /// # Errors
    /// If the bound is not finite or, for a share of independent trials, outside 0 to 1; and if the
    /// method comes without a test.
    pub fn p_value_below(&self, bound: f64) -> Result<f64, StatsError> {
        match self.law {
            Law::Binomial(trials) => trials.p_value_below(bound),
            Law::FewHits(few) => Ok(few.tail_below(bound)),
            _ => self.upper_tail(bound, 1.0),
        }
    }

    /// Returns the one-sided p-value against "at most the bound": small values support "above the
    /// bound".
    ///
    /// # Errors
    /// As [`Estimate::p_value_below`].
    pub fn p_value_above(&self, bound: f64) -> Result<f64, StatsError> {
        match self.law {
            Law::Binomial(trials) => trials.p_value_above(bound),
            Law::FewHits(few) => Ok(few.tail_above(bound)),
            _ => self.upper_tail(bound, -1.0),
        }
    }

    /// Returns the two-sided p-value against "equal to the bound": twice the smaller one-sided
    /// p-value, at most 1.
    ///
    /// # Errors
    /// As [`Estimate::p_value_below`].
    pub fn p_value(&self, bound: f64) -> Result<f64, StatsError> {
        let tail = self.p_value_below(bound)?.min(self.p_value_above(bound)?);
        Ok((2.0 * tail).min(1.0))
    }

    /// The probability beyond the distance from the value to the bound, in this direction.
    fn upper_tail(&self, bound: f64, direction: f64) -> Result<f64, StatsError> {
        if !bound.is_finite() {
            return Err(StatsError::Bound(bound));
        }
        match self.law {
            Law::Student(spread) => Ok(spread.upper_tail(direction * (bound - self.value))),
            // A bound at or below 0 is below every ratio: its logarithm counts as −∞.
            Law::LogStudent(spread) => {
                let distance = bound.max(0.0).ln() - self.value.ln();
                Ok(spread.upper_tail(direction * distance))
            }
            Law::OddsStudent(spread) => {
                let distance = log_odds(bound.clamp(0.0, 1.0)) - log_odds(self.value);
                Ok(spread.upper_tail(direction * distance))
            }
            Law::Binomial(_) | Law::FewHits(_) | Law::Unknown => {
                Err(StatsError::NoTest(self.method))
            }
        }
    }
}

impl Estimate {
    /// Returns how the logarithm of the value varies, if Student's t says so.
    pub(crate) const fn spread_of_log(&self) -> Option<Spread> {
        match self.law {
            Law::LogStudent(spread) => Some(spread),
            _ => None,
        }
    }

    /// Returns the same in a unit of so many old ones.
    #[must_use]
    pub fn in_units_of(self, unit: f64) -> Self {
        let Interval { low, high } = self.interval;
        let law = match self.law {
            Law::Student(spread) => {
                Law::Student(Spread { standard_error: spread.standard_error / unit, ..spread })
            }
            Law::FewHits(few) => Law::FewHits(few.in_units_of(unit)),
            Law::LogStudent(spread) => Law::LogStudent(spread),
            Law::Binomial(_) | Law::OddsStudent(_) | Law::Unknown => Law::Unknown,
        };
        let interval = Interval { low: low / unit, high: high / unit };
        Self { value: self.value / unit, interval, law, ..self }
    }
}

impl Share {
    /// Returns the share with a two-sided interval: [`Share::clopper_pearson`] for fewer than
    /// [`RARE_BELOW`] hits or misses, [`Share::wilson`] otherwise.
    #[must_use]
    pub fn estimate(self, level: Level) -> Estimate {
        let (interval, method) = if self.hits.min(self.misses().hits) < RARE_BELOW {
            (self.clopper_pearson(level), Method::ClopperPearson)
        } else {
            (self.wilson(level), Method::Wilson)
        };
        Estimate { value: self.value(), interval, level, method, law: Law::Binomial(self.counts()) }
    }
}

impl From<Estimate> for Measured {
    /// Hands an estimate to the writer of text.
    fn from(estimate: Estimate) -> Self {
        let Interval { low, high } = estimate.interval;
        Self { value: estimate.value, low, high }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_method_without_a_test_is_named() {
        let counts = crate::PairedCounts::new(5, 3, 1, 9).unwrap();
        let error = counts.difference(Level::default()).p_value(0.0).unwrap_err().to_string();
        assert_eq!(error, "an estimate by this method (Newcombe, paired) has no p-value");
    }
}
