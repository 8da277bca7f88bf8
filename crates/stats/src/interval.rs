//! Intervals and levels of confidence.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use crate::StatsError;

/// A closed interval of real numbers.
///
/// ```
/// use tallyhouse_stats::Interval;
///
/// let interval = Interval { low: 0.25, high: 0.5 };
/// assert!(interval.contains(0.25) && !interval.contains(0.6));
/// assert_eq!(interval.width(), 0.25);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
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

/// A level of confidence: a percentage from 50 to below 100, 95 unless told otherwise.
///
/// It is read and written as a percentage, so `0.95` is refused rather than taken for 0.95 %.
///
/// ```
/// use tallyhouse_stats::Level;
///
/// let level: Level = "99 %".parse()?;
/// assert_eq!((level.get(), level.to_string()), (0.99, "99 %".to_owned()));
/// assert_eq!(Level::default().to_string(), "95 %");
/// assert!("0.95".parse::<Level>().is_err());
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Level {
    percent: f64,
}

impl Default for Level {
    fn default() -> Self {
        Self { percent: 95.0 }
    }
}

impl Level {
    /// Checks a level in percent.
    ///
    /// # Errors
    /// [`StatsError::Level`] below 50, from 100 on, and for NaN.
    pub fn percent(percent: f64) -> Result<Self, StatsError> {
        if (50.0..100.0).contains(&percent) {
            Ok(Self { percent })
        } else {
            Err(StatsError::Level(percent.to_string()))
        }
    }

    /// Returns the level as a number between 0 and 1.
    #[must_use]
    pub fn get(self) -> f64 {
        self.percent / 100.0
    }

    /// Returns 1 − level: how often an interval of this level may miss.
    #[must_use]
    pub fn error_rate(self) -> f64 {
        1.0 - self.get()
    }

    /// The standard normal quantile that leaves half of the error rate above it.
    pub(crate) fn two_sided_z(self) -> f64 {
        -Normal::standard().inverse_cdf(self.error_rate() / 2.0)
    }
}

impl TryFrom<f64> for Level {
    type Error = StatsError;

    fn try_from(percent: f64) -> Result<Self, StatsError> {
        Self::percent(percent)
    }
}

impl From<Level> for f64 {
    fn from(level: Level) -> Self {
        level.percent
    }
}

impl FromStr for Level {
    type Err = StatsError;

    /// Reads a percentage with or without its sign: `95`, `99.5 %`.
    fn from_str(text: &str) -> Result<Self, StatsError> {
        let digits = text.trim().trim_end_matches('%').trim_end();
        let percent = digits.parse().map_err(|_| StatsError::Level(text.to_owned()))?;
        Self::percent(percent)
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} %", self.percent))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::assert_close;

    /// Quantiles of the standard normal distribution, as in any table.
    #[test]
    fn normal_quantiles_agree_with_tables() {
        assert_close(Level::default().two_sided_z(), 1.959_963_984_540_054, 1e-14);
        assert_close(Level::percent(99.0).unwrap().two_sided_z(), 2.575_829_303_548_901, 1e-13);
    }

    #[test]
    fn levels_that_are_none_are_refused() {
        for percent in [0.0, 0.95, 49.9, 100.0, -95.0, f64::INFINITY, f64::NAN] {
            assert_eq!(Level::percent(percent), Err(StatsError::Level(percent.to_string())));
        }
        for text in ["", "%", "ninety", "0.95", "100"] {
            assert!(text.parse::<Level>().is_err(), "{text}");
        }
    }

    #[test]
    fn levels_are_written_as_they_are_read() {
        for (text, percent) in [("95", 95.0), ("99.5 %", 99.5), (" 90% ", 90.0)] {
            let level: Level = text.parse().unwrap();
            assert_eq!(f64::from(level), percent);
            assert_eq!(level.to_string().parse(), Ok(level));
        }
        assert_eq!(Level::default(), Level::percent(95.0).unwrap());
        assert_eq!(Level::default().get(), 0.95);
    }
}
