//! Intervals and levels of confidence.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

use crate::StatsError;

/// A closed interval of real numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// The lower limit.
    pub low: f64,
    /// The upper limit.
    pub high: f64,
}

impl Interval {
    /// Tests if the value lies between the limits or on one of them.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Returns the distance of the limits.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.high - self.low
    }
}

/// A level of confidence, strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
pub struct Level(f64);

impl Level {
    /// 95 %.
    pub const P95: Self = Self(0.95);

    /// Checks a level.
    ///
    /// # Errors
    /// [`StatsError::Level`] outside 0 to 1, at either end, and for NaN.
    pub fn new(level: f64) -> Result<Self, StatsError> {
        if 0.0 < level && level < 1.0 { Ok(Self(level)) } else { Err(StatsError::Level(level)) }
    }

    /// Returns the level as a number.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }

    /// Returns 1 − level: how often an interval of this level may miss.
    #[must_use]
    pub fn error_rate(self) -> f64 {
        1.0 - self.0
    }

    /// The standard normal quantile that leaves half of the error rate above it.
    pub(crate) fn two_sided_z(self) -> f64 {
        upper_z(self.error_rate() / 2.0)
    }

    /// The standard normal quantile that leaves the whole error rate above it.
    pub(crate) fn one_sided_z(self) -> f64 {
        upper_z(self.error_rate())
    }
}

fn upper_z(tail: f64) -> f64 {
    -Normal::standard().inverse_cdf(tail)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::assert_close;

    /// Quantiles of the standard normal distribution, as in any table.
    #[test]
    fn normal_quantiles_agree_with_tables() {
        assert_close(Level::P95.two_sided_z(), 1.959_963_984_540_054, 1e-14);
        assert_close(Level::P95.one_sided_z(), 1.644_853_626_951_472_7, 1e-14);
        assert_close(Level::new(0.99).unwrap().two_sided_z(), 2.575_829_303_548_901, 1e-13);
    }

    #[test]
    fn levels_outside_the_open_interval_are_refused() {
        for level in [0.0, 1.0, -0.1, 1.1, f64::INFINITY] {
            assert_eq!(Level::new(level), Err(StatsError::Level(level)));
        }
        assert!(matches!(Level::new(f64::NAN), Err(StatsError::Level(_))));
    }
}
